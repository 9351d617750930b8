"""
Photos as the window needs them: their pixels, and smaller copies for looking from afar.

A 48-megapixel photo is never copied whole: Qt paints straight from the decoded pixels, and from halves of them
when the view is wide, so that a repaint touches about as many pixels as the screen has.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from digitizer.imaging.photo import PhotoFacts, photo_facts, rgb_pixels

Pixels = NDArray[np.uint8]
_SMALLEST = 600
"""Long side of the smallest copy, px."""


@dataclass(frozen=True, eq=False)
class Picture:
    """A decoded photo, (rows, columns, 3) RGB, and its halves, quarters … each next to the one before."""

    levels: tuple[Pixels, ...]

    @property
    def pixels(self) -> Pixels:
        """The photo itself."""
        return self.levels[0]

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.pixels.shape[0])

    def paint(self, painter: QPainter, source: QRectF, target: QRectF) -> None:
        """
        Paint a part of the photo from the smallest copy that is still as fine as the screen.

        Parameters
        ----------
        source
            Part of the photo in Qt's pixels, whose origin is the corner of the first pixel.
        target
            Where it goes, in the painter's units.
        """
        device = painter.device()
        ratio = source.width() / max(1.0, target.width() * (device.devicePixelRatioF() if device else 1.0))
        level = min(len(self.levels) - 1, max(0, int(np.floor(np.log2(max(ratio, 1.0))))))
        image = self._images[level]
        across, down = image.width() / self.width, image.height() / self.height
        part = QRectF(source.x() * across, source.y() * down, source.width() * across, source.height() * down)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, ratio > 0.5)
        painter.drawImage(target, image, part)

    @cached_property
    def _images(self) -> tuple[QImage, ...]:
        return tuple(_wrapped(pixels) for pixels in self.levels)


def picture(pixels: Pixels) -> Picture:
    """Pixels with their smaller copies."""
    import cv2

    levels = [np.ascontiguousarray(pixels)]
    while max(levels[-1].shape[:2]) > 2 * _SMALLEST:
        rows, columns = levels[-1].shape[:2]
        half = cv2.resize(levels[-1], (max(1, columns // 2), max(1, rows // 2)), interpolation=cv2.INTER_AREA)
        levels.append(np.asarray(half, dtype=np.uint8))
    return Picture(tuple(levels))


def _wrapped(pixels: Pixels) -> QImage:
    """Qt's view of the same memory; the array outlives it because the picture holds both."""
    rows, columns = pixels.shape[:2]
    return QImage(pixels.data, columns, rows, pixels.strides[0], QImage.Format.Format_RGB888)


@dataclass(frozen=True)
class LoadedPhoto:
    """A photo file read whole: what it says of itself, and its picture."""

    facts: PhotoFacts
    picture: Picture


def load(data: bytes, name: str) -> LoadedPhoto:
    """
    Decode a photo file.

    Raises
    ------
    PhotoError
        If it is no photo or can't be read whole.
    """
    return LoadedPhoto(photo_facts(data, name), picture(rgb_pixels(data, name)))
