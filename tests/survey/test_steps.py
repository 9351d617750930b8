"""The job card: what each step holds, what is missing, and the mark that comes next."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitizer.job.model import (
    Boat,
    DeadriseReading,
    Face,
    FaceKind,
    Fitting,
    FittingShape,
    Job,
    KnownLength,
    Mark,
    MarkKind,
    Photo,
    Role,
    Side,
)
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.model import Finding, Severity
from digitizer.survey.steps import Expected, Step, StepName, StepState, step_of, steps
from tests.reports.a_survey import a_survey

PORT, STARBOARD, CENTRE = Side.PORT, Side.STARBOARD, Side.CENTRE


def a_mark(kind: MarkKind, side: Side | None = None, number: int = 0, **fields: object) -> Mark:
    """A mark somewhere; its place matters to nothing here."""
    name = f"{fields.get('of', '')}{kind}_{side}_{number}"
    return replace(Mark(name, "photo", kind, 100.0 + number, 200.0, side=side), **fields)  # type: ignore[arg-type]


def a_job(*marks: Mark, **fields: object) -> Job:
    """A job with one photo and some marks."""
    return replace(Job(photos=(Photo("photo", "photo.jpg"),), marks=marks), **fields)  # type: ignore[arg-type]


def the(name: StepName, job: Job) -> Step:
    """One step of a job that was not measured yet."""
    return next(s for s in steps(job) if s.name is name)


def test_an_empty_job_has_nothing_yet() -> None:
    """Each of the nine steps stands there in the order of the work, empty, and says what to do first."""
    card = steps(Job())
    assert [s.name for s in card] == list(StepName)
    assert {s.state for s in card} == {StepState.NOTHING}
    assert all(s.missing and not s.holds for s in card)


@pytest.mark.parametrize("sample", ["flat_square_on", "flat_oblique_wide", "tape_only", "bowed_three", "padded_two"])
def test_a_complete_job_lacks_no_mark(sample: str) -> None:
    """The samples' jobs, marked in full, wait for no further mark, and every marked step is enough."""
    card = steps(read_job(sample_job(sample)).job)
    assert [s.next for s in card] == [None] * len(card)
    assert {s.state for s in card[:6]} == {StepState.ENOUGH}


def test_following_the_card_completes_it() -> None:
    """Placing again and again the mark that comes next ends with enough of everything that is marked."""
    drain, plate = Fitting("drain", name="Drain"), Fitting("plate", shape=FittingShape.RECTANGLE)
    job = a_job(fittings=(drain, plate), lengths=(KnownLength("beam", "port end", "starboard end", 2000.0),))
    for number in range(60):
        wanted = next((s.next for s in steps(job) if s.next is not None), None)
        if wanted is None:
            break
        mark = a_mark(wanted.kind, wanted.side, number, of=wanted.of, point=wanted.point)
        job = replace(job, marks=(*job.marks, mark))
    card = steps(job)
    assert [s.state for s in card[:6]] == [StepState.ENOUGH] * 6
    assert len(job.marks) == 2 + 3 + 9 + 3 + 3 + 4


KEEL = a_mark(MarkKind.KEEL)
CHINES = [a_mark(MarkKind.CHINE, side) for side in (PORT, STARBOARD)]
EDGES = [a_mark(MarkKind.BOTTOM_EDGE, side, number) for side in (PORT, STARBOARD) for number in range(2)]


@pytest.mark.parametrize(
    ("marks", "wanted"),
    [
        ([], (MarkKind.KEEL, CENTRE)),
        ([KEEL], (MarkKind.CHINE, PORT)),
        ([KEEL, CHINES[0]], (MarkKind.CHINE, STARBOARD)),
        ([KEEL, *CHINES, a_mark(MarkKind.CHINE_INNER, PORT)], (MarkKind.CHINE_INNER, STARBOARD)),
        (EDGES, (MarkKind.CHINE, PORT)),
    ],
    ids=[
        "keel first",
        "then the chine to port",
        "then the chine to starboard",
        "a chine flat on both sides or none",
        "no keel wanted where the edges meet",
    ],
)
def test_the_bottom_is_marked_in_order(marks: list[Mark], wanted: tuple[MarkKind, Side]) -> None:
    """The bottom's next mark follows from those already there."""
    expected = the(StepName.BOTTOM, a_job(*marks)).next
    assert expected is not None
    assert (expected.kind, expected.side) == wanted


def test_keel_and_chines_are_enough_and_edges_help_further() -> None:
    """With keel and chines the bottom is enough; the sentence then says what bottom edges would add."""
    step = the(StepName.BOTTOM, a_job(KEEL, *CHINES))
    assert step.state is StepState.ENOUGH
    assert "hook" in step.missing
    assert step.holds == "keel, both chines"
    assert step.next == Expected(MarkKind.BOTTOM_EDGE, PORT)


def test_one_place_in_two_photos_counts_once() -> None:
    """A place seen by two photos is one mark on the string, not two."""
    marks = [a_mark(MarkKind.REFERENCE_LINE, PORT, 0, point="a"), a_mark(MarkKind.REFERENCE_LINE, PORT, 1, point="a")]
    assert the(StepName.REFERENCE_LINE, a_job(*marks)).holds == "1 mark"


def test_marks_out_of_use_do_not_count() -> None:
    """A mark switched off, and one on a photo switched off, leave the step empty."""
    off = a_mark(MarkKind.KEEL, active=False)
    assert the(StepName.BOTTOM, a_job(off)).state is StepState.NOTHING
    hidden = a_job(a_mark(MarkKind.KEEL), photos=(Photo("photo", "photo.jpg", active=False),))
    assert the(StepName.BOTTOM, hidden).state is StepState.NOTHING


def test_a_length_waits_for_its_ends() -> None:
    """A known length one of whose ends is not marked asks for that place by its name."""
    job = a_job(
        a_mark(MarkKind.CHINE, PORT, point="chine_port"), lengths=(KnownLength("beam", "chine_port", "b", 2300.0),)
    )
    step = the(StepName.KNOWN_LENGTHS, job)
    assert step.state is StepState.LOOK
    assert step.next == Expected(MarkKind.LENGTH_END, point="b")


def test_a_single_known_length_is_said_to_be_unchecked() -> None:
    """One known length is enough to measure by, and the card says what it lacks."""
    beam = KnownLength("beam", CHINES[0].id, CHINES[1].id, 2300.0)
    step = the(StepName.KNOWN_LENGTHS, a_job(*CHINES, lengths=(beam,)))
    assert step.state is StepState.ENOUGH
    assert "tape figure" in step.missing


def test_a_check_length_is_a_tape_figure() -> None:
    """A length kept out of the adjustment belongs to the tape figures and gives no scale."""
    job = a_job(lengths=(KnownLength("beam", "a", "b", 2300.0, role=Role.CHECK),))
    assert the(StepName.KNOWN_LENGTHS, job).state is StepState.NOTHING
    assert the(StepName.TAPE, job).state is StepState.LOOK


def test_a_reading_on_one_side_asks_for_the_other() -> None:
    """A and B entered to port alone leave a sentence about starboard."""
    step = the(StepName.TAPE, a_job(deadrise_readings=(DeadriseReading("r", PORT, 900.0, 770.0),)))
    assert step.holds == "1 reading of A and B"
    assert "starboard" in step.missing


@pytest.mark.parametrize(
    ("shape", "kind", "count"),
    [(FittingShape.CIRCLE, MarkKind.RIM, 3), (FittingShape.RECTANGLE, MarkKind.FITTING_CORNER, 4)],
    ids=["a rim in three places", "four corners"],
)
def test_a_fitting_is_placed_by_its_marks(shape: FittingShape, kind: MarkKind, count: int) -> None:
    """A fitting waits for the marks that its shape takes, or for its centre."""
    fitting = Fitting("f", shape=shape)
    few = [a_mark(kind, None, n, of="f") for n in range(count - 1)]
    assert the(StepName.FITTINGS, a_job(*few, fittings=(fitting,))).next == Expected(kind, of="f")
    enough = [*few, a_mark(kind, None, count, of="f")]
    assert the(StepName.FITTINGS, a_job(*enough, fittings=(fitting,))).state is StepState.ENOUGH
    centre = a_mark(MarkKind.FITTING_CENTRE, of="f")
    assert the(StepName.FITTINGS, a_job(centre, fittings=(fitting,))).state is StepState.ENOUGH


def test_a_second_photo_that_nothing_ties_asks_for_common_places() -> None:
    """Two photos with one place in common ask for a further place of the first, in the second."""
    photos = (Photo("photo", "a.jpg"), Photo("second", "b.jpg"))
    marks = [a_mark(MarkKind.KEEL, CENTRE), a_mark(MarkKind.CHINE, PORT, 1, point="a")]
    marks += [a_mark(MarkKind.CHINE, PORT, 2, point="a", photo="second")]
    wanted = the(StepName.PHOTOS, a_job(*marks, photos=photos)).next
    assert wanted is not None
    assert wanted.kind is MarkKind.KEEL
    assert wanted.photo == "second"


def test_a_free_face_wants_a_second_photo() -> None:
    """One photo can't show the depth of a face of free shape."""
    assert the(StepName.PHOTOS, a_job(face=Face(FaceKind.FREE))).state is StepState.LOOK


def test_a_warning_makes_its_step_worth_another_look() -> None:
    """The loudest warning about a step's records stands on that step, on the findings and on no other."""
    text = "Mark keel does not fit everything else."
    survey = replace(a_survey(), findings=(Finding("outlier", Severity.SERIOUS, "keel_centre_0", text),))
    job = a_job(a_mark(MarkKind.KEEL, CENTRE), *(a_mark(MarkKind.CHINE, s) for s in (PORT, STARBOARD)))
    looked_at = {s.name for s in steps(job, survey) if s.missing == text}
    assert looked_at == {StepName.BOTTOM, StepName.FINDINGS}
    hand_over = steps(job, survey)[-1]
    assert hand_over.state is StepState.LOOK
    assert "serious" in hand_over.missing


def test_notes_leave_the_steps_as_they_are() -> None:
    """A note is no reason to look again."""
    survey = replace(a_survey(), findings=(Finding("no_rake", Severity.NOTE, "rake", "No transom angle was given."),))
    card = {s.name: s for s in steps(a_job(title="Trial"), survey)}
    assert card[StepName.FINDINGS].state is StepState.ENOUGH
    assert card[StepName.FINDINGS].holds == "1 note"
    assert card[StepName.HAND_OVER].state is StepState.ENOUGH


def test_a_sheet_without_a_boat_is_worth_another_look() -> None:
    """Figures that name no boat can be mixed up; a hull number is enough."""
    survey = replace(a_survey(), findings=())
    assert steps(a_job(), survey)[-1].state is StepState.LOOK
    assert steps(a_job(boat=Boat(hull_number="X1")), survey)[-1].state is StepState.ENOUGH


@pytest.mark.parametrize(
    ("subject", "step"),
    [
        ("photo", StepName.PHOTOS),
        ("beam", StepName.KNOWN_LENGTHS),
        ("check", StepName.TAPE),
        ("r: deadrise", StepName.TAPE),
        ("reference line", StepName.REFERENCE_LINE),
        ("deadrise_port", StepName.BOTTOM),
        ("keel_centre_0", StepName.BOTTOM),
        ("top_edge_None_0", StepName.OUTLINE),
        ("drain", StepName.FITTINGS),
        ("adjustment", StepName.FINDINGS),
    ],
)
def test_a_finding_leads_to_its_step(subject: str, step: StepName) -> None:
    """What a finding speaks of tells the step where it is settled."""
    job = a_job(
        a_mark(MarkKind.KEEL, CENTRE),
        a_mark(MarkKind.TOP_EDGE),
        lengths=(KnownLength("beam", "a", "b", 1.0), KnownLength("check", "a", "b", 1.0, role=Role.CHECK)),
        deadrise_readings=(DeadriseReading("r", PORT, 900.0, 770.0),),
        fittings=(Fitting("drain"),),
    )
    assert step_of(subject, job) is step


KINDS = st.sampled_from(list(MarkKind))
SIDES = st.sampled_from([None, *Side])


@given(st.lists(st.tuples(KINDS, SIDES), max_size=20))
def test_every_step_says_one_sentence(marks: list[tuple[MarkKind, Side | None]]) -> None:
    """Whatever is marked, a step says at most one sentence, and one that lacks something says at least one."""
    for step in steps(a_job(*(a_mark(kind, side, n) for n, (kind, side) in enumerate(marks)))):
        assert step.missing.count(".") <= 1
        assert not step.missing or step.missing.endswith(".")
        assert step.missing or step.state is StepState.ENOUGH


def test_figures_of_the_tape_form_count_as_tape() -> None:
    """A figure of the form makes the tape step hold something."""
    from digitizer.job.model import TapeFigure

    job = Job(tape_figures=(TapeFigure("beam", "chine_beam", "2100 mm"),))
    step = next(s for s in steps(job) if s.name is StepName.TAPE)
    assert step.holds == "1 tape figure"
