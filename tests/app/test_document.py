"""The open job: every edit can be undone and redone bit by bit, without a window."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitizer.app.document import Answer, Document
from digitizer.app.tools import BY_KEY, CLICKS_BEFORE_A_FIGURE, TOOLS, placed
from digitizer.job import condition_edits, edits
from digitizer.job.edits import Click
from digitizer.job.model import Job, MarkKind, Photo, Side
from digitizer.job.validation import check_references

START = Job(photos=(Photo("photo_1", "stern.jpg"), Photo("photo_2", "side.jpg")))
PLACES = st.builds(Click, st.sampled_from(["photo_1", "photo_2"]), st.floats(0, 4000), st.floats(0, 3000))
CLICKING = [tool for tool in TOOLS if tool.gesture not in CLICKS_BEFORE_A_FIGURE]


def random_edit(data: st.DataObject, job: Job) -> tuple[str, Job]:
    """Something that a person might do next."""
    verbs = ["place", "length", "sheet", "reading"] + (["move", "remove"] if job.marks else [])
    verbs += ["heal"] if job.defects else []
    verb = data.draw(st.sampled_from(verbs))
    if verb == "place":
        done = placed(job, data.draw(st.sampled_from(CLICKING)), [data.draw(PLACES)])
        return done.words, done.job
    if verb == "length":
        return "Add a length", edits.with_known_length(job, (data.draw(PLACES), data.draw(PLACES)), 1500.0, 0.8)
    if verb == "reading":
        return "Read", condition_edits.with_meter_reading(job, data.draw(PLACES), data.draw(st.floats(0, 100)))
    if verb == "heal":
        return "Remove", condition_edits.without_defect(job, data.draw(st.sampled_from(job.defects)).id)
    if verb == "sheet":
        four = tuple(data.draw(PLACES) for _ in range(4))
        return "Add a sheet", edits.with_sheet(job, four, 297.0, 210.0)  # type: ignore[arg-type]
    mark = data.draw(st.sampled_from(job.marks))
    if verb == "move":
        return "Move", edits.with_mark_moved(job, mark.id, data.draw(st.floats(0, 4000)), 7.0)
    return "Delete", edits.without_record(job, "marks", mark.id)


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_any_sequence_of_edits_is_undone_and_redone_bit_by_bit(qapp: object, data: st.DataObject) -> None:
    """After undoing everything the very same job is back; after redoing, the last one; each fits together."""
    document = Document(START)
    jobs = [document.job]
    for _ in range(data.draw(st.integers(1, 8))):
        words, job = random_edit(data, document.job)
        document.edit(words, job)
        assert check_references(document.job) == ()
        if document.job is not jobs[-1]:
            jobs.append(document.job)
    for job in reversed(jobs):
        assert document.job is job
        document.undo_stack.undo()
    assert document.job is START
    assert document.is_saved
    while document.undo_stack.canRedo():
        document.undo_stack.redo()
    assert document.job is jobs[-1]


@pytest.mark.parametrize("tool", CLICKING, ids=lambda tool: tool.key)
def test_undo_names_what_it_undoes(qapp: object, tool: object) -> None:
    """Each tool's step has its name in the menu, and one undo takes it back."""
    document = Document(START)
    done = placed(document.job, tool, [Click("photo_1", 5.0, 6.0)])  # type: ignore[arg-type]
    document.edit(done.words, done.job)
    assert document.undo_stack.undoText() == done.words
    assert document.job.marks[-1].id in done.marks
    document.undo_stack.undo()
    assert document.job is START


def test_nudges_of_one_mark_are_one_step(qapp: object) -> None:
    """Ten presses of an arrow key are undone together, nudges of another mark apart."""
    document = Document(edits.with_marks(START, [Click("photo_1", 5, 5), Click("photo_1", 9, 9)], MarkKind.OUTLINE))
    begun = document.job
    for i in range(10):
        document.edit("Nudge", edits.with_mark_moved(document.job, "outline", 5.1 + i / 10, 5), joins="nudge outline")
    document.edit("Nudge", edits.with_mark_moved(document.job, "outline_2", 9.1, 9), joins="nudge outline_2")
    assert document.undo_stack.count() == 2
    document.undo_stack.undo()
    document.undo_stack.undo()
    assert document.job is begun


def test_preview_is_no_step(qapp: object) -> None:
    """A mark held over a place is shown there, and nothing is taken until it is let go."""
    document = Document(edits.with_marks(START, [Click("photo_1", 5, 5)], MarkKind.KEEL))
    document.preview(edits.with_mark_moved(document.job, "keel", 8, 8))
    assert document.shown.marks[0].x_px == 8
    assert document.job.marks[0].x_px == 5
    assert document.undo_stack.count() == 0
    document.preview(None)
    assert document.shown is document.job


def test_late_answer_is_dropped(qapp: object) -> None:
    """An answer to a job that is no longer shown changes nothing."""
    document = Document(START)
    old = document.job
    document.edit("Title", replace(old, title="Newer"))
    document.take_answer(Answer(old, None, "late"))
    assert document.answer.problem == ""
    document.take_answer(Answer(document.job, None, "in time"))
    assert document.answer.problem == "in time"
    assert document.is_current


def test_selection_forgets_what_was_removed(qapp: object) -> None:
    """A removed mark is no longer chosen, and comes back unchosen."""
    document = Document(edits.with_marks(START, [Click("photo_1", 5, 5)], MarkKind.KEEL))
    document.select("keel")
    document.edit("Delete", edits.without_record(document.job, "marks", "keel"))
    assert document.selection == ()


def test_second_click_of_a_single_mark_moves_it(qapp: object) -> None:
    """There is one keel point in a photo: clicking again moves it."""
    keel = BY_KEY["keel"]
    once = placed(START, keel, [Click("photo_1", 5, 5)])
    twice = placed(once.job, keel, [Click("photo_1", 7, 7)])
    assert [(m.x_px, m.y_px) for m in twice.job.marks] == [(7, 7)]
    assert twice.words == "Move keel point"


def test_same_place_in_another_photo_is_tied(qapp: object) -> None:
    """The chine marked in a second photo names the first one's place."""
    chine = BY_KEY["chine_port"]
    first = placed(START, chine, [Click("photo_1", 5, 5)])
    both = placed(first.job, chine, [Click("photo_2", 7, 7)])
    assert [m.point for m in both.job.marks] == [None, "chine_port"]
    assert {m.side for m in both.job.marks} == {Side.PORT}


def test_rim_clicks_go_to_the_fitting_begun(qapp: object) -> None:
    """Five clicks round a rim are one fitting until another one is begun."""
    rim = BY_KEY["rim"]
    done = placed(START, rim, [Click("photo_1", 5, 5)])
    for x in (6, 7, 8, 9):
        done = placed(done.job, rim, [Click("photo_1", x, 5)], done.group)
    assert len(done.job.fittings) == 1
    assert len(placed(done.job, rim, [Click("photo_1", 90, 5)]).job.fittings) == 2
