"""Records of a condition survey that contradict themselves are refused with their place."""

from __future__ import annotations

import pytest

from digitizer.job.model import (
    Defect,
    Job,
    Mark,
    MarkKind,
    Meter,
    MeterReading,
    Photo,
    Sound,
    Sounding,
)
from digitizer.job.validation import check_references

PHOTOS = (Photo("p", "p.jpg"), Photo("q", "q.jpg"))
MARKS = (
    Mark("c1", "p", MarkKind.CRACK, 1.0, 1.0, of="crack"),
    Mark("c2", "p", MarkKind.CRACK, 2.0, 2.0, of="crack"),
    Mark("a1", "p", MarkKind.AREA, 3.0, 3.0, of="mixed"),
    Mark("a2", "p", MarkKind.CRACK, 4.0, 3.0, of="mixed"),
)


def places(**records: object) -> list[str]:
    """Where the problems of a job with these records are."""
    return [p.place for p in check_references(Job(photos=PHOTOS, marks=MARKS, **records))]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("records", "place"),
    [
        pytest.param({"defects": (Defect("crack"), Defect("crack"))}, "defects[1].id", id="twice"),
        pytest.param({"defects": (Defect("crack", points=("c1", "zz")),)}, "defects[0].points[1]", id="unknown-point"),
        pytest.param({"defects": (Defect("crack", points=("c1", "c1")),)}, "defects[0].points", id="point-twice"),
        pytest.param({"defects": (Defect("mixed"),)}, "defects[0]", id="crack-and-area"),
        pytest.param({"defects": (Defect("crack", close_ups=("p",)),)}, "defects[0].close_ups[0]", id="no-close-up"),
        pytest.param({"defects": (Defect("crack", on="pad"),)}, "defects[0].on", id="unknown-pad"),
        pytest.param({"meters": (Meter("m", low=5.0, high=5.0),)}, "meters[0].high", id="empty-scale"),
        pytest.param(
            {"meter_readings": (MeterReading("r", "m", "c1", 5.0),)}, "meter_readings[0].meter", id="no-meter"
        ),
        pytest.param({"soundings": (Sounding("s", "zz", Sound.DULL),)}, "soundings[0].point", id="no-place"),
    ],
)
def test_contradiction_is_told_with_its_place(records: dict[str, object], place: str) -> None:
    """Each is found, and nothing else."""
    assert places(**records) == [place]


@pytest.mark.parametrize(("value", "refused"), [(100.0, False), (100.5, True), (-1.0, True)])
def test_reading_off_its_scale_is_refused(value: float, refused: bool) -> None:
    """A meter can't show what is not on its scale."""
    found = places(meters=(Meter("m"),), meter_readings=(MeterReading("r", "m", "c1", value),))
    assert found == (["meter_readings[0].value"] if refused else [])
