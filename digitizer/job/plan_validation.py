"""Whether what is planned makes sense as it stands: the flange's own sizes, and readings that are lengths or angles."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from digitizer.errors import ReadingError
from digitizer.job.model import Flange, FlangeBottom, Job, TapeFigure
from digitizer.job.problems import Problem
from digitizer.units import parse_angle, parse_length


def check_flange(job: Job) -> Iterator[Problem]:
    """The flange's radii and holes have room on it."""
    flange = job.flange
    if flange is None:
        return
    radius = max(flange.top_radius_mm, flange.bottom_radius_mm)
    if radius > flange.width_mm / 2.0 or flange.top_radius_mm + flange.bottom_radius_mm > flange.height_mm:
        yield Problem("flange.top_radius_mm", "the corner radii are too large for a flange of that width and height")
    if flange.deadrise_deg is not None and flange.bottom is FlangeBottom.FLAT:
        yield Problem("flange.deadrise_deg", "a flat lower edge has no deadrise: leave it out, or let it follow")
    yield from _bolts(flange)


def _bolts(flange: Flange) -> Iterator[Problem]:
    bolts = flange.bolts
    if bolts is None:
        return
    if bolts.edge_mm < bolts.hole_mm / 2.0:
        yield Problem("flange.bolts.edge_mm", "the holes would cut the edge: it goes from a hole's middle to the edge")
    if bolts.edge_mm * 2.0 > min(flange.width_mm, flange.height_mm):
        yield Problem("flange.bolts.edge_mm", "leaves no room for holes on a flange of that width and height")
    if bolts.spacing_mm < bolts.hole_mm:
        yield Problem("flange.bolts.spacing_mm", f"must be greater than hole_mm ({bolts.hole_mm:g}): the holes touch")


def check_tape_figures(job: Job) -> Iterator[Problem]:
    """Readings and tolerances can be read as a length or an angle."""
    for i, figure in enumerate(job.tape_figures):
        for field, text in (("reading", figure.reading), ("tolerance", figure.tolerance)):
            yield from _unreadable(f"tape_figures[{i}].{field}", text, _reader(figure, job))


def _reader(figure: TapeFigure, job: Job) -> Callable[[str], float]:
    if is_angle(figure.measure):
        return parse_angle
    return lambda text: parse_length(text, "mm" if job.settings.unit == "mm" else "in")


def _unreadable(place: str, text: str, read: Callable[[str], float]) -> Iterator[Problem]:
    if place.endswith("tolerance") and not text:
        return
    try:
        value = read(text)
    except ReadingError as fault:
        yield Problem(place, str(fault))
        return
    if place.endswith("tolerance") and value <= 0.0:
        yield Problem(place, "must be greater than nothing: every reading has a tolerance")


def is_angle(measure: str) -> bool:
    """Whether a dimension of that code is an angle."""
    return measure == "rake" or "deadrise" in measure or measure in ("chine_line_slope", "reference_level")
