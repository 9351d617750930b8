"""One false observation among good ones: named when it can be told, and not when it can't."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitizer.job.model import MarkKind, MirrorPair
from digitizer.survey.model import Finding, ObservationState, Severity, Survey
from tests.builders import FITTINGS, SimString, SimTransom
from tests.survey.exact import (
    Board,
    Case,
    a_case,
    all_spots,
    assert_true,
    codes,
    fitting_record,
    rim_spots,
    truth,
)

TAPED = (
    ("chine_port", "chine_starboard"),
    ("top_port", "top_starboard"),
    ("chine_port", "top_starboard"),
    ("chine_starboard", "top_port"),
    ("chine_port", "top_port"),
)


def taped(false: int | None = None, error: float = 25.0, boards: tuple[Board, ...] = (Board(),)) -> Case:
    """Five tape figures, one of them false."""
    case = a_case(boards=boards)
    for number, (first, second) in enumerate(TAPED):
        case = case.with_length(first, second, error=error if number == false else 0.0)
    return case


def named(survey: Survey) -> list[Finding]:
    return [f for f in survey.findings if f.code == "outlier"]


@pytest.mark.parametrize("error", [25.0, -25.0])
@pytest.mark.parametrize("false", range(len(TAPED)), ids=[" to ".join(pair) for pair in TAPED])
def test_one_tape_figure_of_five_is_false(false: int, error: float) -> None:
    """A figure 25 mm off is set aside and named with its size, and the rest gives the truth."""
    survey = taped(false, error).survey()
    (finding,) = named(survey)
    assert finding.subject == " to ".join(TAPED[false])
    assert finding.severity is Severity.SERIOUS
    assert "check it, correct it, or switch it off" in finding.text
    assert_true(survey, truth(), mm=0.1, degrees=0.005)
    row = next(o for o in survey.observations if o.subject == finding.subject)
    assert row.state is ObservationState.REJECTED
    assert row.residual == pytest.approx(-error, abs=0.2)
    assert survey.adjustment.accepted


def test_the_size_of_the_error_is_told() -> None:
    """The amount in the finding is the error itself, as far as the others know the place, not a part of it."""
    (finding,) = named(taped(0).survey())
    amount = float(finding.text.partition("off by about ")[2].split()[0])
    assert amount == pytest.approx(25.0, rel=0.25)


def test_faultless_figures_are_left_alone() -> None:
    """Nothing is set aside where nothing is wrong."""
    survey = taped().survey()
    assert not {"outlier", "undecided", "global_test"} & set(codes(survey))
    assert all(o.state is ObservationState.USED for o in survey.observations)


@pytest.mark.parametrize("mark", range(1, 9))
@pytest.mark.parametrize("shift", [(30.0, 0.0), (0.0, -30.0)], ids=["sideways", "up"])
def test_a_rim_mark_off_its_rim(mark: int, shift: tuple[float, float]) -> None:
    """A rim mark clicked 30 px off is set aside, it alone, and the fitting stays where it is."""
    fitting = FITTINGS[0]
    case = a_case(all_spots() | rim_spots(fitting, 8), fittings=(fitting_record(fitting),))
    survey = case.with_mark_moved(f"{fitting.id}_rim_{mark}", *shift).survey()
    (finding,) = named(survey)
    assert finding.subject == f"{fitting.id}_rim_{mark}"
    assert "undecided" not in codes(survey)
    (placed,), (right,) = survey.fittings, case.survey().fittings
    for one, other in ((placed.x, right.x), (placed.y, right.y), (placed.diameter, right.diameter)):
        assert one is not None
        assert other is not None
        assert one.value == pytest.approx(other.value, abs=0.2)  # mm
    kinds = {o.kind for o in survey.observations if o.state is ObservationState.REJECTED}
    assert kinds == {"mark", "rim"}


@pytest.mark.parametrize("mark", range(1, 9))
def test_a_rim_mark_on_the_neighbouring_fitting(mark: int) -> None:
    """A mark on another fitting's rim, several diameters away, is named alone and leaves the fitting where it is."""
    first, second = FITTINGS[0], FITTINGS[3]
    spots = all_spots() | rim_spots(first, 8) | rim_spots(second, 8)
    case = a_case(spots, fittings=(fitting_record(first), fitting_record(second)))
    survey = case.with_mark_moved(f"{first.id}_rim_{mark}", 150.0, -280.0).survey()
    assert [f.subject for f in named(survey)] == [f"{first.id}_rim_{mark}"]
    assert survey.fittings[0].x.value == pytest.approx(case.survey().fittings[0].x.value, abs=0.1)  # mm


def test_a_mark_beside_the_string() -> None:
    """One mark of five clicked beside the string is set aside, and the string stays straight."""
    survey = a_case().with_mark_moved("string_3", dy=25.0).survey()
    assert [f.subject for f in named(survey)] == ["string_3"]
    assert_true(survey, {k: v for k, v in truth().items() if k.startswith("deadrise")}, degrees=0.01)


ENDS = pytest.mark.parametrize("end", ["string_1", "string_5"])


@ENDS
def test_an_end_of_the_string_may_be_set_aside(end: str) -> None:
    """The ends of the string fix the datum; where one was clicked wrongly the figures keep their values."""
    survey = taped().with_mark_moved(end, dy=30.0).survey()
    assert [f.subject for f in named(survey)] == [end]
    assert_true(survey, truth(), mm=0.1, degrees=0.01)


@ENDS
def test_an_end_set_aside_is_as_good_as_deleted(end: str) -> None:
    """Nor does any U depend on whether the false mark was set aside or deleted."""
    case = taped()
    survey = case.with_mark_moved(end, dy=30.0).survey()
    deleted = case.but(marks=tuple(m for m in case.job.marks if m.id != end)).survey()
    for d in deleted.dimensions:
        if d.code != "reference_straightness":
            assert next(o for o in survey.dimensions if o.code == d.code).u == pytest.approx(d.u, rel=0.01), d.code


def test_a_mark_on_the_wrong_thing() -> None:
    """A chine mark 60 px off contradicts the tape figures to it."""
    survey = (
        taped(boards=(Board(), Board("marker", 800.0, 700.0, marker=True)))
        .with_mark_moved("chine_port", dy=60.0)
        .survey()
    )
    assert "chine_port" in " ".join(f.subject for f in survey.findings if f.code in ("outlier", "undecided"))


def test_what_cannot_be_told_apart_is_not_named() -> None:
    """Two readings of one length that contradict each other: one is wrong, nothing says which, none is set aside."""
    case = a_case().with_length("chine_port", "chine_starboard").with_length("top_port", "top_starboard", error=7.0)
    twice = replace(case.job.lengths[1], id="again", length_mm=case.job.lengths[1].length_mm - 7.0)
    alone = replace(case, sightings=())  # no board: the readings are all there is
    alone = alone.but(
        targets=(),
        photos=(replace(case.job.photos[0], u_square_deg=2.0),),
        lengths=(case.job.lengths[1], twice),
    )
    survey = alone.survey()
    (finding,) = [f for f in survey.findings if f.code == "undecided"]
    assert "top_port to top_starboard" in finding.text
    assert "again" in finding.text
    assert "None was set aside" in finding.text
    assert not named(survey)
    assert all(o.state is ObservationState.USED for o in survey.observations)


def test_one_length_alone_is_checked_by_nothing() -> None:
    """The only length, false by 100 mm, cannot be found out: the survey says that nothing checks it."""
    case = a_case(boards=()).with_length("chine_port", "chine_starboard", error=100.0)
    case = case.but(photos=(replace(case.job.photos[0], u_square_deg=5.0),))
    survey = case.survey()
    assert not named(survey)
    (finding,) = [f for f in survey.findings if f.code == "unchecked"]
    assert finding.subject == "chine_port to chine_starboard"
    row = next(o for o in survey.observations if o.kind == "length")
    assert row.redundancy == pytest.approx(0.0, abs=1e-6)
    assert row.w is None
    assert row.minimal_detectable_error is None


def test_a_length_that_a_board_checks_poorly_is_said_to_be_so() -> None:
    """Beside a board at the middle a beam is checked, but only errors of several centimetres would be noticed."""
    survey = a_case().with_length("chine_port", "chine_starboard").survey()
    row = next(o for o in survey.observations if o.kind == "length")
    assert row.minimal_detectable_error is not None
    (finding,) = [f for f in survey.findings if f.code in ("poorly_checked", "unchecked")]
    assert f"above {row.minimal_detectable_error:.0f} mm" in finding.text


def test_the_minimal_detectable_error_is_found() -> None:
    """An error of twice what would just be noticed is noticed, half of it is not, in a faultless job."""
    row = next(o for o in taped().survey().observations if o.kind == "length")
    assert row.minimal_detectable_error is not None
    assert named(taped(0, 2.0 * row.minimal_detectable_error).survey())
    assert not named(taped(0, 0.5 * row.minimal_detectable_error).survey())


def test_a_pair_that_was_not_made_alike() -> None:
    """Among good pairs one corner 40 mm too high is found out, as the pair or one of its two marks."""
    hull, string = SimTransom(top_height=(1010.0, 1050.0)), SimString(890.0, 0.0)
    spots = {n: s for n, s in all_spots(hull, string).items() if s.kind is not MarkKind.TOP_EDGE}
    pairs = tuple(MirrorPair(s, f"{s}_port", f"{s}_starboard", 3.0) for s in ("chine", "chine_inner", "top"))
    boards = (Board(), Board("right", 900.0, 700.0, marker=True), Board("left", -900.0, 600.0, marker=True))
    case = a_case(spots, boards, mirror_pairs=pairs)
    survey = case.with_length("chine_port", "chine_starboard").survey()
    (finding,) = [f for f in survey.findings if f.code == "undecided"]
    assert "top, height" in finding.text  # or one of the two corner marks: nothing else sees their heights


def test_scatter_beyond_the_stated_uncertainty_widens_the_figures() -> None:
    """Corners that scatter twice as much as they say fail the global test, and all uncertainties are enlarged."""
    case = a_case()
    (board,) = case.sightings
    scattered = replace(
        board,
        x_px=tuple(x + (0.2 if (i + i // 4) % 2 else -0.2) for i, x in enumerate(board.x_px)),
        y_px=tuple(y + (0.2 if i // 2 % 2 else -0.2) for i, y in enumerate(board.y_px)),
    )
    survey = replace(case, sightings=(scattered,)).survey()
    assert not survey.adjustment.accepted
    assert survey.adjustment.scaled_by == pytest.approx(survey.adjustment.variance_factor**0.5)
    assert survey.adjustment.scaled_by > 1.3
    assert "global_test" in codes(survey)
    for d, other in zip(survey.dimensions, case.survey().dimensions, strict=True):
        assert d.u > 1.2 * other.u
