"""A pattern in drawings and reports: laid beside the measured outline, or cut in its place where it reaches."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from pypdf import PdfReader

from digitizer.errors import ReadingError
from digitizer.job.model import Job, PatternPart
from digitizer.reports.cutting import Drawing, LayerName, Line, cutting_drawing
from digitizer.reports.dxf import write_dxf
from digitizer.reports.pattern_outline import cut_edges
from digitizer.reports.pdf import write_report
from digitizer.survey.model import PatternResult, Survey
from tests.coverage.trials import survey_of
from tests.simulation.evidence import STRICT
from tests.simulation.jobs import simulated_job
from tests.simulation.patterns import CHINES, SimPattern, with_pattern

BUMP = (600.0, 40.0)
"""Cut 40 mm too full 600 mm to starboard, so that nobody takes it for the measured edge."""
HOWS = {
    "bottom": SimPattern(bumps=(BUMP,)),
    "starboard": SimPattern(part=PatternPart.STARBOARD, aligned=("keel", "top_starboard"), bumps=(BUMP,)),
    "whole": SimPattern(part=PatternPart.WHOLE, aligned=CHINES, bumps=(BUMP,)),
}


@cache
def measured(how: str) -> tuple[Survey, Job]:
    """A faultless survey with a pattern that has a bump."""
    job = with_pattern(simulated_job(3, "board_string_rule", precision=STRICT, noise=0.0), HOWS[how], 3, noise=0.0)
    return survey_of(job), job.job


def cutting(how: str, cut: str | None) -> Drawing:
    """The drawing of it, with the pattern beside or in place of the measured outline."""
    survey, job = measured(how)
    return cutting_drawing(survey, replace(job, settings=replace(job.settings, cut_to_pattern=cut)), "mm")


def on(drawing: Drawing, layer: LayerName) -> list[Line]:
    """Lines of a layer."""
    return [line for line in drawing.lines if line.layer is layer]


def at(points: tuple[tuple[float, float], ...], x: float) -> float:
    """Lowest height of a closed line at a distance from the centreline."""
    ring = [*points, points[0]]
    heights = [
        a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])
        for a, b in pairwise(ring)
        if min(a[0], b[0]) <= x <= max(a[0], b[0]) and a[0] != b[0]
    ]
    return min(heights)


@pytest.mark.parametrize("how", HOWS)
def test_pattern_is_drawn_beside_the_outline(how: str) -> None:
    """Unless it is to be cut, the outline is as measured, and the pattern has a layer of its own."""
    drawing = cutting(how, None)
    (pattern,) = on(drawing, LayerName.PATTERN)
    (outline,) = on(drawing, LayerName.OUTLINE)
    assert pattern.closed == (how == "whole")
    assert at(outline.points, 600.0) - min(y for x, y in pattern.points if abs(x - 600.0) < 60.0) > 25.0
    assert not on(drawing, LayerName.MEASURED_OUTLINE)


@pytest.mark.parametrize("how", HOWS)
def test_pattern_is_cut_where_it_reaches(how: str) -> None:
    """The outline stays one closed line, has the pattern's bump, and is as measured on the other side."""
    before, after = (on(cutting(how, cut), LayerName.OUTLINE) for cut in (None, "pattern"))
    assert len(after) == 1
    assert after[0].closed
    # mm; marks 90 mm apart cut the bump's top, and its height is taken plumb, not square to the edge
    assert at(before[0].points, 600.0) - at(after[0].points, 600.0) == pytest.approx(40.0, abs=8.0)
    assert at(before[0].points, -600.0) == pytest.approx(at(after[0].points, -600.0), abs=2.0)
    tops = [max(y for _, y in line.points) for line in (before[0], after[0])]
    assert tops[0] == pytest.approx(tops[1], abs=3.0 if how != "whole" else 45.0)


@pytest.mark.parametrize("how", HOWS)
def test_measured_outline_stays_to_be_seen(how: str) -> None:
    """Where the pattern is cut, what was measured is drawn broken, and the notes say which is which."""
    drawing = cutting(how, "pattern")
    assert on(drawing, LayerName.MEASURED_OUTLINE)
    assert not on(drawing, LayerName.PATTERN)
    assert any("The outline is the edge of pattern pattern" in note for note in drawing.notes)


def test_direction_of_the_trace_does_not_matter() -> None:
    """Traced from starboard to port, the same outline is cut."""
    survey, _ = measured("bottom")
    (pattern,) = survey.patterns
    back = replace(pattern, edge=pattern.edge[::-1])
    for a, b in zip(cut_edges(survey.edges, pattern), cut_edges(survey.edges, back), strict=True):
        assert np.abs(np.array(a.points) - np.array(b.points)).max() < 1e-6


def test_pattern_that_was_not_measured_is_never_replaced() -> None:
    """A drawing that was to be cut to a pattern is refused without it."""
    survey, job = measured("bottom")
    wanted = replace(job, settings=replace(job.settings, cut_to_pattern="pattern"))
    with pytest.raises(ReadingError, match="was not measured"):
        cutting_drawing(replace(survey, patterns=()), wanted, "mm")


def test_dxf_holds_the_pattern(tmp_path: Path) -> None:
    """Read back by the library, the layer has the edge point by point."""
    write_dxf(cutting("bottom", None), tmp_path / "a.dxf")
    (line,) = ezdxf.readfile(tmp_path / "a.dxf").modelspace().query('LWPOLYLINE[layer=="PATTERN"]')  # type: ignore[attr-defined]
    found = np.array([point[:2] for point in line.get_points()])
    assert np.abs(found - np.array(result().edge)).max() < 1e-6


def result() -> PatternResult:
    """The pattern of the bottom edge."""
    return measured("bottom")[0].patterns[0]


def test_report_tells_of_the_pattern(tmp_path: Path) -> None:
    """The section has its table, how it was laid, and the finding."""
    survey, job = measured("bottom")
    write_report(survey, job, {}, tmp_path / "r.pdf", frozen_date="2026-01-01")
    text = " ".join("".join(page.extract_text() for page in PdfReader(tmp_path / "r.pdf").pages).split())
    assert "Patterns against the measured outline" in text
    assert "Laid on the outline by its marks; scale: target board." in text
    assert "inner edge of the port chine flat" in text
    assert "outside the measured edge at the bottom edge" in text
