"""Classic mistakes with a tape: named from the numbers, and only where the numbers ask for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import Number
from digitizer.job.model import DeadriseReading, KnownLength, LengthUnit, Path, Rake, Role, Settings, Side, TapeFigure
from digitizer.survey.diagnosis import (
    SIXTEENTH,
    Diagnosis,
    Explanation,
    Hypothesis,
    Mistake,
    Reading,
    diagnosed,
    diagnosis,
    in_inches,
    slips,
)
from digitizer.survey.findings import diagnosis_findings
from digitizer.survey.model import Severity, Survey
from digitizer.survey.tape import normalised_error
from digitizer.survey.tape_groups import tape_groups
from tests.coverage import mistakes
from tests.survey.exact import Case, a_case, dimension


@cache
def plain() -> Survey:
    return a_rigid_case().survey()


def a_rigid_case() -> Case:
    """The faultless job with two diagonals more, so that its figures are known to a millimetre or two."""
    case = a_case().but(rake=Rake(13.0, 0.2))
    for ends in (("chine_port", "chine_starboard"), ("top_port", "chine_starboard"), ("top_starboard", "chine_port")):
        case = case.with_length(*ends)
    return case


def said(survey: Survey) -> list[str]:
    return [f.text for f in survey.findings if f.code == "tape_diagnosis"]


def a_and_b(**change: float) -> tuple[DeadriseReading, ...]:
    """True A and B of both sides, shifted by what `change` says of ``a``, ``b_port`` and ``b_starboard``."""
    a = dimension(plain(), "a_centre").value + change.get("a", 0.0)
    return tuple(
        DeadriseReading(str(s), s, a, dimension(plain(), f"b_{s}").value + change.get(f"b_{s}", 0.0), u_mm=1.0)
        for s in (Side.PORT, Side.STARBOARD)
    )


def test_agreeing_tape_gets_no_diagnosis() -> None:
    """Figures that agree are not explained away."""
    assert said(a_rigid_case().but(deadrise_readings=a_and_b()).survey()) == []


def test_exchanged_a_and_b_are_named_in_words() -> None:
    """A and B the wrong way round."""
    turned = tuple(replace(r, a_mm=r.b_mm, b_mm=r.a_mm) for r in a_and_b())
    texts = said(a_rigid_case().but(deadrise_readings=turned).survey())
    assert len(texts) == 1
    assert texts[0].startswith("What would explain the tape: A and B were exchanged")


def test_other_line_loses_nothing() -> None:
    """A and B both 60 mm longer: another line, and the deadrise is the same."""
    moved = a_and_b(a=60.0, b_port=60.0, b_starboard=60.0)
    text = said(a_rigid_case().but(deadrise_readings=moved).survey())[0]
    assert "another line, 60.0 mm higher" in text
    assert "so the deadrise, is the same" in text


def test_half_beam_on_the_form() -> None:
    """A figure of the tape form with half the chine beam."""
    half = dimension(plain(), "chine_beam").value / 2.0
    figure = TapeFigure("beam", "chine_beam", f"{half:.1f} mm", "4 mm")
    survey = a_rigid_case().but(tape_figures=(figure,)).survey()
    assert [c.agrees for c in survey.checks] == [False]
    assert "half the width was written down" in said(survey)[0]


def test_transom_angle_written_down_as_deadrise() -> None:
    """13° where the deadrise is 19°."""
    figure = TapeFigure("deadrise", "deadrise_chord_port", "13°", "0.5°")
    assert (
        "the transom angle was taken for the deadrise" in said(a_rigid_case().but(tape_figures=(figure,)).survey())[0]
    )


def test_figure_that_the_photo_does_not_give_is_said() -> None:
    """A measure without a photo's figure beside it is left out loudly."""
    survey = a_rigid_case().but(tape_figures=(TapeFigure("x", "pad_old_width", "300 mm"),)).survey()
    assert any("can't be compared" in f.text for f in survey.findings if f.subject == "x")


def test_mistake_that_nothing_explains_is_left_open() -> None:
    """A beam 137 mm too long is none of the usual mistakes."""
    beam = dimension(plain(), "chine_beam").value + 137.0
    record = KnownLength("beam", "chine_port", "chine_starboard", beam, 1.0, role=Role.CHECK)
    case = a_rigid_case()
    survey = case.but(lengths=(*case.job.lengths, record)).survey()
    assert said(survey) == [
        "None of the usual mistakes with a tape explains why tape and photo disagree here: measure again."
    ]


def test_girth_is_compared_with_girth() -> None:
    """On a flat face girth and chord are one, so that a check marked girth agrees as well."""
    beam = dimension(plain(), "chine_beam").value
    record = KnownLength("beam", "chine_port", "chine_starboard", beam, 1.0, Path.GIRTH, role=Role.CHECK)
    case = a_rigid_case()
    assert case.but(lengths=(*case.job.lengths, record)).survey().checks[0].agrees


@pytest.mark.parametrize(
    ("count", "true"),
    [(1, {2}), (3, {6}), (6, {12, 10}), (10, {6}), (7, {14}), (8, set()), (0, set())],
    ids=["1/16", "3/16", "3/8", "5/8", "7/16", "1/2", "whole"],
)
def test_fractions_that_may_have_been_misread(count: int, true: set[int]) -> None:
    """Eighths taken for sixteenths, and 3/8 for 5/8 and the other way round; nothing else."""
    tape = (16 * 12 + count) * SIXTEENTH
    found = [amount for m, _, amount in slips(Reading("r", "B", tape, 1.0, tape, inches=True)) if m is Mistake.FRACTION]
    assert {round((tape - amount) / SIXTEENTH) % 16 for amount in found} == true


def test_no_inches_no_slips_of_inches() -> None:
    """A reading in millimetres has no fraction to misread."""
    assert list(slips(Reading("r", "B", 500.0, 1.0, 500.0))) == []
    assert in_inches(381.0, "mm")
    assert not in_inches(500.0, "mm")
    assert in_inches(500.0, "in/16")


def test_order_is_by_misfit_and_penalty() -> None:
    """Of two mistakes that fit alike the one with fewer ways of happening comes first; a third that misfits is out."""
    reading = (Reading("r", "length", 100.0, 1.0, 90.0),)
    tried = [
        Hypothesis(Mistake.FRACTION, "many ways", (100.0,), 5.0),
        Hypothesis(Mistake.GIRTH, "one way", (100.0,), 0.0),
        Hypothesis(Mistake.HALF_BEAM, "too far", (45.0,), 0.0),
    ]
    found = diagnosed(reading, tried, lambda values: np.zeros((len(values), len(values))))
    assert [e.mistake for e in found] == [Mistake.GIRTH, Mistake.FRACTION]


@pytest.mark.parametrize(
    ("x1", "U1", "x2", "U2", "published"),
    [
        # ISO/IEC 17043, form of En: (laboratory − reference) / √(U² + U²); values by hand with a 3, 4, 5 triangle.
        pytest.param(10.0, 3.0, 5.0, 4.0, 1.0, id="on the limit"),
        pytest.param(100.2, 0.3, 100.0, 0.4, 0.4, id="agrees"),
        pytest.param(99.0, 0.6, 100.0, 0.8, -1.0, id="negative, on the limit"),
    ],
)
def test_en(x1: float, U1: float, x2: float, U2: float, published: float) -> None:
    """The normalised error has the sign of the difference and its limit at one."""
    assert normalised_error(x1, U1, x2, U2) == pytest.approx(published)


def test_inch_job_reads_bare_figures_in_inches() -> None:
    """A bare number on the form is in the unit of the job."""
    beam = dimension(plain(), "chine_beam").value / 25.4
    case = a_rigid_case().but(settings=Settings(unit=LengthUnit.INCH_DECIMAL))
    survey = case.but(tape_figures=(TapeFigure("beam", "chine_beam", f"{beam:.2f}", "0.2"),)).survey()
    assert survey.checks[0].agrees
    assert survey.checks[0].U_tape == pytest.approx(0.2 * 25.4)


@pytest.mark.slow
def test_each_mistake_is_named_first() -> None:
    """A small version of the published table: nine in ten of those beyond U, or all but two of few of them."""
    flat = list(mistakes.flat_bases(3))
    for name, mistake, plant in mistakes.CASES:
        if plant is not mistakes.along_the_face:
            found = mistakes.outcome(name, mistake, plant, flat, 30)
            assert found.exceeds - found.first <= max(2, 0.1 * found.exceeds), name


@pytest.mark.slow
def test_honest_figures_are_seldom_suspected() -> None:
    """Where tape and photo agree and no mistake was made, hardly ever is one suspected: published are 3 in 100."""
    flat = list(mistakes.flat_bases(3))
    for plant in (mistakes.swapped, mistakes.half_beam):
        _, suspected = mistakes.false_alarms(plant, flat, 60)
        assert suspected <= 6


def test_small_slip_shows_against_the_other_readings() -> None:
    """
    Two readings agree with the photo within U, but not with each other: one was misread.

    The photo's figures err together, by a scale, so that their difference is known far better than each.
    """
    slip = SIXTEENTH * 3
    readings = tuple(
        Reading(name, name, tape, 0.5, 500.0, inches=True)
        for name, tape in (("B port", 500.0), ("B starboard", 500.0 + slip))
    )
    right = Hypothesis(Mistake.FRACTION, "misread", (500.0, 500.0 + slip), 2.0)

    def together(values: Sequence[Number]) -> FloatArray:
        return np.full((2, 2), 9.0) + np.eye(2) * 0.01

    found = diagnosis(readings, (right,), together)
    assert found is not None
    assert found.agrees
    assert [e.mistake for e in found.explanations] == [Mistake.FRACTION]
    assert diagnosis(readings[:1], (replace(right, expected=(500.0 + slip,)),), lambda v: np.array([[9.0]])) is None


def test_suspicion_is_spoken_as_one() -> None:
    """The sentence says that tape and photo agree, what would fit better, and what to do."""
    said_of = Diagnosis("b", True, (Explanation(Mistake.FRACTION, "B port: the fraction may be 5/8 in", 0.4, 2.4),))
    (finding,) = diagnosis_findings([said_of])
    assert finding.severity is Severity.NOTE
    assert finding.text.startswith("Tape and photo agree within their uncertainty")
    assert finding.text.endswith("Read it again.")


def test_groups_hold_each_a_once() -> None:
    """An A that stands in both readings is one figure."""
    at = next(mistakes.flat_bases(1))
    truth = mistakes.Truth(at, np.zeros(at.spread.shape[0]), np.random.default_rng(1))
    group = tape_groups(at.transom, mistakes.readings(truth), at.known)[0]
    assert [r.label for r in group.readings] == ["A", "B port", "B starboard"]
