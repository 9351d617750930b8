"""One job of every format ever written, kept as it was; all of them must open for good."""

from __future__ import annotations

from dataclasses import fields
from enum import Enum
from pathlib import Path
from typing import Any

import pytest

from digitizer.job import model
from digitizer.job.model import FORMAT_VERSION, Job, MarkKind
from digitizer.job.reading import photo_bytes, read_job

FOLDER = Path(__file__).parent
FORMATS = range(1, FORMAT_VERSION + 1)


@pytest.mark.parametrize("version", FORMATS)
@pytest.mark.parametrize("name", ["job.json", "job.transom"])
def test_every_format_opens_with_its_photos(version: int, name: str) -> None:
    """Both forms of each format read, photos and fingerprints included."""
    found = read_job(FOLDER / f"format_{version}" / name)
    assert found.job.title == f"Format {version}, every record"
    assert found.job.format == FORMAT_VERSION
    assert [photo_bytes(found, photo)[:4] for photo in found.job.photos] == [b"\x89PNG"] * len(found.job.photos)


def test_format_1_means_what_it_meant() -> None:
    """Values of the oldest file, field by field, as they were meant when it was written."""
    job = read_job(FOLDER / "format_1" / "job.json").job
    assert [mark.kind for mark in job.marks[: len(MarkKind)]] == list(MarkKind)
    assert (job.marks[1].x_px, job.marks[1].y_px, job.marks[1].u_px, job.marks[1].active) == (70.5, 66.25, 0.7, True)
    assert (job.lengths[1].length_mm, job.lengths[1].path.value, job.lengths[1].role.value) == (812.5, "girth", "check")
    assert (job.settings.unit.value, job.settings.b_offset_mm, job.settings.paper.value) == ("in/16", 400.0, "Letter")
    assert job.cameras[1].calibration is not None
    assert (job.cameras[1].calibration.f_px, job.cameras[1].calibration.u_p) == (350.5, 1e-4)
    assert (job.targets[2].check_bar_measured_mm, job.targets[2].active) == (149.6, False)
    assert job.rake is not None
    assert (job.rake.rake_deg, job.rake.u_deg) == (13.0, 0.25)


@pytest.mark.parametrize("version", FORMATS[-1:])
def test_newest_reference_has_every_record(version: int) -> None:
    """No record of the newest format is missing from its reference file."""
    job = read_job(FOLDER / f"format_{version}" / "job.json").job
    defined = {kind for kind in vars(model).values() if isinstance(kind, type) and kind.__module__ == model.__name__}
    assert {kind for kind in defined if not issubclass(kind, Enum)} == kinds_in(job)


def kinds_in(record: Any) -> set[type]:
    """The types of a record and of all records in it."""
    values = [getattr(record, field.name) for field in fields(record)]
    inside = [item for value in values for item in (value if isinstance(value, tuple) else (value,))]
    return {type(record)}.union(
        *(kinds_in(item) for item in inside if type(item).__module__ == Job.__module__ and not isinstance(item, Enum))
    )
