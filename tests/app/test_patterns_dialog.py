"""The patterns' dialog: a photo is said to show one, its record is filled in, it is set against the boat and cut to."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QComboBox, QLabel, QPushButton
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.patterns import Patterns
from digitizer.app.document import Document
from digitizer.app.tools import BY_KEY, placed
from digitizer.job.edits import Click
from digitizer.job.model import Job, PatternFace, Photo, PhotoKind
from digitizer.job.validation import check_references


def a_document() -> Document:
    """Keel and chines on the boat, and a second photo."""
    job = Job(photos=(Photo("boat", "boat.jpg"), Photo("flat", "flat.jpg")))
    document = Document()
    document.edit("start", marked(job, "boat"))
    return document


def marked(job: Job, photo: str) -> Job:
    """Keel and chines marked with the window's own tools."""
    for key, x, y in (("keel", 500.0, 700.0), ("chine_port", 100.0, 500.0), ("chine_starboard", 900.0, 500.0)):
        job = placed(job, BY_KEY[key], [Click(photo, x, y)]).job
    return job


def press(dialog: Patterns, words: str) -> None:
    """Press the button that says so."""
    next(b for b in dialog.findChildren(QPushButton) if b.isEnabled() and words in b.text()).click()


def test_pattern_from_photo_to_alignment(qtbot: QtBot) -> None:
    """A photo is said to show a pattern, marked, and set against the boat; every step can be undone."""
    document = a_document()
    dialog = Patterns(document)
    qtbot.addWidget(dialog)
    press(dialog, "flat.jpg shows a pattern")
    assert document.job.photos[1].kind is PhotoKind.PATTERN
    document.edit("mark", marked(document.job, "flat"))
    assert check_references(document.job) == ()
    again = Patterns(document)
    qtbot.addWidget(again)
    press(again, "Set keel, chines and corners")
    assert len(document.job.patterns[0].aligned) == 3
    assert any("3 marks along its edge, 3 set against the boat" in label.text() for label in again.findChildren(QLabel))
    document.undo_stack.undo()
    assert document.job.patterns[0].aligned == ()


def test_record_is_filled_in_and_cut_to(qtbot: QtBot) -> None:
    """What the form says becomes the record; the pattern is cut, and the measured outline again."""
    document = a_document()
    dialog = Patterns(document)
    qtbot.addWidget(dialog)
    press(dialog, "flat.jpg shows a pattern")
    face = dialog.findChild(QComboBox, "face_up")
    assert face is not None
    face.setCurrentIndex(face.findData(PatternFace.FORWARD))
    face.activated.emit(face.currentIndex())
    assert document.job.patterns[0].face_up is PatternFace.FORWARD
    press(dialog, "Cut to this pattern")
    assert document.job.settings.cut_to_pattern == "pattern"
    press(dialog, "Cut the measured outline again")
    assert document.job.settings.cut_to_pattern is None
    press(dialog, "Remove the pattern")
    assert document.job.patterns == ()


def test_keel_in_a_pattern_photo_is_no_second_mark_of_the_boats() -> None:
    """The same tool makes a place of its own there, whichever is marked first."""
    job = a_document().job
    job = replace(job, photos=(job.photos[0], replace(job.photos[1], kind=PhotoKind.PATTERN)))
    job = marked(job, "flat")
    assert {m.point for m in job.marks} == {None}
    assert len({m.point or m.id for m in job.marks}) == 6
