"""A survey whose outline, fittings and offsets are round numbers, to be drawn for cutting."""

import math
from dataclasses import replace

from digitizer.reports.cutting import cutting_drawing
from digitizer.survey.model import Offset, OffsetLine, OutlineEdge, SurveyPoint
from tests.reports.a_survey import a_job, a_survey, dimension

CHINE, CORNER = (1000.0, 300.0), (1100.0, 900.0)
TOP = 960.0
BOTTOM_EDGE = (-CHINE[0], CHINE[1]), (0.0, 0.0), CHINE
EDGES = (
    OutlineEdge("bottom edge", BOTTOM_EDGE),
    OutlineEdge("side", (CHINE, CORNER)),
    OutlineEdge("top edge", (CORNER, (0.0, TOP), (-CORNER[0], CORNER[1]))),
    OutlineEdge("side", ((-CORNER[0], CORNER[1]), (-CHINE[0], CHINE[1]))),
)
HOSTILE = (
    '=HYPERLINK("http://x")',
    "<b>&amp;</b><script>alert(1)</script>",
    "\\P{\\fArial;x} %%c %%% ^J \\U+0041",
    "\u202eright to left\u202c שלום مرحبا",
    "🚤🚤 Ærø Ελλάδα Ђорђе",
    "x" * 10_000,
    "line\nbreak\ttab\x00\x07",
    "  0\nSECTION",
)


def offsets():
    """The bottom's heights every 500 mm and the sides' half-breadths at 600."""
    sides = ("port", "starboard")
    bottom = [_offset(OffsetLine.BOTTOM, side, x, 0.3 * x) for x in (500.0, 1000.0) for side in sides]
    top = [_offset(OffsetLine.TOP, side, x, TOP - 60.0 * x / 1100.0) for x in (500.0, 1000.0) for side in sides]
    keel = [_offset(OffsetLine.BOTTOM, "centre", 0.0, 0.0), _offset(OffsetLine.TOP, "centre", 0.0, TOP)]
    return (*keel, *bottom, *top, *(_offset(OffsetLine.HALF_BREADTH, side, 600.0, 1050.0) for side in sides))


def _offset(line, side, station, value):
    return Offset(line, side, station, dimension(f"offset_{line}_{side}", "offset", "Offsets", value, 0.8))


def a_flat_survey(**more):
    return a_survey(**({"edges": EDGES, "offsets": offsets()} | more))


def a_bowed_survey(radius=2000.0):
    """The same face bent; its edges are taken as rolled flat already, its reference line and pad are as seen."""
    flat = a_flat_survey(curvature_per_mm=1.0 / radius)
    girths = [radius * math.asin(f.x.value / radius) for f in flat.fittings]
    fittings = tuple(replace(f, girth=replace(f.x, value=g)) for f, g in zip(flat.fittings, girths, strict=True))
    places = ((-200.0, 500.0), (200.0, 500.0), (200.0, 700.0), (-200.0, 700.0))
    pad = [SurveyPoint(f"p{i}", "pad", None, *place, 10.0, 0.5, 0.5, "drive") for i, place in enumerate(places)]
    return replace(flat, fittings=fittings, points=(*flat.points, *pad))


def many_fittings(count=30, step=55.0):
    """A survey with fittings of 40 mm close together, in rows of ten."""
    survey = a_flat_survey()
    pattern = survey.fittings[0]
    made = [
        replace(
            pattern,
            id=f"f{i}",
            name=f"bolt hole {i + 1}",
            x=replace(pattern.x, value=-250.0 + step * (i % 10)),
            y=replace(pattern.y, value=500.0 + step * (i // 10)),
            diameter=dimension("d", "diameter", "Fittings", 40.0, 0.5),
        )
        for i in range(count)
    ]
    return replace(survey, fittings=tuple(made))


def hostile_survey_and_job():
    """Every text that a person may type holds something nasty."""
    survey, job = a_flat_survey(), a_job()
    fittings = tuple(
        replace(f, name=HOSTILE[i % len(HOSTILE)], id=f"{HOSTILE[i % len(HOSTILE)]}{i}"[:80])
        for i, f in enumerate(survey.fittings)
    )
    boat = replace(job.boat, name=HOSTILE[1], hull_number=HOSTILE[2], owner=HOSTILE[5], place=HOSTILE[3])
    return (
        replace(survey, title=HOSTILE[2], fittings=fittings),
        replace(job, title=HOSTILE[1], boat=boat, date=HOSTILE[3], surveyor=HOSTILE[5], note=HOSTILE[5]),
    )


def a_drawing(survey=None, unit="mm", **more):
    return cutting_drawing(a_flat_survey() if survey is None else survey, a_job(), unit, **more)
