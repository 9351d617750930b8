"""The one further observation that would help most: what is predicted is what happens when it is really added."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from digitizer.adjustment.propagation import gradients
from digitizer.job.model import KnownLength, Mark, MarkKind, StraightLine
from digitizer.survey.advice import U_CAREFUL_PX, Candidate, _candidates, _variances_after
from digitizer.survey.build import build
from digitizer.survey.dimensions import Transom, figures, read_transom
from digitizer.survey.measure import adjusted
from tests.builders import FloatArray
from tests.survey.exact import STRING, Case, a_case, codes, dimension

TAPED = (
    ("chine_port", "chine_starboard"),
    ("top_port", "top_starboard"),
    ("chine_port", "top_starboard"),
    ("chine_starboard", "top_port"),
)
CODES = ("deadrise_chord_port", "deadrise_edge_starboard", "chine_beam", "top_width", "height_centre")


def a_weak_case() -> Case:
    """A board alone, the string marked at its ends only."""
    case = a_case()
    keep = ("string_1", "string_5")
    marks = tuple(m for m in case.job.marks if m.kind is not MarkKind.REFERENCE_LINE or m.id in keep)
    return case.but(marks=marks)


def solved(case: Case) -> tuple[Transom, list[Candidate], FloatArray]:
    """Candidates of a case, and the whitened sensitivities of its figures."""
    network = build(case.job, case.facts, case.sightings)
    found, _ = adjusted(network)
    network.system.describe()
    transom = read_transom(network, found.estimate.x)
    assert transom is not None
    numbers = {f.code: f.value for f in figures(transom)}
    Z = found.estimate.solved(gradients([numbers[code] for code in CODES], len(transom.x)))
    return transom, list(_candidates(transom, found.estimate)), Z


def predicted(case: Case, text: str) -> dict[str, float]:
    """U after an addition, by the covariance alone."""
    network = build(case.job, case.facts, case.sightings)
    found, _ = adjusted(network)
    network.system.describe()
    _, candidates, Z = solved(case)
    (candidate,) = [c for c in candidates if c.text.startswith(text)]
    u = np.sqrt(_variances_after(found.estimate, Z, candidate))
    unit = np.array([math.degrees(1.0) if code.startswith("deadrise") else 1.0 for code in CODES])
    return dict(zip(CODES, (2.0 * unit * u).tolist(), strict=True))


def in_picture(case: Case, places: FloatArray, kind: MarkKind, u_px: float, of: str | None) -> tuple[Mark, ...]:
    """Marks of places (k, 2) of the transom system on the face."""
    angle = math.atan(STRING.slope)
    hull = places @ np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    uv = case.camera.project(np.column_stack([hull, np.zeros(len(hull))]))
    return tuple(
        Mark(f"new {n}", "astern", kind, float(u), float(v), u_px, of=of, u_definition_mm=0.0, height_mm=0.0)
        for n, (u, v) in enumerate(uv)
    )


def extent(case: Case) -> tuple[float, float, float, float]:
    transom, _, _ = solved(case)
    x, y = ([float(getattr(p, axis)) for p in transom.places.values()] for axis in "xy")
    return min(x), max(x), min(y), max(y)


def with_string(case: Case, level: bool) -> Case:
    left, right, low, high = extent(case)
    steps = np.linspace(0.05, 0.95, 9)
    across = np.column_stack([left + steps * (right - left), np.full(9, low + 0.85 * (high - low))])
    up = np.column_stack([np.full(9, (left + right) / 2), low + steps * (high - low)])
    marks = in_picture(case, across if level else up, MarkKind.LINE_POINT, 0.5, "new")
    return case.but(marks=(*case.job.marks, *marks), lines=(StraightLine("new"),))


def with_markers(case: Case) -> Case:
    left, right, low, high = extent(case)
    x = (left + right) / 2 + np.array([-0.4, 0.4, 0.4, -0.4]) * (right - left)
    y = low + np.array([0.5, 0.5, 0.9, 0.9]) * (high - low)
    places = np.column_stack([x, y])
    marks = in_picture(case, places, MarkKind.LENGTH_END, U_CAREFUL_PX, None)
    lengths = tuple(
        KnownLength(f"{i} {j}", f"new {i}", f"new {j}", float(np.linalg.norm(places[i] - places[j])), 1.0)
        for i in range(4)
        for j in range(i)
    )
    return case.but(marks=(*case.job.marks, *marks), lengths=(*case.job.lengths, *lengths))


def marked_carefully(case: Case) -> Case:
    return case.but(marks=tuple(replace(m, u_px=min(m.u_px, U_CAREFUL_PX)) for m in case.job.marks))


ADDITIONS: dict[str, tuple[str, Callable[[Case], Case]]] = {
    "chines": ("a tape figure across the chines", lambda c: c.with_length("chine_port", "chine_starboard")),
    "top": ("a tape figure across the top corners", lambda c: c.with_length("top_port", "top_starboard")),
    "diagonal": ("a diagonal by tape", lambda c: c.with_length("chine_port", "top_starboard")),
    "keel": ("a tape figure from the keel", lambda c: c.with_length("keel", "top_port")),
    "side": ("a tape figure from the port chine", lambda c: c.with_length("chine_port", "top_port")),
    "string": ("a string stretched straight across", lambda c: with_string(c, level=True)),
    "up-and-down": ("a second straight line", lambda c: with_string(c, level=False)),
    "markers": ("four printed markers", with_markers),
    "careful": ("placing the marks again", marked_carefully),
}


def a_taped_case() -> Case:
    """A board, a string and three tape figures: what is left is mostly the marks."""
    case = a_case()
    for first, second in TAPED[1:]:
        case = case.with_length(first, second)
    return case


@pytest.mark.parametrize(("text", "add"), ADDITIONS.values(), ids=ADDITIONS)
def test_prediction_is_what_the_addition_does(text: str, add: Callable[[Case], Case]) -> None:
    """U predicted in the covariance agrees within 5 % with U after really adding the observation and measuring."""
    for case in (a_weak_case(), a_taped_case()):
        if any(c.text.startswith(text) for c in solved(case)[1]):
            assert_foretold(case, text, add)


def assert_foretold(case: Case, text: str, add: Callable[[Case], Case]) -> None:
    foretold, after = predicted(case, text), add(case).survey()
    for code in CODES:
        assert foretold[code] == pytest.approx(dimension(after, code).U, rel=0.05), code


@pytest.mark.parametrize("addition", ["chines", "markers", "careful"])
def test_prediction_lowers_what_it_says(addition: str) -> None:
    """No addition makes a figure less certain; a tape across the chines makes their beam as certain as itself."""
    text, _ = ADDITIONS[addition]
    before, foretold = a_weak_case().survey(), predicted(a_weak_case(), text)
    assert all(foretold[code] <= dimension(before, code).U * (1 + 1e-9) for code in CODES)
    if addition == "chines":
        assert foretold["chine_beam"] < 2.1  # mm: U of the tape


def test_the_finding_names_the_addition_and_its_gain() -> None:
    """The advice names a figure with its U before and after, as the addition would leave it."""
    case = a_weak_case()
    survey = case.survey()
    (finding,) = [f for f in survey.findings if f.code == "advice"]
    assert finding.text.startswith("What would help most: ")
    now = dimension(survey, finding.subject)
    add = next(add for text, add in ADDITIONS.values() if text in finding.text)
    after = dimension(add(case).survey(), finding.subject)
    told = float(finding.text.rpartition("about ± ")[2].split(" mm")[0].split("°")[0])
    assert told == pytest.approx(after.U, rel=0.15)
    assert told < 0.9 * now.U


def test_no_advice_where_everything_is_good_enough() -> None:
    """A job that is certain enough to cut from gets no advice."""
    case = marked_carefully(a_case())
    sharp = case.but(marks=tuple(replace(m, u_definition_mm=0.1) for m in case.job.marks))
    for first, second in TAPED:
        sharp = sharp.with_length(first, second, u=0.5)
    assert "advice" not in codes(sharp.survey())


def test_a_tape_figure_that_is_there_is_not_advised() -> None:
    """What was taped already is not asked for again, whichever way round it was entered."""
    case = a_case().with_length("chine_starboard", "chine_port")
    _, candidates, _ = solved(case)
    assert "a tape figure across the chines (± 2 mm)" not in [c.text for c in candidates]
