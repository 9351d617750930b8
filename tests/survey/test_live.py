"""Numbers that follow: beside a full measurement of the same job, for every kind of change that is followed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from digitizer.adjustment.warm import TooFarError
from digitizer.errors import AdjustmentError
from digitizer.job.model import Angle, AngleKind, Boat, DeadriseReading, Job, Role, Side
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.evidence import gather
from digitizer.survey.exchange import structure_changed
from digitizer.survey.live import Live, quick, started
from digitizer.survey.measure import measure
from digitizer.survey.model import Dimension, ObservationState, Survey
from tests.builders import FITTINGS
from tests.survey.exact import Case, a_camera, a_case, all_spots, codes, dimension, fitting_record, length, rim_spots
from tests.survey.test_evidence import carpenters_square

SPOTS = all_spots() | rim_spots(FITTINGS[0]) | rim_spots(FITTINGS[3])
BEAM = length(SPOTS, "chine_port", "chine_starboard")
TOP = replace(length(SPOTS, "top_port", "top_starboard"), role=Role.CHECK)
READING = DeadriseReading("tape", Side.PORT, 890.0, 890.0 - 381.0 * 0.3443)
CASE = a_case(
    SPOTS,
    fittings=(fitting_record(FITTINGS[0]), fitting_record(FITTINGS[3])),
    lengths=(BEAM, TOP),
    deadrise_readings=(READING,),
)
Change = Callable[[Job], Job]


def moved(mark: str, dx: float = 0.0, dy: float = 0.0, u: float | None = None) -> Change:
    """One mark elsewhere, or placed otherwise."""

    def change(job: Job) -> Job:
        there = [
            replace(m, x_px=m.x_px + dx, y_px=m.y_px + dy, u_px=u or m.u_px) if m.id == mark else m for m in job.marks
        ]
        return replace(job, marks=tuple(there))

    return change


def tape(number: int, by: float, u: float = 1.0) -> Change:
    """One length read otherwise."""

    def change(job: Job) -> Job:
        old = job.lengths[number]
        lengths = list(job.lengths)
        lengths[number] = replace(old, length_mm=old.length_mm + by, u_mm=u)
        return replace(job, lengths=tuple(lengths))

    return change


def reading(by: float) -> Change:
    """A read otherwise."""
    return lambda job: replace(job, deadrise_readings=(replace(READING, a_mm=READING.a_mm + by),))


CHANGES = {
    "nothing": lambda job: job,
    "a chine a little": moved("chine_port", 1.5, -0.8),
    "a chine far": moved("chine_inner_starboard", 40.0, 25.0),
    "the keel": moved("keel", -6.0, 4.0),
    "the string": moved("string_2", 0.0, 0.8),
    "a rim": moved("bilge_port_rim_2", 1.0, 0.5),
    "a bottom edge": moved("bottom_port_2", 0.0, -3.0),
    "a sharper click": moved("chine_port", u=0.2),
    "a rim's blunter click": moved("bilge_port_rim_2", u=3.0),
    "a length": tape(0, 1.2),
    "a length's u": tape(0, 0.0, u=0.3),
    "a check length": tape(1, 30.0),
    "a reading": reading(25.0),
    "a name": lambda job: replace(job, title="Another", boat=Boat(name="Invented")),
}


@cache
def followed() -> tuple[Survey, Live]:
    """The case as last measured in full."""
    return start(CASE)


def start(case: Case) -> tuple[Survey, Live]:
    survey, live = started(case.job, case.facts, case.sightings)
    assert live is not None
    return survey, live


@cache
def both(name: str) -> tuple[Survey, Survey]:
    """The case with a change, followed and measured in full."""
    job = CHANGES[name](CASE.job)
    return quick(followed()[1], job), measure(job, CASE.facts, CASE.sightings)


def everything(survey: Survey) -> list[Dimension]:
    """All dimensions of a survey, fittings included."""
    placed = [d for f in survey.fittings for d in vars(f).values() if isinstance(d, Dimension)]
    return [*survey.dimensions, *placed]


def assert_same(found: Survey, full: Survey, part_of_u: float = 1e-3) -> None:
    """Each dimension within a thousandth of its u, and its u within two thousandths."""
    for one, other in zip(everything(found), everything(full), strict=True):
        assert one.code == other.code
        assert (one.label, one.made_from) == (other.label, other.made_from)
        if one.code == "reference_straightness":
            assert_alike(one, other)
            continue
        assert one.value == pytest.approx(other.value, abs=part_of_u * other.u), one.code
        assert one.u == pytest.approx(other.u, rel=2 * part_of_u), one.code
        assert (one.lower, one.upper) == pytest.approx((other.lower, other.upper), abs=3 * part_of_u * other.u)
        shares = {c.source: c.share for c in other.budget if c.share > 0.02}
        assert {c.source: c.share for c in one.budget if c.source in shares} == pytest.approx(shares, abs=2e-3)


def assert_alike(one: Dimension, other: Dimension) -> None:
    """
    The straightness, which is read off draws.

    Its value and u depend on which mark happens to be the worst, and the shortest interval jumps from draw to draw.
    A mark that was set aside is followed only roughly, since nothing holds it: a tenth of u.
    """
    assert one.value == pytest.approx(other.value, abs=0.1 * other.u)
    assert one.u == pytest.approx(other.u, rel=0.01)
    assert (one.lower, one.upper) == pytest.approx((other.lower, other.upper), abs=0.1 * other.u)


@pytest.mark.parametrize("change", CHANGES)
def test_quick_gives_what_a_full_measurement_gives(change: str) -> None:
    """Whatever may change without a new structure, the followed survey is the full one."""
    found, full = both(change)
    assert_same(found, full)
    assert found.title == full.title
    for one, other in zip(found.checks, full.checks, strict=True):
        assert (one.tape, one.agrees) == (pytest.approx(other.tape), other.agrees)
        assert one.en == pytest.approx(other.en, abs=2e-3 * (1.0 + abs(other.en)))
    for point, true in zip(found.points, full.points, strict=True):
        assert (point.x, point.y, point.z) == pytest.approx((true.x, true.y, true.z), abs=0.02)  # mm


@pytest.mark.parametrize("change", CHANGES)
def test_observations_and_adjustment_follow(change: str) -> None:
    """Residuals follow to a tenth of their u, what was observed follows exactly, and the square sum with them."""
    found, full = both(change)
    for one, other in zip(found.observations, full.observations, strict=True):
        assert one.observed == other.observed
        assert one.residual == pytest.approx(other.residual, abs=0.1 * other.u), one.label
    assert found.adjustment.weighted_square_sum == pytest.approx(full.adjustment.weighted_square_sum, abs=1e-3)
    assert found.adjustment.redundancy == pytest.approx(full.adjustment.redundancy, abs=1e-9)


def test_started_is_the_full_survey() -> None:
    """What starts the following is what `measure` gives."""
    assert followed()[0] == CASE.survey()


def test_live_is_not_altered() -> None:
    """The same job gives the same survey whatever was asked in between."""
    _, live = followed()
    first = quick(live, moved("keel", 3.0)(CASE.job))
    quick(live, moved("chine_port", 50.0, 50.0)(CASE.job))
    assert quick(live, moved("keel", 3.0)(CASE.job)) == first


def test_tape_findings_follow() -> None:
    """A check length that is typed wrong is contradicted at once, and no longer once it is corrected."""
    _, live = followed()
    assert "tape_disagrees" in codes(quick(live, tape(1, 40.0)(CASE.job)))
    assert "tape_disagrees" not in codes(quick(live, CASE.job))


def test_what_was_set_aside_stays_aside() -> None:
    """An outlier stays set aside while another mark moves, and the figures are those of the full measurement."""
    case = CASE.with_mark_moved("string_3", 0.0, 30.0)
    _, live = start(case)
    job = moved("chine_port", 2.0, 1.0)(case.job)
    found, full = quick(live, job), measure(job, case.facts, case.sightings)
    aside = {o.label for o in found.observations if o.state is ObservationState.REJECTED}
    assert aside
    assert aside == {o.label for o in full.observations if o.state is ObservationState.REJECTED}
    assert_same(found, full)
    assert "outlier" in codes(found)


def test_a_scattering_job_keeps_its_factor() -> None:
    """Where the global test fails, U follows with the factor of the moment, for fittings and all."""
    sighting = CASE.sightings[0]
    by = 0.19 * np.random.default_rng(0).choice([-1.0, 1.0], (2, len(sighting.x_px)))
    x, y = np.array([sighting.x_px, sighting.y_px]) + by
    case = replace(CASE, sightings=(replace(sighting, x_px=tuple(x.tolist()), y_px=tuple(y.tolist())),))
    survey, live = start(case)
    assert survey.adjustment.scaled_by > 1.2
    job = moved("string_2", 0.0, 1.0)(case.job)
    found, full = quick(live, job), measure(job, case.facts, case.sightings)
    assert found.adjustment.scaled_by == pytest.approx(full.adjustment.scaled_by, rel=1e-3)
    assert_same(found, full, 2e-3)


def test_two_solutions_stay_widened() -> None:
    """Where a mirrored pose fits as well, both solutions are followed, whichever the full measurement prefers."""
    case = carpenters_square(a_camera(12.0, 5.0))
    _, live = start(case)
    job = moved("keel", 1.0, 1.0)(case.job)
    found, full = quick(live, job), measure(job, case.facts, case.sightings)
    assert any(c.source == "which of two camera positions" for c in dimension(found, "deadrise_chord_port").budget)
    for code in ("deadrise_chord_port", "chine_beam", "a_centre"):
        one, other = dimension(found, code), dimension(full, code)
        assert one.lower <= other.value <= one.upper
        assert other.lower <= one.value <= other.upper


def test_bowed_face_in_three_photos() -> None:
    """A bowed face seen by three photos follows one of its marks to a thousandth of u."""
    job_file = read_job(sample_job("bowed_three"))
    evidence = gather(job_file)
    _, live = started(job_file.job, evidence.facts, evidence.sightings)
    assert live is not None
    chine = next(m.id for m in job_file.job.marks if m.kind == "chine")
    job = moved(chine, 1.0, 0.5)(job_file.job)
    assert_same(quick(live, job), measure(job, evidence.facts, evidence.sightings))


STRUCTURE = {
    "a mark more": lambda job: replace(job, marks=(*job.marks, replace(job.marks[0], id="new"))),
    "a mark off": lambda job: replace(job, marks=(replace(job.marks[0], active=False), *job.marks[1:])),
    "another side": lambda job: replace(job, marks=(replace(job.marks[0], side=Side.CENTRE), *job.marks[1:])),
    "a height": lambda job: replace(job, marks=(replace(job.marks[0], height_mm=3.0), *job.marks[1:])),
    "marks in another order": lambda job: replace(job, marks=job.marks[::-1]),
    "a length's end": lambda job: replace(job, lengths=(replace(BEAM, to_point="keel"), TOP)),
    "a length off": lambda job: replace(job, lengths=(BEAM, replace(TOP, active=False))),
    "a reading's side": lambda job: replace(job, deadrise_readings=(replace(READING, side=Side.STARBOARD),)),
    "no reading": lambda job: replace(job, deadrise_readings=()),
    "an angle": lambda job: replace(job, angles=(Angle("a", AngleKind.PARALLEL, ("keel", "keel"), ("a", "b")),)),
    "the offset of B": lambda job: replace(job, settings=replace(job.settings, b_offset_mm=300.0)),
    "a fitting": lambda job: replace(job, fittings=job.fittings[:1]),
}


@pytest.mark.parametrize("change", STRUCTURE.values(), ids=STRUCTURE.keys())
def test_structure_is_not_followed(change: Change) -> None:
    """Anything but values of marks, lengths and readings asks for a full measurement, and is refused here."""
    job = change(CASE.job)
    assert structure_changed(CASE.job, job)
    with pytest.raises(ValueError, match="structure"):
        quick(followed()[1], job)


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_values_are_no_structure(change: Change) -> None:
    """What is followed is not taken for a new structure."""
    assert not structure_changed(CASE.job, change(CASE.job))


def test_a_mark_outside_its_photo_is_refused() -> None:
    """As by a full measurement, with the mark's name."""
    with pytest.raises(AdjustmentError, match="chine_port lies outside"):
        quick(followed()[1], moved("chine_port", -5000.0)(CASE.job))


def test_sides_exchanged_are_refused() -> None:
    """A port mark dragged to starboard is refused as by a full measurement."""
    with pytest.raises(AdjustmentError, match="exchanged"):
        quick(followed()[1], moved("top_port", 2400.0)(CASE.job))


def test_a_job_too_weak_to_follow_says_so() -> None:
    """Without a usable factorisation nothing is guessed."""
    with pytest.raises(TooFarError):
        quick(replace(followed()[1], warm=None), CASE.job)
