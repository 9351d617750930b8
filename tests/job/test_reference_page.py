"""The page for people who write a job by hand says what the records say."""

from __future__ import annotations

import re
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from digitizer.errors import PhotoError
from digitizer.job import bundle, model
from digitizer.job.fields import MAX_RECORDS
from digitizer.job.model import MarkKind
from digitizer.job.reading import photo_bytes, read_job
from digitizer.job.writing import job_json, write_bundle

PAGE = (Path(__file__).parents[2] / "docs" / "reference" / "job-file.md").read_text()
SECTIONS = {
    model.Job: "The job itself",
    model.Boat: "boat",
    model.Settings: "settings",
    model.Camera: "cameras",
    model.Calibration: "calibration of a camera",
    model.Photo: "photos",
    model.Mark: "marks",
    model.StraightLine: "lines",
    model.KnownLength: "lengths",
    model.Instrument: "instruments",
    model.DeadriseReading: "deadrise_readings",
    model.Rectangle: "rectangles",
    model.Target: "targets",
    model.Sighting: "sightings",
    model.MirrorPair: "mirror_pairs",
    model.Angle: "angles",
    model.GravityLine: "gravity_lines",
    model.Face: "face",
    model.Gap: "gaps",
    model.Pad: "pads",
    model.FaceLean: "face_lean",
    model.Rake: "rake",
    model.LevelReadings: "level_readings",
    model.Fitting: "fittings",
    model.Defect: "defects",
    model.Meter: "meters",
    model.MeterReading: "meter_readings",
    model.Sounding: "soundings",
    model.Document: "document",
    model.TapeFigure: "tape_figures",
    model.Flange: "flange",
    model.BoltPattern: "bolts of a flange",
    model.Planning: "planning",
    model.Engines: "engines of a plan",
    model.Bracket: "bracket of a plan",
    model.BracketBody: "body of a bracket",
    model.Pattern: "patterns",
    model.Alignment: "aligned of a pattern",
    model.PowerRule: "power_rule of a plan",
}


def rows(heading: str) -> dict[str, list[str]]:
    """The table under a heading: first cell to the others."""
    section = re.split(r"^##+ ", PAGE.split(f"### {heading}\n")[1], maxsplit=1, flags=re.M)[0]
    cells = [line.strip("| ").split(" | ") for line in section.splitlines() if line.startswith("| `")]
    return {first.strip("`"): rest for first, *rest in cells}


def as_written(field: Field[Any]) -> str:
    """How the page writes a field's default."""
    if field.default_factory is not MISSING:
        return "all usual"
    if field.default is MISSING:
        return "**needed**"
    match field.default:
        case None:
            return "none"
        case "" | ():
            return "empty"
        case bool(value):
            return str(value).lower()
        case Enum(value=value) | str(value):
            return f"`{value}`"
        case number:
            return f"{number:g}"


@pytest.mark.parametrize("record", SECTIONS, ids=lambda record: record.__name__)
def test_each_field_stands_on_the_page_with_its_default(record: type) -> None:
    """The tables name the fields of the records, in order, and their defaults."""
    table = rows(SECTIONS[record])
    assert {name: cells[1] for name, cells in table.items()} == {f.name: as_written(f) for f in fields(record)}
    assert list(table) == [field.name for field in fields(record)]


@pytest.mark.parametrize("record", SECTIONS, ids=lambda record: record.__name__)
def test_allowed_words_of_a_field_stand_on_the_page(record: type) -> None:
    """Where a field takes one of a few words, all of them are told (kinds of mark have a table of their own)."""
    table = rows(SECTIONS[record])
    for field in fields(record):
        words = getattr(model, str(field.type).removesuffix(" | None"), None)
        if isinstance(words, type) and issubclass(words, Enum) and words is not MarkKind:
            allowed = [word.value for word in words if (record, word) != (model.DeadriseReading, model.Side.CENTRE)]
            assert re.findall(r"`([^`]+)`", table[field.name][0]) == allowed


def test_every_record_has_its_section() -> None:
    """No record is left unexplained."""
    defined = {kind for kind in vars(model).values() if is_dataclass(kind) and kind.__module__ == model.__name__}
    assert defined == set(SECTIONS)


def test_every_kind_of_mark_is_explained() -> None:
    """The table of kinds has each of them once, in order."""
    assert list(rows("Kinds of mark")) == [kind.value for kind in MarkKind]


def test_minimal_example_is_a_job(tmp_path: Path) -> None:
    """What the page tells people to save really reads, and only its photo is still missing."""
    example = PAGE.split("<!-- minimal example -->\n```json\n")[1].split("```")[0]
    (tmp_path / "job.json").write_text(example)
    found = read_job(tmp_path / "job.json")
    assert len(found.job.marks) == 8
    with pytest.raises(PhotoError, match=r"stern\.jpg: no such photo"):
        photo_bytes(found, found.job.photos[0])
    assert job_json(found.job) == example


def test_bundling_as_the_page_shows_works(tmp_path: Path) -> None:
    """The plain example with a photo beside it becomes a bundle that gives the photo back."""
    (tmp_path / "job.json").write_text('{"photos": [{"id": "stern", "file": "stern.jpg"}]}')
    (tmp_path / "stern.jpg").write_bytes(b"photo")
    found = read_job(tmp_path / "job.json")
    write_bundle(found.job, partial(photo_bytes, found), tmp_path / "boat.transom")
    assert photo_bytes(read_job(tmp_path / "boat.transom"), found.job.photos[0]) == b"photo"


@pytest.mark.parametrize(
    ("what", "limit"),
    [
        ("`job.json`", f"{bundle.MAX_JOB_BYTES // 10**6} MB"),
        ("records in one list", str(MAX_RECORDS)),
        ("one photo", f"{bundle.MAX_PHOTO_BYTES // 10**6} MB"),
        ("a bundle, packed and unpacked", f"{bundle.MAX_BUNDLE_BYTES // 10**9} GB"),
        ("entries in a bundle", str(bundle.MAX_ENTRIES)),
    ],
)
def test_limits_on_the_page_are_those_enforced(what: str, limit: str) -> None:
    """The page's limits are the program's."""
    assert f"| {what} | {limit} |" in PAGE
