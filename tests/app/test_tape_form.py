"""Figures taken by hand: each form gives the record that its fields describe, and refuses the rest."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.tape_form import TapeForm
from digitizer.app.dialogs.tape_forms import (
    AandB,
    Bow,
    LengthBetween,
    LevelHeld,
    LevelOrPlumb,
    RakeStated,
    TapeFormPage,
)
from digitizer.app.tape_records import Place, places_of, with_tape_record
from digitizer.job.model import (
    DeadriseReading,
    Gap,
    GravityKind,
    GravityLine,
    Job,
    KnownLength,
    LengthUnit,
    LevelReadings,
    Mark,
    MarkKind,
    Path,
    Photo,
    Rake,
    Role,
    Settings,
    Side,
)
from digitizer.job.preferences import Preferences

JOB = Job(
    photos=(Photo("stern", "stern.jpg"), Photo("side", "side.jpg")),
    marks=(
        Mark("keel", "stern", MarkKind.KEEL, 1.0, 2.0),
        Mark("chine, port", "stern", MarkKind.CHINE, 1.0, 2.0, side=Side.PORT),
        Mark("c2", "stern", MarkKind.CHINE, 3.0, 2.0, side=Side.STARBOARD),
        Mark("again", "side", MarkKind.KEEL, 3.0, 2.0, point="keel"),
    ),
)


class Opened:
    """The form with one page in front, and what it gave back."""

    def __init__(self, qtbot: QtBot, page: type[TapeFormPage], job: Job = JOB) -> None:
        self.form = TapeForm(job, Preferences())
        qtbot.addWidget(self.form)
        self.form.show()
        self.form.show_kind(page)
        self.records: list[object] = []
        self.form.entered.connect(self.records.append)

    @property
    def told(self) -> str:
        return self.form._told.text()


def test_a_and_b_by_keyboard(qtbot: QtBot) -> None:
    """Figures typed, their deadrise shown at once, the reading given back; the other side comes next."""
    opened = Opened(qtbot, AandB)
    page = opened.form.page()
    assert isinstance(page, AandB)
    for field, text in ((page.a, "300 mm"), (page.b, "78"), (page.out, "610")):
        field.line.clear()
        qtbot.keyClicks(field.line, text)
    assert opened.told == "Deadrise 20.00° ± 0.35°"
    opened.form.add.click()
    assert opened.records == [DeadriseReading("tape port", Side.PORT, 300.0, 78.0, 610.0, 1.5)]
    assert (page.side.currentText(), page.a.value(), page.b.value()) == ("starboard", 300.0, None)


def test_b_beyond_a_is_remarked_on(qtbot: QtBot) -> None:
    """A and B exchanged are seen before they are entered, yet not forbidden."""
    opened = Opened(qtbot, AandB)
    page = opened.form.page()
    assert isinstance(page, AandB)
    qtbot.keyClicks(page.a.line, "78")
    qtbot.keyClicks(page.b.line, "300")
    assert "B is more than A" in opened.told
    opened.form.accept()
    assert len(opened.records) == 1


def test_length_between_two_places(qtbot: QtBot) -> None:
    """A girth in sixteenths between two marks, kept out to check the photo."""
    job = replace(JOB, settings=Settings(unit=LengthUnit.INCH_SIXTEENTHS))
    opened = Opened(qtbot, LengthBetween, job)
    page = opened.form.page()
    assert isinstance(page, LengthBetween)
    page.first.setCurrentText("chine, port")
    page.second.setCurrentText("c2 (chine, starboard)")
    qtbot.keyClicks(page.reading.line, "77 15/16")
    page.path.setCurrentIndex(1)
    qtbot.keyClicks(page.note, "chine to chine")
    opened.form.accept()
    (length,) = opened.records
    assert length == KnownLength(
        "tape", "chine, port", "c2", pytest.approx(1979.6125), 0.8, Path.GIRTH, role=Role.CHECK, note="chine to chine"
    )


@pytest.mark.parametrize("page", [LengthBetween, LevelOrPlumb])
def test_one_place_twice_is_refused(qtbot: QtBot, page: type[LengthBetween | LevelOrPlumb]) -> None:
    """From a place to itself there is neither length nor level."""
    opened = Opened(qtbot, page)
    form = opened.form.page()
    assert isinstance(form, page)
    form.second.setCurrentIndex(form.first.currentIndex())
    for field in form.figures:
        field.set_value(field.value() or 500.0)
    opened.form.accept()
    assert opened.records == []
    assert "different" in opened.told


@pytest.mark.parametrize("page", [LengthBetween, LevelOrPlumb])
def test_places_must_be_marked_first(qtbot: QtBot, page: type[LengthBetween | LevelOrPlumb]) -> None:
    """With nothing marked the form says what to do instead of offering nothing."""
    opened = Opened(qtbot, page, Job())
    for field in opened.form.page().figures:
        field.set_value(field.value() or 500.0)
    opened.form.accept()
    assert opened.records == []
    assert "mark" in opened.told


def test_level_on_face_and_keel(qtbot: QtBot) -> None:
    """Two readings and the transom angle that follows."""
    opened = Opened(qtbot, LevelHeld)
    page = opened.form.page()
    assert isinstance(page, LevelHeld)
    qtbot.keyClicks(page.face.line, "15.5")
    qtbot.keyClicks(page.keel.line, "1.5")
    assert opened.told == "Transom angle 14.00° ± 0.42°"
    opened.form.accept()
    assert opened.records == [LevelReadings(15.5, 1.5, 0.15)]


def test_rake_as_stated(qtbot: QtBot) -> None:
    """A stated angle and what it does to lengths up the face: 3.1 % at 14°, 1/cos."""
    opened = Opened(qtbot, RakeStated)
    page = opened.form.page()
    assert isinstance(page, RakeStated)
    qtbot.keyClicks(page.rake.line, "14")
    assert "3.1 %" in opened.told
    opened.form.accept()
    assert opened.records == [Rake(14.0, 0.5)]


def test_places_plumb_to_each_other(qtbot: QtBot) -> None:
    """Two marks on a plumb line."""
    opened = Opened(qtbot, LevelOrPlumb)
    page = opened.form.page()
    assert isinstance(page, LevelOrPlumb)
    page.kind.setCurrentIndex(1)
    opened.form.accept()
    assert opened.records == [GravityLine("plumb", GravityKind.PLUMB, ("keel", "chine, port"), 0.15)]


@pytest.mark.parametrize(("way", "gap_mm"), [(0, 12.0), (1, -12.0)], ids=["aft", "forward"])
def test_bow_has_its_sign(qtbot: QtBot, way: int, gap_mm: float) -> None:
    """A gap is positive where the face bulges aft."""
    opened = Opened(qtbot, Bow)
    page = opened.form.page()
    assert isinstance(page, Bow)
    qtbot.keyClicks(page.span.line, "1.2 m")
    qtbot.keyClicks(page.gap.line, "12 mm")
    page.way.setCurrentIndex(way)
    opened.form.accept()
    assert opened.records == [Gap("bow", 1200.0, gap_mm, 1.5)]


def test_missing_figures_are_pointed_out(qtbot: QtBot) -> None:
    """An empty form gives nothing back and names what it needs; the first empty field has the focus."""
    opened = Opened(qtbot, AandB)
    page = opened.form.page()
    assert isinstance(page, AandB)
    opened.form.accept()
    assert opened.records == []
    assert "needed" in page.a.line.accessibleDescription()
    assert opened.form.focusWidget() is page.a.line


def test_ids_never_clash(qtbot: QtBot) -> None:
    """The second reading of a side gets a name of its own once the job knows the first."""
    job = with_tape_record(JOB, DeadriseReading("tape port", Side.PORT, 300.0, 78.0))
    opened = Opened(qtbot, AandB, JOB)
    opened.form.show_job(job)
    page = opened.form.page()
    assert isinstance(page, AandB)
    page.a.set_value(301.0)
    page.b.set_value(79.0)
    opened.form.accept()
    assert [record.id for record in opened.records if isinstance(record, DeadriseReading)] == ["tape port_2"]


def test_records_find_their_place_in_the_job() -> None:
    """Lists grow; what a job has once is replaced."""
    job = with_tape_record(with_tape_record(JOB, Rake(14.0)), Rake(13.0))
    assert job.rake == Rake(13.0)
    job = with_tape_record(with_tape_record(job, Gap("bow", 1200.0, 3.0)), Gap("bow_2", 1200.0, 4.0))
    assert [gap.id for gap in job.gaps] == ["bow", "bow_2"]


def test_places_are_named_once_with_what_they_are() -> None:
    """A place marked in two photos is one place, under its own name."""
    assert places_of(JOB) == (
        Place("keel", "keel (keel point)"),
        Place("chine, port", "chine, port"),
        Place("c2", "c2 (chine, starboard)"),
    )
