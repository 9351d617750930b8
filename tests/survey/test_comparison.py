"""Two surveys compared: what did not change stays quiet, what moved is found, other lines are told and taken out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from digitizer.survey.comparison import OF_THE_LINE, Comparison, compared
from digitizer.survey.model import Survey
from tests.builders import SimFitting, SimString
from tests.coverage.record_trials import FITTINGS, drawn_survey, moved, pair, true_sizes
from tests.survey.exact import STRING, Case, a_camera, a_case, all_spots, fitting_record, rim_spots


def exact(string: SimString = STRING, fittings: tuple[SimFitting, ...] = FITTINGS, yaw: float = 12.0) -> Case:
    """A faultless survey of the boat, with its own string and place of the camera."""
    spots = all_spots(string=string)
    for fitting in fittings:
        spots |= rim_spots(fitting)
    return a_case(spots, camera=a_camera(yaw=yaw), fittings=tuple(fitting_record(f) for f in fittings))


@pytest.fixture(scope="module")
def before() -> Case:
    """The first job."""
    return exact()


@pytest.fixture(scope="module")
def first(before: Case) -> Survey:
    """Its survey."""
    return before.survey()


def against(before: Case, first: Survey, after: Case) -> Comparison:
    """The second job against the first."""
    return compared(first, after.survey(), before.job, after.job)


def test_same_survey_has_no_differences(before: Case, first: Survey) -> None:
    """A survey against itself: nothing differs, nothing stands in one only."""
    found = compared(first, first, before.job, before.job)
    assert max(abs(d.difference) for d in found.every) < 1e-9
    assert (found.changed, found.only_first, found.only_second) == ((), (), ())


def test_moved_fitting_is_found_and_its_step_is_right(before: Case, first: Survey) -> None:
    """A fitting 12 mm away: set aside from the fit, its step right, the others still."""
    found = against(before, first, exact(fittings=moved(FITTINGS, "bilge", 0.0, 12.0), yaw=-10.0))
    assert found.set_aside == ("bilge",)
    step = {m.first.id: [d.difference for d in m.by_fit[:2]] for m in found.fittings}
    assert step["bilge"] == pytest.approx([0.0, 12.0], abs=0.1)  # mm, what the last steps leave open
    assert max(abs(d) for name, both in step.items() if name != "bilge" for d in both) < 0.1
    assert [d.label for d in found.changed] == ["bilge, up from the keel point"]


def test_strings_stretched_differently_are_told_and_taken_out(before: Case, first: Survey) -> None:
    """Half a degree between the strings: the turn is found, positions and deadrise are freed of it."""
    turned = SimString(870.0, math.tan(math.atan(STRING.slope) + math.radians(0.5)))
    found = against(before, first, exact(string=turned))
    assert found.fit is not None
    assert found.fit.turned
    assert found.fit.turn_deg == pytest.approx(-0.5, abs=0.02)
    assert any("not parallel" in note for note in found.notes)
    steps = [d.difference for m in found.fittings for d in m.by_fit[:2]]
    assert max(map(abs, steps)) < 0.2  # mm; the turn is first order
    assert any(d.changed for m in found.fittings for d in m.by_datums[:2])
    freed = {d.code: d.difference for d in found.dimensions}
    assert freed["deadrise_chord_port"] == pytest.approx(0.0, abs=0.02)  # degrees
    assert freed["height_starboard"] == pytest.approx(0.0, abs=0.3)  # mm


def test_what_follows_the_line_is_not_compared(before: Case, first: Survey) -> None:
    """A and B change with the height of the string; they are left out and the notes say so."""
    found = against(before, first, exact(string=SimString(700.0, STRING.slope)))
    assert {d.code for d in found.dimensions}.isdisjoint(OF_THE_LINE)
    assert found.changed == ()
    assert any("Not compared" in note for note in found.notes)


def test_what_only_one_holds_is_named(before: Case, first: Survey) -> None:
    """A fitting that is gone and one that is new, of whatever name."""
    new = SimFitting("new light", 250.0, 600.0, 80.0, 6.0)
    found = against(before, first, exact(fittings=(*FITTINGS[1:], new)))
    assert (found.only_first, found.only_second) == (("bilge",), ("new light",))


def test_fittings_of_other_names_are_matched_by_place(before: Case, first: Survey) -> None:
    """Owner and shop call things differently: kind and place tell them."""
    found = against(before, first, exact(fittings=tuple(replace(f, id=f"shop_{f.id}") for f in FITTINGS)))
    assert [m.second.id for m in found.fittings] == [f"shop_{m.first.id}" for m in found.fittings]
    assert len(found.fittings) == len(FITTINGS)


def test_two_common_fittings_are_too_few_for_a_fit(before: Case, first: Survey) -> None:
    """Then the datums decide, and the notes say what that means."""
    found = against(before, first, exact(fittings=FITTINGS[:2]))
    assert found.fit is None
    assert any("By their datums only" in note for note in found.notes)
    assert all(m.by_fit == () for m in found.fittings)


def test_what_both_rest_on_is_said(before: Case, first: Survey) -> None:
    """One print in both: its error cancels, so U is too large, and the reader is told."""
    found = compared(first, first, before.job, before.job)
    assert any("the same kind of print (board)" in note for note in found.notes)


def test_difference_and_en_by_hand(first: Survey) -> None:
    """U of a difference is the root of the sum of squares, En the difference over it."""
    second = replace(first, dimensions=tuple(replace(d, value=d.value + 3.0 * d.U) for d in first.dimensions))
    found = compared(first, replace(second, fittings=()), a_case().job, a_case().job)
    assert [round(d.en, 6) for d in found.dimensions] == [round(3.0 / math.sqrt(2.0), 6)] * len(found.dimensions)
    assert all(d.changed for d in found.dimensions)


def test_damage_that_grew_is_found() -> None:
    """A crack 40 mm longer, by the name it has in both."""
    one, other = drawn_survey(1), drawn_survey(2)
    longer = tuple(
        replace(d, size=replace(d.size, value=d.size.value + 40.0 * (not d.closed))) for d in other.survey.defects
    )
    found = compared(one.survey, replace(other.survey, defects=longer), one.job, other.job)
    assert [d.changed for d in found.defects] == [True, False]


@pytest.mark.slow
def test_false_alarms_and_finds_in_simulated_pairs() -> None:
    """Of unchanged figures about one in twenty seems changed; 8 mm are found; damage lies within its U."""
    still = [pair(seed) for seed in range(40)]
    alarms = np.mean([d.changed for c in still for d in c.every])
    assert 0.005 < alarms < 0.09  # the figures of one pair hang together, so 40 pairs leave a wide band
    gone = [pair(seed, moved(FITTINGS, "bilge", 0.0, 8.0)) for seed in range(10)]
    assert all(any(d.changed for m in c.fittings if m.first.id == "bilge" for d in m.by_fit[:2]) for c in gone)
    true = true_sizes()
    damage = [d for seed in range(40) for d in drawn_survey(seed).survey.defects]
    held = np.mean([abs(d.size.value - true[d.id]) <= d.size.U for d in damage])
    assert held > 0.87  # 80 sizes: four standard errors below 0.95 is 0.85
