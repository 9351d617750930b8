"""
Each user at the real window, driven from outside by pointer and keys, to the same numbers as the command line.

The screenshots go to the folder named in DIGITIZER_SCREENSHOTS, which is how the pictures of the docs are made.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from digitizer.job.model import MarkKind
from digitizer.job.reading import read_job
from digitizer.samples import sample_job

from .screen import TREE, Person, missing, virtual_screen

pytestmark = pytest.mark.skipif(bool(missing()), reason=f"no virtual screen here: {', '.join(missing())} missing")


@pytest.fixture(scope="module")
def display() -> Iterator[str]:
    with virtual_screen() as name:
        yield name


def keep(person: Person, name: str) -> None:
    folder = os.environ.get("DIGITIZER_SCREENSHOTS")
    if folder:
        person.photograph(Path(folder) / f"{name}.png")


def by_command_line(job: Path, folder: Path) -> dict[str, float]:
    """Dimensions of a job as the command line gives them."""
    out = folder / "survey.json"
    command = [sys.executable, "-m", "digitizer", "measure", str(job), "--json", str(out)]
    subprocess.run(command, cwd=TREE, check=True, capture_output=True)
    survey = json.loads(out.read_text(encoding="utf-8"))["survey"]
    return {d["code"]: d["value"] for d in survey["dimensions"]}


def same_numbers(shown: dict[str, Any], command_line: dict[str, float]) -> None:
    assert shown["dimensions"].keys() == command_line.keys()
    for code, value in command_line.items():
        assert shown["dimensions"][code] == pytest.approx(value, abs=1e-6), code  # mm or degrees


def test_fabricator_from_a_customers_photo_to_a_report(display: str, tmp_path: Path) -> None:
    """Photo in, board named, marks clicked, saved, report written: the file measures as the window said."""
    sample = sample_job("flat_square_on")
    marks = read_job(sample).job.marks
    person = Person(display, tmp_path)
    keep(person, "doors")
    person.click("Photos of a transom")
    person.wait_for(lambda: person._ask("where Add photos"), "the file dialog")
    person.type(str(sample.with_name("photo_1.jpg")))
    person.press("Return")
    person.wait(lambda s: s["photos"] == 1, "the photo")
    person.press("ctrl+b")
    person.wait_for(lambda: person._ask("where Printed board"), "the board dialog")
    person.click("Target")
    person.press("End", "Return")
    for name, text in (("Columns", "8"), ("Rows", "6"), ("Square", "55 mm"), ("Marker", "41 mm")):
        person.click(name)
        person.press("ctrl+a")
        person.type(text)
    keep(person, "board")
    person.press("Return")
    for tool, kind, side in (
        ("Reference line", MarkKind.REFERENCE_LINE, None),
        ("Keel point", MarkKind.KEEL, None),
        ("Chine, port", MarkKind.CHINE, "port"),
        ("Chine, starboard", MarkKind.CHINE, "starboard"),
        ("Bottom edge, port", MarkKind.BOTTOM_EDGE, "port"),
        ("Bottom edge, starboard", MarkKind.BOTTOM_EDGE, "starboard"),
    ):
        person.click("Reference line step" if tool == "Reference line" else "Bottom step")
        person.click(tool)
        for mark in marks:
            if mark.kind is kind and (side is None or mark.side == side):
                person.click_photo(mark.x_px, mark.y_px, "ctrl")
    shown = person.wait(lambda s: s["measured"], "the measurement")
    keep(person, "fabricator")
    job = tmp_path / "customer.transom"
    person.press("ctrl+s")
    person.wait_for(lambda: person._ask("where Save the job"), "the save dialog")
    person.press("ctrl+a")
    person.type(str(job))
    person.press("Return")
    person.wait(lambda s: s["path"] == str(job), "the saved job")
    person.press("ctrl+e")
    person.wait_for(lambda: person._ask("where Hand over"), "the hand-over dialog")
    keep(person, "hand-over")
    person.click("Write")
    person.wait_for(lambda: True if list(tmp_path.glob("*.pdf")) else None, "the report")
    person.leave()
    same_numbers(shown, by_command_line(job, tmp_path))


def test_owner_checks_tape_figures(display: str, tmp_path: Path) -> None:
    """A job with tape figures: the window shows the agreement that the command line shows."""
    person = Person(display, tmp_path, sample_job("tape_only"))
    shown = person.wait(lambda s: s["measured"], "the measurement")
    person.click("Tape figures step")
    keep(person, "owner")
    person.leave()
    same_numbers(shown, by_command_line(sample_job("tape_only"), tmp_path))


def test_surveyor_records_fittings(display: str, tmp_path: Path) -> None:
    """A mark dragged and undone leaves the record as it was, and a fitting can be taken out and brought back."""
    person = Person(display, tmp_path, sample_job("flat_oblique_wide"))
    before = person.wait(lambda s: s["measured"], "the measurement")
    mark = next(m for m in read_job(sample_job("flat_oblique_wide")).job.marks if m.kind is MarkKind.KEEL)
    person.drag_photo((mark.x_px, mark.y_px), (mark.x_px + 40, mark.y_px + 40), "ctrl")
    person.wait(lambda s: s["measured"] and not s["saved"], "the measurement after the drag")
    keep(person, "surveyor")
    person.press("ctrl+z")
    after = person.wait(lambda s: s["measured"] and s["saved"], "the measurement after undo")
    person.leave()
    assert after["dimensions"] == before["dimensions"]
    same_numbers(after, by_command_line(sample_job("flat_oblique_wide"), tmp_path))
