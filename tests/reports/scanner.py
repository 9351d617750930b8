"""
A printed template scanned back: sheets rendered at 300 dpi and joined by their registration marks.

Knows of the template what a person with scissors knows: the paper's size, roughly where on a sheet its marks and lines
are, and which sheets meet. A printer that prints too large or too small is simulated by the size of a pixel.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pypdfium2

from digitizer.reports.tiles import MARGINS, Tiling, corners, name_of, neighbours

DPI = 300
POINTS_PER_MM = 72.0 / 25.4
NEAR_MM = 1.5


@dataclass
class Scan:
    """One sheet: darkness (rows, columns) from 0 to 1 and the size of a pixel, mm across and down."""

    dark: np.ndarray
    pixel: tuple[float, float]

    def column_centre(self, x: float, y: float, near: float = NEAR_MM) -> float:
        """Where a line crosses the level at `y` near `x`; mm from the left and upper edge."""
        row = round(y / self.pixel[1] - 0.5)
        return self._centre(self.dark[row], x, near, self.pixel[0])

    def row_centre(self, x: float, y: float, near: float = NEAR_MM) -> float:
        """Where a line crosses the upright at `x` near `y`."""
        column = round(x / self.pixel[0] - 0.5)
        return self._centre(self.dark[:, column], y, near, self.pixel[1])

    @staticmethod
    def _centre(profile: np.ndarray, about: float, near: float, pixel: float) -> float:
        places = (np.arange(len(profile)) + 0.5) * pixel
        weights = np.where(np.abs(places - about) <= near, profile, 0.0)
        assert weights.sum() > 0.5, f"nothing is printed near {about} mm"
        return float(weights @ places / weights.sum())

    def cross(self, x: float, y: float) -> tuple[float, float]:
        """Centre of a registration mark near a place, from its arms outside the circle."""
        arms = [sign * arm for sign in (-1.0, 1.0) for arm in (3.2, 3.7, 4.2)]
        across = np.median([self.column_centre(x, y + arm, 1.0) for arm in arms])
        down = np.median([self.row_centre(x + arm, y, 1.0) for arm in arms])
        return float(across), float(down)


class Scans:
    """The sheets of a template, by name, each rendered when it is asked for."""

    def __init__(self, path, stretch=(1.0, 1.0)) -> None:
        self.document = pypdfium2.PdfDocument(path)
        self.stretch = stretch
        self.pages = {}
        for entry in self.document.get_toc():
            if entry.get_title().startswith("Sheet "):
                self.pages[entry.get_title().removeprefix("Sheet ")] = entry.get_dest().get_index()

    def page_mm(self, name):
        width, height = self.document[self.pages[name]].get_size()
        return width / POINTS_PER_MM, height / POINTS_PER_MM

    def __getitem__(self, name) -> Scan:
        page = self.document[self.pages[name]]
        grey = page.render(scale=DPI / 72.0, grayscale=True).to_numpy().reshape(-1, 1)
        wide, high = self.page_mm(name)
        columns = np.ceil(page.get_width() * DPI / 72.0)
        grey = grey.reshape(-1, int(columns))
        size = wide * self.stretch[0] / grey.shape[1], high * self.stretch[1] / grey.shape[0]
        return Scan(1.0 - grey / 255.0, size)


def on_sheet(tiling: Tiling, cell, factors, place):
    """Where a place of the template lies on its sheet, mm from the left and upper edge as drawn."""
    left, bottom, _, _ = tiling.window(cell)
    x, y = MARGINS[0] + place[0] - left, tiling.page[1] - (MARGINS[1] + place[1] - bottom)
    return x * factors[0], y * factors[1]


@dataclass
class Assembly:
    """Sheets joined by their marks: each sheet's turn and shift, found from the marks it shares with placed ones."""

    motions: dict
    """Cell to (2, 2) rotation and (2,) shift, y up."""

    def place(self, cell, on_page) -> np.ndarray:
        turn, shift = self.motions[cell]
        return turn @ np.array([on_page[0], -on_page[1]]) + shift


def assembled(scans: Scans, printed, points: Iterable) -> tuple[Assembly, dict]:
    """
    The sheets joined one after another, and what was read on them.

    `points` are (cell, place, "across" or "up"): where the outline is looked for, along that direction.
    """
    tiling, stretch = printed.tiling, scans.stretch
    marks, found = {}, {}
    wanted = list(points)
    for cell in tiling.cells:
        scan = scans[name_of(cell)]

        def guess(place, cell=cell):
            x, y = on_sheet(tiling, cell, printed.factors, place)
            return x * stretch[0], y * stretch[1]

        marks[cell] = {node: scan.cross(*guess(tiling.grid.node(*node))) for node in corners(cell)}
        for home, place, way in wanted:
            if home == cell:
                x, y = guess(place)
                found[place] = (scan.column_centre(x, y), y) if way == "across" else (x, scan.row_centre(x, y))
    return Assembly(_joined(tiling, marks)), found


def _joined(tiling: Tiling, marks) -> dict:
    first = tiling.cells[0]
    motions = {first: (np.eye(2), np.zeros(2))}
    nodes = {node: np.array([x, -y]) for node, (x, y) in marks[first].items()}
    waiting = [first]
    while waiting:
        for cell in sorted(neighbours(waiting.pop(0)).values()):
            if cell in motions or cell not in marks:
                continue
            shared = [node for node in corners(cell) if node in nodes]
            here = np.array([[marks[cell][node][0], -marks[cell][node][1]] for node in shared])
            there = np.array([nodes[node] for node in shared])
            motions[cell] = _rigid(here, there)
            turn, shift = motions[cell]
            for node, (x, y) in marks[cell].items():
                nodes.setdefault(node, turn @ np.array([x, -y]) + shift)
            waiting.append(cell)
    assert len(motions) == len(tiling.cells), "some sheets hang on nothing"
    return motions


def _rigid(here, there):
    """Turn and shift that lay points on others (Kabsch)."""
    a, b = here - here.mean(axis=0), there - there.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    turn = (u @ np.diag([1.0, np.linalg.det(u @ v)]) @ v).T
    return turn, there.mean(axis=0) - turn @ here.mean(axis=0)
