"""A survey with damage, readings and a close-up, made by hand, and its job."""

from __future__ import annotations

from typing import Any

from digitizer.job.model import Document, Job, Mark, MarkKind, Meter, Photo, PhotoKind
from digitizer.survey.model import CloseUp, DefectResult, PlaceReading, Quantity, Survey
from tests.reports.a_survey import a_job, a_survey, dimension

CRACK = ((215.0, 712.0), (248.0, 748.0), (262.0, 795.0), (300.0, 842.0))
TAKEN = "2025-05-06T11:00:00"
AREA = ((-320.0, 480.0), (-150.0, 470.0), (-120.0, 590.0), (-190.0, 660.0), (-330.0, 620.0))


def a_defect(name: str, place: tuple[tuple[float, float], ...], closed: bool, **more: Any) -> DefectResult:
    """A defect whose figures are invented, at a place of the sample's transom."""
    size = (
        {"quantity": Quantity.AREA, "made_from": _names(name, place)} if closed else {"made_from": _names(name, place)}
    )
    x = sum(a for a, _ in place) / len(place)
    given = {
        "kind": "wet" if closed else "crack",
        "priority": "A",
        "note": "",
        "photos": ("photo_1",),
        "close_ups": (),
        "size": dimension(f"{name}_size", "size", "Condition", *((31240.0, 700.0) if closed else (213.7, 1.6)), **size),
        "perimeter": dimension(f"{name}_round", "length round it", "Condition", 681.0, 6.0) if closed else None,
        "x": dimension(f"{name}_x", "middle", "Condition", x, 1.5),
        "y": dimension(f"{name}_y", "middle", "Condition", 600.0, 1.5),
        "below_reference": dimension(f"{name}_down", "middle", "Condition", 288.0, 1.0),
        "width": dimension(f"{name}_w", "extent", "Condition", 137.0, 1.5),
        "height": dimension(f"{name}_h", "extent", "Condition", 149.0, 1.5),
    }  # fmt: skip
    return DefectResult(id=name, name=more.pop("name", f"the {name}"), closed=closed, place=place, **(given | more))


def _names(name: str, place: tuple[tuple[float, float], ...]) -> tuple[str, ...]:
    return tuple(f"{name}_{n}" for n in range(1, len(place) + 1))


def readings(
    count: int = 30, step: float = 60.0, sounds: tuple[str, ...] = ("sharp", "dull", "dead")
) -> list[PlaceReading]:
    """A grid of readings and as many soundings, close together."""
    places = [(-300.0 + step * (n % 10), 500.0 + step * (n // 10)) for n in range(count)]
    meter = [PlaceReading(f"r{n}", f"g{n}", x, y, 2.0, "", "m", 10.0 + 3 * n) for n, (x, y) in enumerate(places)]
    taps = [
        PlaceReading(f"s{n}", f"g{n}", x, y, 2.0, "by the drain" * (n == 3), sound=sounds[n % len(sounds)])
        for n, (x, y) in enumerate(places)
    ]
    return meter + taps


def a_damaged_survey(**more: Any) -> Survey:
    """The sample's survey with a crack, a wet area, sixty readings and a close-up."""
    crack = a_defect("crack", CRACK, False, note="open at its lower end", close_ups=("near",))
    given = {
        "defects": (crack, a_defect("wet", AREA, True, priority="B")),
        "readings": tuple(readings()),
        "close_ups": (CloseUp("near", "near.jpg", "ab" * 32, 1000, 750, TAKEN, "K2", 0.1, 0.002, "rule"),),
    }
    return a_survey(**(given | more))


def a_damaged_job(**more: Any) -> Job:
    """Its job, damage marked in the photo."""
    base = a_job()
    kinds = (("crack", MarkKind.CRACK, 4), ("wet", MarkKind.AREA, 5))
    marks = [_mark(name, n, kind) for name, kind, count in kinds for n in range(count)]
    given = {
        "marks": (*base.marks, *marks),
        "photos": (*base.photos, Photo("near", "near.jpg", kind=PhotoKind.CLOSE_UP)),
        "meters": (Meter("m", "pin-less", "relative, 0 to 100", control="9 on the topside"),),
        "document": Document("SV-17", "B", not_accessible="inside of the transom", limits="hull ashore 3 days"),
    }
    return a_job(**(given | more))


def _mark(name: str, n: int, kind: MarkKind) -> Mark:
    x, y = (2200.0 + 60 * n, 1300.0 - 70 * n) if kind is MarkKind.CRACK else (1700.0 + 40 * n, 1400.0 + 90 * (n % 3))
    return Mark(f"{name}_{n + 1}", "photo_1", kind, x, y, of=name)
