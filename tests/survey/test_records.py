"""Records as such: switched off is deleted, order is nothing, and each says what became of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitizer.job.model import (
    Angle,
    AngleKind,
    DeadriseReading,
    FaceLean,
    GravityKind,
    GravityLine,
    Instrument,
    Job,
    KnownLength,
    LineKind,
    MarkKind,
    MirrorPair,
    Photo,
    Rake,
    Rectangle,
    Role,
    Side,
    StraightLine,
)
from digitizer.survey.model import Survey
from tests.builders import FITTINGS
from tests.survey.exact import (
    Board,
    Case,
    Spot,
    a_case,
    all_spots,
    assert_true,
    codes,
    dimension,
    fitting_record,
    length,
    rim_spots,
    truth,
    values,
)

LIGHT, DRAIN = FITTINGS[3], FITTINGS[2]


def a_full_case() -> Case:
    """A job with a record of every kind, all faultless."""
    spots = all_spots() | rim_spots(LIGHT) | rim_spots(DRAIN)
    spots |= {
        "a": Spot(-600.0, 300.0, MarkKind.RECTANGLE_CORNER, of="sheet", z=3.0),
        "b": Spot(650.0, 300.0, MarkKind.RECTANGLE_CORNER, of="sheet", z=3.0),
        "c": Spot(650.0, 920.0, MarkKind.RECTANGLE_CORNER, of="sheet", z=3.0),
        "d": Spot(-600.0, 920.0, MarkKind.RECTANGLE_CORNER, of="sheet", z=3.0),
        "low": Spot(200.0, 200.0, MarkKind.LINE_POINT, of="batten", z=0.5),
        "high": Spot(200.0, 900.0, MarkKind.LINE_POINT, of="batten", z=0.5),
        "middle": Spot(200.0, 500.0, MarkKind.LINE_POINT, of="batten", z=0.5),
    }
    beam = length(spots, "chine_port", "chine_starboard", 1.5)
    return a_case(
        spots,
        boards=(Board(), Board("marker", -700.0, 800.0, marker=True)),
        lines=(StraightLine("batten", LineKind.STRAIGHTEDGE),),
        lengths=(replace(beam, instrument="tape"), length(spots, "top_port", "top_starboard", 2.0)),
        instruments=(Instrument("tape"),),
        rectangles=(Rectangle("sheet", ("a", "b", "c", "d"), 1250.0, 620.0, thickness_mm=3.0),),
        mirror_pairs=(MirrorPair("chines", "chine_port", "chine_starboard", 30.0),),
        angles=(Angle("upright", AngleKind.RIGHT_ANGLE, ("low", "high"), ("a", "b"), u_deg=0.3),),
        gravity_lines=(GravityLine("level", GravityKind.LEVEL, ("a", "b")),),
        face_lean=FaceLean(12.0),
        rake=Rake(13.0),
        fittings=(fitting_record(LIGHT), fitting_record(DRAIN)),
        deadrise_readings=(DeadriseReading("port", Side.PORT, 890.0, 757.5),),
    )


def answer(survey: Survey) -> dict[str, tuple[float, float]]:
    """Value and u of every dimension, fittings included."""
    placed = [
        d for f in survey.fittings for d in (f.x, f.y, f.below_reference, f.diameter, f.clearance) if d is not None
    ]
    return {d.code: (d.value, d.u) for d in (*survey.dimensions, *placed)}


def assert_same(first: Survey, second: Survey) -> None:
    """Values, uncertainties and findings are the same, but for the last rounding of the adjustment."""
    one, other = answer(first), answer(second)
    assert set(one) == set(other)
    for code, (value, u) in one.items():
        assert other[code][0] == pytest.approx(value, abs=1e-4), code
        assert other[code][1] == pytest.approx(u, rel=1e-4), code
    assert sorted(codes(first)) == sorted(codes(second))


def test_a_full_job_is_measured_truly() -> None:
    """Evidence of every kind together gives the truth."""
    survey = a_full_case().survey()
    assert_true(survey, truth())
    assert survey.adjustment.accepted
    assert all(c.agrees for c in survey.checks)


OFF: dict[str, Callable[[Job], tuple[Job, Job]]] = {
    name: lambda job, name=name: (
        replace(job, **{name: (*getattr(job, name)[:-1], replace(getattr(job, name)[-1], active=False))}),
        replace(job, **{name: getattr(job, name)[:-1]}),
    )
    for name in (
        "marks", "lengths", "rectangles", "targets", "mirror_pairs", "angles", "gravity_lines", "deadrise_readings",
    )
}  # fmt: skip
OFF["face_lean"] = lambda job: (
    replace(job, face_lean=replace(job.face_lean, active=False)),  # type: ignore[type-var]
    replace(job, face_lean=None),
)


@pytest.mark.parametrize("off", OFF.values(), ids=OFF)
def test_switched_off_is_as_good_as_deleted(off: Callable[[Job], tuple[Job, Job]]) -> None:
    """A record that is kept but switched off leaves the answer that it would leave if it were not there."""
    case = a_full_case()
    kept, deleted = (replace(case, job=job).survey() for job in off(case.job))
    assert_same(kept, deleted)
    whole = case.survey()
    assert (answer(kept), kept.checks) != (answer(whole), whole.checks)


def test_a_line_switched_off_is_as_good_as_deleted() -> None:
    """A straight line switched off leaves its marks as mere points."""
    case = a_full_case()
    off = case.but(lines=(replace(case.job.lines[0], active=False),))
    assert_same(off.survey(), case.but(lines=()).survey())


def test_a_fitting_switched_off_is_not_listed() -> None:
    """A fitting switched off is neither listed nor missed, and its neighbour has nothing to clear."""
    case = a_full_case()
    survey = case.but(fittings=(case.job.fittings[0], replace(case.job.fittings[1], active=False))).survey()
    assert [f.id for f in survey.fittings] == [LIGHT.id]
    assert survey.fittings[0].nearest is None
    assert DRAIN.id not in [f.subject for f in survey.findings]


def test_a_photo_switched_off_takes_its_marks_with_it() -> None:
    """Marks in a photo that is switched off do not take part."""
    case = a_case()
    second = Photo("side", "side.jpg", active=False)
    strays = tuple(replace(m, id=f"{m.id}*", photo="side", x_px=m.x_px + 40.0) for m in case.job.marks)
    both = replace(
        case.but(photos=(*case.job.photos, second), marks=case.job.marks + strays),
        facts={**case.facts, "side": replace(case.facts["astern"], name="side.jpg")},
    )
    assert_same(case.survey(), both.survey())


TUPLES = [f.name for f in fields(Job) if isinstance(getattr(a_full_case().job, f.name), tuple)]


@settings(max_examples=6, deadline=None)
@given(st.randoms(use_true_random=False))
def test_order_of_records_does_not_matter(shuffler: object) -> None:
    """Marks, lengths and all else in any order give the same answer."""
    case = a_full_case()

    def shuffled(records: tuple[object, ...]) -> tuple[object, ...]:
        mixed = list(records)
        shuffler.shuffle(mixed)  # type: ignore[attr-defined]
        return tuple(mixed)

    mixed = {name: shuffled(getattr(case.job, name)) for name in TUPLES}
    other = replace(case.but(**mixed), sightings=shuffled(case.sightings))  # type: ignore[arg-type]
    assert_same(case.survey(), other.survey())


def test_lengths_and_angles_are_given_in_their_units() -> None:
    """Observations in degrees and mm as they stand in the job; the survey's records hold plain values throughout."""
    survey = a_full_case().survey()
    rows = {o.subject: o for o in survey.observations if o.kind in ("angle", "level", "lean", "rake", "length")}
    assert (rows["rake"].unit, rows["rake"].observed, rows["rake"].u) == ("°", pytest.approx(13.0), pytest.approx(0.5))
    assert (rows["level"].unit, rows["level"].u) == ("°", pytest.approx(0.15))
    assert (rows["upright"].unit, rows["upright"].u) == ("°", pytest.approx(0.3))
    beam = rows["chine_port to chine_starboard"]
    assert (beam.unit, beam.u, beam.observed) == ("mm", 1.5, pytest.approx(truth()["chine_beam"]))
    assert is_dataclass(survey)
    for d in survey.dimensions:
        assert type(d.value) is float
        assert d.lower <= d.value <= d.upper
        assert 2.0 * d.u == d.U


def test_a_length_kept_out_is_compared_and_does_not_pull() -> None:
    """A check length 40 mm off changes no figure, and is told to be measured again; a true one agrees."""
    case = a_case().with_length("chine_port", "chine_starboard")
    true = replace(length(case.spots, "top_port", "top_starboard"), id="top", role=Role.CHECK)
    false = replace(length(case.spots, "keel", "top_port", error=40.0), id="diagonal", role=Role.CHECK)
    survey = case.but(lengths=(*case.job.lengths, true, false)).survey()
    assert_same_values(survey, case.survey())
    assert {c.id: c.agrees for c in survey.checks} == {"top": True, "diagonal": False}
    diagonal = next(c for c in survey.checks if c.id == "diagonal")
    assert diagonal.en == pytest.approx(-40.0 / math.hypot(diagonal.U_photo, diagonal.U_tape), rel=1e-3)
    assert [f.subject for f in survey.findings if f.code == "tape_disagrees"] == ["diagonal"]


def assert_same_values(first: Survey, second: Survey) -> None:
    assert values(first) == pytest.approx(values(second), abs=1e-4)


def test_a_check_includes_what_its_tape_shares() -> None:
    """A check by a tape with 0.2 % of scale error has that in its U."""
    case = a_case()
    check = replace(length(case.spots, "top_port", "top_starboard", 1.0), role=Role.CHECK, instrument="tape")
    tape = Instrument("tape", u_scale=0.002, u_zero_mm=2.0)
    (found,) = case.but(lengths=(check,), instruments=(tape,)).survey().checks
    assert found.U_tape == pytest.approx(2.0 * math.hypot(1.0, 0.002 * check.length_mm, 2.0))


def test_a_and_b_by_tape_are_compared() -> None:
    """A, B and the deadrise they give are set beside the photo's; B taken 12 mm false does not agree."""
    true = truth(offset=600.0)
    reading = DeadriseReading("port", Side.PORT, true["a_centre"], true["b_port"], 600.0)
    case = a_case().with_length("chine_port", "chine_starboard").with_length("top_port", "top_starboard")
    good = case.but(deadrise_readings=(reading,)).survey()
    assert [c.agrees for c in good.checks] == [True] * 3
    assert [c.en for c in good.checks] == pytest.approx([0.0] * 3, abs=0.01)
    assert good.checks[2].tape == pytest.approx(true["deadrise_edge_port"], abs=1e-3)
    bad = case.but(deadrise_readings=(replace(reading, b_mm=reading.b_mm + 12.0),)).survey()
    assert [c.agrees for c in bad.checks] == [True, False, False]


def test_records_that_cannot_take_part_are_named() -> None:
    """What is left out is said with its reason, and the rest is measured."""
    case = a_case()
    loose = KnownLength("loose end", "keel", "nowhere", 500.0)
    check = replace(loose, id="loose check", role=Role.CHECK)
    survey = case.but(
        lengths=(loose, check),
        lines=(StraightLine("empty line"),),
        fittings=(fitting_record(LIGHT),),
        marks=(*case.job.marks, *a_case(rim_spots(LIGHT, 2)).job.marks),
    ).survey()
    assert_true(survey, truth())
    said = {f.subject: f.text for f in survey.findings if f.code == "left_out"}
    assert set(said) == {"loose end", "loose check", "empty line", LIGHT.id}
    assert "fewer than two marks" in said["empty line"]
    assert "at least three marks" in said[LIGHT.id]
    assert [f.subject for f in survey.findings if f.code == "not_marked"] == [LIGHT.id]


def test_heights_off_the_face_move_a_mark_as_the_view_says() -> None:
    """
    A mark h proud seen at an angle θ shifts by h · tan θ, so a rim whose height is not known is uncertain by that.

    The height stated in the job is taken; one stated 10 mm too high shifts the fitting by 10 · tan θ to the camera.
    """
    case = a_full_case()
    stated = case.but(fittings=(replace(case.job.fittings[0], proud_mm=LIGHT.proud + 10.0), case.job.fittings[1]))
    right, wrong = (dimension(c.survey(), f"fitting_{LIGHT.id}_x").value for c in (case, stated))
    at = case.camera.rotation.T @ -case.camera.translation
    tangent = (at[0] - LIGHT.x) / at[2]
    assert wrong - right == pytest.approx(10.0 * tangent, rel=0.02)
