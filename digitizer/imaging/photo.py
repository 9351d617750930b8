"""
A photo file: its facts and its pixels.

The only module that knows the image decoders (Pillow, and pillow-heif for HEIC). Photos arrive as bytes, since
they may come out of a bundle; the name serves messages only. Pixels and sizes have the EXIF orientation applied.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from io import BytesIO
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, UnidentifiedImageError

from digitizer.errors import PhotoError

MEGAPIXELS_AT_MOST = 250
"""More than any camera in a phone delivers, and still under 1 GB in memory."""

# Pillow's own limit is 89 megapixels with a warning; ours is checked from the header before anything is decoded.
Image.MAX_IMAGE_PIXELS = None

_FORMATS = {"JPEG": "JPEG", "MPO": "JPEG", "PNG": "PNG", "TIFF": "TIFF", "HEIF": "HEIC"}
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_TURNED = (5, 6, 7, 8)
_TRANSPOSE = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_T = TypeVar("_T")
_COPY_AGAIN = "copy the original file again from the phone or camera."


@dataclass(frozen=True)
class PhotoFacts:
    """
    What a photo file says of itself, without its pixels.

    Sizes are those of the upright picture, the EXIF pixel size included; `orientation` is the EXIF value that made
    it upright (1 to 8). What the file doesn't say, or says absurdly, is None.
    """

    name: str
    sha256: str
    width_px: int
    height_px: int
    orientation: int
    captured: str | None
    """Local time as ISO 8601, such as 2025-05-06T10:12:33."""
    device: str | None
    """Make and model, then the lens after a comma."""
    focal_35mm: float | None
    focal_mm: float | None
    exif_width_px: int | None
    exif_height_px: int | None
    file_format: str
    """JPEG, PNG, TIFF or HEIC."""


def photo_facts(data: bytes, name: str) -> PhotoFacts:
    """
    Facts of a photo, read from its header.

    Raises
    ------
    PhotoError
        If the file is empty, no picture, or too large.
    """
    with _opened(data, name) as image:
        orientation = _stated_orientation(image)
        size = _upright(_stored_size(image), 1 if image.format == "HEIF" else orientation)
        exif = _exif(image)
        exif_size = _upright((_count(exif.get(0xA002)), _count(exif.get(0xA003))), orientation)
        return PhotoFacts(
            name=name,
            sha256=sha256(data).hexdigest(),
            width_px=size[0],
            height_px=size[1],
            orientation=orientation,
            captured=_captured(exif),
            device=_device(exif),
            focal_35mm=_positive(exif.get(0xA405)),
            focal_mm=_positive(exif.get(0x920A)),
            exif_width_px=exif_size[0],
            exif_height_px=exif_size[1],
            file_format=_FORMATS[image.format or ""],
        )


def gray_pixels(data: bytes, name: str) -> NDArray[np.uint8]:
    """
    Brightness of an upright photo, (rows, columns), 0 to 255.

    Luma after Rec. ITU-R BT.601, which a JPEG holds ready: its colours are not even decoded. Not to be written to.

    Raises
    ------
    PhotoError
        If the photo can't be read whole.
    """
    return _pixels(data, name, "L")


def rgb_pixels(data: bytes, name: str) -> NDArray[np.uint8]:
    """
    Colours of an upright photo, (rows, columns, 3), red first, 0 to 255. Not to be written to.

    Raises
    ------
    PhotoError
        If the photo can't be read whole.
    """
    return _pixels(data, name, "RGB")


def _pixels(data: bytes, name: str, mode: str) -> NDArray[np.uint8]:
    with _opened(data, name) as image:
        if image.mode == "RGB":
            image.draft(mode, None)
        image.load()
        # Asked after loading: the decoders of TIFF and HEIC turn the picture themselves and then say 1.
        turn = _TRANSPOSE.get(_orientation_tag(image))
        plain = image if image.mode == mode else _without_alpha(_eight_bit(image, name)).convert(mode)
        return np.asarray(plain if turn is None else plain.transpose(turn), dtype=np.uint8)


@contextmanager
def _opened(data: bytes, name: str) -> Iterator[Image.Image]:
    """Open a photo and turn every failure of a decoder, within the block too, into a sentence."""
    if not data:
        raise PhotoError(name, f"the file is empty: {_COPY_AGAIN}")
    with warnings.catch_warnings():
        # Decoders warn of odd metadata, which is no fault of the picture.
        warnings.simplefilter("ignore")
        try:
            with Image.open(BytesIO(data), formats=_formats(data)) as image:
                _check_size(image, name)
                yield image
        except UnidentifiedImageError:
            raise PhotoError(
                name, "this is no JPEG, PNG, TIFF or HEIC picture: give the photo as the camera saved it."
            ) from None
        except PhotoError:
            raise
        except Exception as problem:  # Decoders raise nearly every kind of exception on broken files.
            raise PhotoError(name, f"the picture is damaged or cut short ({problem}): {_COPY_AGAIN}") from problem


def _formats(data: bytes) -> list[str]:
    """Decoders to try; the one for HEIC is loaded only for a file that looks like it."""
    if data[4:8] != b"ftyp" or data[8:12] not in _HEIF_BRANDS:
        return ["JPEG", "PNG", "TIFF"]
    import pillow_heif

    pillow_heif.register_heif_opener()
    return ["HEIF"]


def _check_size(image: Image.Image, name: str) -> None:
    width, height = image.size
    megapixels = width * height / 1e6
    if megapixels > MEGAPIXELS_AT_MOST:
        raise PhotoError(
            name,
            f"{width} × {height} pixels are {megapixels:.0f} megapixels, and at most {MEGAPIXELS_AT_MOST} are read: "
            "give a photo straight from the camera, or a smaller copy.",
        )


def _eight_bit(image: Image.Image, name: str) -> Image.Image:
    """Bring deeper grey pictures to 8 bits (colour arrives in 8 bits already)."""
    if image.mode == "F":
        raise PhotoError(name, "its pixels are decimal numbers, not brightnesses: save it as an ordinary JPEG or PNG.")
    if not image.mode.startswith("I"):
        return image
    return Image.fromarray((np.clip(np.asarray(image), 0, 65535) // 257).astype(np.uint8))


def _without_alpha(image: Image.Image) -> Image.Image:
    """Lay a picture with transparent parts on white, as a viewer shows it."""
    if not image.has_transparency_data:
        return image
    paper = Image.new("RGBA", image.size, "white")
    return Image.alpha_composite(paper, image.convert("RGBA"))


def _stored_size(image: Image.Image) -> tuple[int, int]:
    """Size as it stands in the file; versions of Pillow differ in whether that of a TIFF is turned already."""
    tags = getattr(image, "tag_v2", None)
    return image.size if tags is None else (int(tags[256]), int(tags[257]))


def _upright(size: tuple[_T, _T], orientation: int) -> tuple[_T, _T]:
    return (size[1], size[0]) if orientation in _TURNED else size


def _stated_orientation(image: Image.Image) -> int:
    """EXIF orientation of the file; the HEIC decoder turns the picture on opening and keeps the value aside."""
    kept = image.info.get("original_orientation")
    return int(kept) if kept in _TRANSPOSE else _orientation_tag(image)


def _orientation_tag(image: Image.Image) -> int:
    value = _exif(image).get(0x0112)
    return value if isinstance(value, int) and value in _TRANSPOSE else 1


def _exif(image: Image.Image) -> dict[int, Any]:
    """Tags of the main and the photo directory together; empty where they can't be read."""
    tags: dict[int, Any] = {}
    try:
        exif = image.getexif()
        tags.update(exif)
        tags.update(exif.get_ifd(ExifTags.IFD.Exif))
    except Exception:  # Whatever a broken directory raises: the picture itself is good.
        return tags
    return tags


def _positive(value: object) -> float | None:
    """Value as a finite positive number; zero means unknown in EXIF."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) and number > 0 else None


def _count(value: object) -> int | None:
    number = _positive(value)
    return None if number is None or number > 1e6 else round(number)


def _text(value: object) -> str:
    """Printable text of a tag, blanks tidied; empty where it holds something else."""
    if isinstance(value, bytes):
        value = value.decode("utf-8", "ignore")
    if not isinstance(value, str):
        return ""
    return " ".join("".join(c if c.isprintable() else " " for c in value).split())[:100]


def _captured(exif: dict[int, Any]) -> str | None:
    """Time of exposure, else of digitising, else of the file's last change."""
    for tag in (0x9003, 0x9004, 0x0132):
        try:
            return datetime.strptime(_text(exif.get(tag)), "%Y:%m:%d %H:%M:%S").isoformat()
        except ValueError:
            continue
    return None


def _device(exif: dict[int, Any]) -> str | None:
    """Make and model, then the lens; a name that the next one repeats is said once."""
    make, model, lens = (_text(exif.get(tag)) for tag in (0x010F, 0x0110, 0xA434))
    body = model if _begins(model, make) else f"{make} {model}".strip()
    for known in (body, model):
        lens = lens[len(known) :].strip() if known and _begins(lens, known) else lens
    return ", ".join(part for part in (body, lens) if part) or None


def _begins(text: str, start: str) -> bool:
    return text.casefold().startswith(start.casefold())
