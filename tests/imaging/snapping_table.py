"""
Writes docs/explanation/snapping.md: ``python -m tests.imaging.snapping_table``.

How far snapped lines and corners lie from the truth, how honest their stated u is, and what general image libraries
make of the same edges: on pictures of edges with exact truth and on the sample renders. Takes a minute or two. Further
parts of the page are further entries of `SECTIONS`.
"""

from __future__ import annotations

import json
import platform
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from pathlib import Path
from time import process_time

import cv2
import numpy as np
import skimage
from skimage.feature import corner_subpix
from skimage.measure import profile_line

from digitizer import __version__
from digitizer.imaging.corners import snap_corner, snap_meeting
from digitizer.imaging.lines import LineKind, LineSnap, snap_line
from digitizer.imaging.photo import gray_pixels, rgb_pixels
from tests.imaging.edge_pictures import (
    Layer,
    drawn,
    ellipse,
    gloss,
    half_plane,
    photographed,
    polygon,
    shadow_of,
    string,
)

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "explanation" / "snapping.md"
SIZE = (220, 160)
RUNS = 24
HAND_PX = 2.0
"""Scatter of a rough stroke; a careful click has a third of it."""
CAREFUL_PX = 0.7
CURVE_U = 0.2
"""Spread of the exponent by which cameras bend their tone curve, as far as the sample renders tell."""


@dataclass
class Tally:
    """Errors across and normalised errors of many points, and what became of the strokes."""

    errors: list[float] = field(default_factory=list)
    normalised: list[float] = field(default_factory=list)
    clicks: list[float] = field(default_factory=list)
    nothing: int = 0
    strokes: int = 0

    def add(self, errors: np.ndarray, u: np.ndarray, clicks: np.ndarray) -> None:
        self.errors += list(errors)
        self.normalised += list(errors / u)
        self.clicks += list(clicks)

    @property
    def rms(self) -> float:
        return float(np.sqrt(np.mean(np.square(self.errors)))) if self.errors else float("nan")

    @property
    def z(self) -> float:
        return float(np.sqrt(np.mean(np.square(self.normalised)))) if self.normalised else float("nan")

    @property
    def worse(self) -> float:
        """Share (%) of careful clicks that snapping makes worse by more than half a pixel."""
        snapped, clicked = np.abs(self.errors), np.abs(self.clicks)
        return 100.0 * float(np.mean(snapped > np.maximum(clicked, 0.5))) if len(snapped) else float("nan")

    def row(self, words: str, *more: str) -> str:
        cells = [words, f"{self.rms:.3f}", f"{self.z:.2f}", str(len(self.errors)), f"{self.worse:.1f}"]
        cells += [f"{self.nothing} of {self.strokes}", *more]
        return f"| {' | '.join(cells)} |"


@dataclass(frozen=True)
class Condition:
    """What a picture is like."""

    words: str
    camera: dict[str, object] = field(default_factory=dict)
    dark: float = 80.0
    bright: float = 190.0
    extra: Callable[[np.ndarray, np.ndarray, np.ndarray], list[Layer]] | None = None


def a_shadow(place: np.ndarray, along: np.ndarray, normal: np.ndarray) -> list[Layer]:
    return [shadow_of(half_plane(tuple(place), _turn(along)), tuple(8.0 * normal), 0.4, soft=5.0)]


def a_reflection(place: np.ndarray, along: np.ndarray, normal: np.ndarray) -> list[Layer]:
    bright = half_plane(tuple(place - 9.0 * normal), _turn(along) + np.pi)
    return [gloss(bright, 235.0, 0.4, soft=4.0)]


def some_covers(place: np.ndarray, along: np.ndarray, normal: np.ndarray) -> list[Layer]:
    strap = string(tuple(place - 30 * along - 50 * normal), tuple(place - 22 * along + 50 * normal), 14.0)
    return [Layer(strap, 120.0), Layer(ellipse(tuple(place + 35 * along + 2 * normal), (11, 9)), 200.0)]


CONDITIONS = (
    Condition("ordinary: blur 0.8, noise 3, JPEG 92"),
    Condition("noise 8", {"noise": 8.0}),
    Condition("blur 2.5", {"blur": 2.5}),
    Condition("JPEG 70", {"jpeg": 70}),
    Condition("dark hull (25 on 60)", dark=25.0, bright=60.0),
    Condition("low contrast (170 on 190)", dark=170.0),
    Condition("black on white", dark=12.0, bright=240.0),
    Condition("gaps and fittings on it", extra=some_covers),
    Condition("sun shadow 8 px off", extra=a_shadow),
    Condition("reflection 9 px off", extra=a_reflection),
)
USUAL = {"blur": 0.8, "noise": 3.0, "jpeg": 92}


def _turn(along: np.ndarray) -> float:
    return float(np.arctan2(along[1], along[0]))


def edge_rows() -> Iterator[str]:
    """Edges and strings under all conditions, in this program and by the steepest place of a library's profile."""
    yield "| | rms px | z | points | worse % | nothing found | steepest place, scikit-image, rms px |"
    yield "|---|---|---|---|---|---|---|"
    for kind in (LineKind.EDGE, LineKind.RIDGE):
        for condition in CONDITIONS:
            tally, other = _snapped(kind, condition)
            words = f"{'edge' if kind is LineKind.EDGE else 'string'}, {condition.words}"
            yield tally.row(words, f"{np.sqrt(np.mean(np.square(other))):.3f}")


def _snapped(kind: LineKind, condition: Condition) -> tuple[Tally, list[float]]:
    rng = np.random.default_rng(20)
    tally, other = Tally(), []
    for _ in range(RUNS):
        place, turn = np.array(SIZE) / 2 + rng.uniform(-1, 1, 2), rng.uniform(0, np.pi)
        along, normal = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
        ends = (tuple(place - 300 * along), tuple(place + 300 * along))
        shape = half_plane(tuple(place), turn) if kind is LineKind.EDGE else string(*ends, 2.7)
        layers = [Layer(shape, condition.dark), *(condition.extra(place, along, normal) if condition.extra else [])]
        curve = rng.normal(1.0, CURVE_U)
        picture = drawn(SIZE, layers, condition.bright, optics=0.5)
        gray = photographed(picture, rng, **(USUAL | condition.camera), curve=curve)
        stroke = place + np.linspace(-60, 60, 4)[:, None] * along + rng.normal(0, HAND_PX, (4, 2))
        found = snap_line(gray, stroke, kind=kind)
        tally.strokes += 1
        if not found:
            tally.nothing += 1
            continue
        errors = (found[0].points - place) @ normal
        tally.add(errors, found[0].u, rng.normal(0, CAREFUL_PX, len(errors)))
        other += _steepest(gray, found[0], place, normal, kind)
    return tally, other


def _steepest(gray: np.ndarray, snap: LineSnap, place: np.ndarray, normal: np.ndarray, kind: LineKind) -> list[float]:
    """Errors of the steepest place (edge) or the centroid (string) of scikit-image's profiles at the same points."""
    errors = []
    for point in snap.points[::3]:
        foot = point - ((point - place) @ normal) * normal
        a, b = foot - 5 * normal, foot + 5 * normal
        values = profile_line(gray, a[::-1], b[::-1], linewidth=3, order=1, mode="nearest")
        x = np.linspace(-5, 5, len(values))
        weight = np.abs(np.gradient(values)) if kind is LineKind.EDGE else np.abs(values - np.median(values))
        peak = int(np.argmax(weight))
        near = slice(max(peak - 2, 0), peak + 3)
        errors.append(float(np.average(x[near], weights=weight[near] + 1e-9)))
    return errors


def corner_rows() -> Iterator[str]:
    """Corners of plates and keels against OpenCV's and scikit-image's corner functions."""
    yield "| | rms px | z | corners | nothing found | OpenCV cornerSubPix | scikit-image corner_subpix |"
    yield "|---|---|---|---|---|---|---|"
    for words, deadrise in (("plate, 90°", np.pi / 4), ("keel, deadrise 20°", 0.35), ("keel, deadrise 10°", 0.175)):
        yield _corner_row(words, deadrise)


def _corner_row(words: str, deadrise: float) -> str:
    rng = np.random.default_rng(21)
    ours, z, theirs, scikit, nothing = [], [], [], [], 0
    for _ in range(30):
        tip = np.array([110.0, 90.0]) + rng.uniform(-1, 1, 2)
        arms = [np.array([side * np.cos(deadrise), -np.sin(deadrise)]) for side in (1, -1)]
        wedge = polygon([tuple(tip), *(tuple(tip + 300 * arm) for arm in arms)])
        gray = photographed(drawn(SIZE, [Layer(wedge, 80.0)], 190.0), rng, **USUAL, curve=rng.normal(1.0, CURVE_U))
        click = tip + rng.normal(0, 1.5, 2)
        found = snap_corner(gray, click)
        theirs.append(_opencv_corner(gray, click) - tip)
        scikit.append(corner_subpix(gray.astype(float), np.rint(click[None, ::-1]), window_size=13)[0, ::-1] - tip)
        if not found:
            nothing += 1
            continue
        away = found[0].point - tip
        ours.append(away)
        z.append(float(away @ np.linalg.solve(found[0].covariance, away)) / 2)
    return (
        f"| {words} | {_rms(ours):.3f} | {np.sqrt(np.mean(z)):.2f} | {len(ours)} | {nothing} of 30 "
        f"| {_rms(theirs):.3f} | {_rms(scikit):.3f} |"
    )


def _rms(values) -> float:
    return float(np.sqrt(np.nanmean(np.square(values)))) if len(values) else float("nan")


def _opencv_corner(gray: np.ndarray, click: np.ndarray) -> np.ndarray:
    start = click.astype(np.float32).reshape(1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 0.001)
    return cv2.cornerSubPix(gray, start, (6, 6), (-1, -1), stop).reshape(2).astype(float)


@dataclass(frozen=True)
class Sample:
    """One rendered photo with its truth."""

    name: str
    truth: dict
    photo: dict
    gray: np.ndarray
    rgb: np.ndarray

    @property
    def maps(self):
        c = self.photo["camera"]
        K = np.array([[c["fx"], 0, c["cx"]], [0, c["fy"], c["cy"]], [0, 0, 1.0]])
        D = np.array([c[k] for k in ("k1", "k2", "p1", "p2")])

        def back(q: np.ndarray) -> np.ndarray:
            rays = np.column_stack([(q - K[:2, 2]) / [K[0, 0], K[1, 1]], np.ones(len(q))])
            return cv2.projectPoints(rays.reshape(-1, 1, 3), np.zeros(3), np.zeros(3), K, D)[0].reshape(-1, 2)

        return lambda p: cv2.undistortPoints(p.reshape(-1, 1, 2), K, D, None, K).reshape(-1, 2), back

    def point(self, name: str) -> np.ndarray:
        return np.array(self.photo["pixels"]["points"][name]["uv"])

    def outline(self, first: str, last: str) -> np.ndarray:
        """Pixels of the outline from one named point to another, the shorter way round."""
        outline = np.array(self.truth["outline"])
        i, j = (int(np.argmin(np.linalg.norm(outline - self.truth["points"][n], axis=1))) for n in (first, last))
        count = len(outline)
        steps = (j - i + count // 2) % count - count // 2
        return np.array(self.photo["pixels"]["outline"]["uv"])[(i + np.arange(abs(steps) + 1) * np.sign(steps)) % count]

    def straight(self, first: str, last: str) -> np.ndarray:
        """Pixels along what is straight in space between two named points, bent by the lens."""
        there, back = self.maps
        a, b = there(np.array([self.point(first), self.point(last)]))
        return back(a + np.linspace(0, 1, 60)[:, None] * (b - a))

    @property
    def mm_per_px(self) -> float:
        a, b = ("chine_outer_port", "chine_outer_stbd")
        wide = np.linalg.norm(np.subtract(self.truth["points"][a], self.truth["points"][b]))
        return float(wide / np.hypot(*(self.point(a) - self.point(b))))


@cache
def samples() -> tuple[Sample, ...]:
    found = []
    for folder in ("flat_square_on", "flat_oblique_wide", "tape_only", "bowed_three", "padded_two"):
        truth = json.loads((ROOT / "sample_images" / folder / "truth.json").read_text(encoding="utf-8"))
        for photo in truth["photos"]:
            data = (ROOT / "sample_images" / folder / photo["file"]).read_bytes()
            name = f"{folder} {photo['file'][6]}"
            found.append(Sample(name, truth, photo, gray_pixels(data, name), rgb_pixels(data, name)))
    return tuple(found)


def sample_rows() -> Iterator[str]:
    """Strings, rule edges and bottom edges of the renders, from truth with a hand's scatter."""
    yield "| photo | line | rms px | mean px (mm) | scatter px | u px | support | nothing found |"
    yield "|---|---|---|---|---|---|---|---|"
    for sample in samples():
        for words, kind, truth in _lines(sample):
            yield _sample_row(sample, words, kind, truth)


def _lines(sample: Sample) -> Iterator[tuple[str, LineKind, np.ndarray]]:
    if "reference_line" in sample.photo["pixels"]:
        what = {"string": "string", "bluetape": "tape"}[sample.truth["reference_line"]["kind"]]
        line = np.array(sample.photo["pixels"]["reference_line"]["uv"])
        yield f"{what} in grey", LineKind.RIDGE, line
        yield f"{what} in colour", LineKind.RIDGE, line
    if "rule_start_inner" in sample.photo["pixels"]["points"]:
        for side in ("inner", "outer"):
            yield (
                f"rule, {side} edge in colour",
                LineKind.EDGE,
                sample.straight(f"rule_start_{side}", f"rule_end_{side}"),
            )
    if not sample.name.startswith(("bowed", "flat_profile")):
        for side in ("port", "stbd"):
            yield f"bottom edge {side} in colour", LineKind.EDGE, sample.outline("keel", f"chine_inner_{side}")


def _sample_row(sample: Sample, words: str, kind: LineKind, truth: np.ndarray) -> str:
    tally, means, scatter, support = Tally(), [], [], []
    at = np.linspace(0.03, 0.97, 6) * (len(truth) - 1)
    exact = np.column_stack([np.interp(at, np.arange(len(truth)), truth[:, axis]) for axis in (0, 1)])
    maps = None if "bowed" in sample.name else sample.maps
    u: list[float] = []
    for seed in range(6):
        stroke = exact + np.random.default_rng(seed).normal(0, HAND_PX, exact.shape)
        colours = sample.rgb if "colour" in words else None
        found = snap_line(sample.gray, stroke, colours=colours, kind=kind, straighten=maps)
        tally.strokes += 1
        if not found:
            tally.nothing += 1
            continue
        errors = _across(found[0].points, truth)
        tally.add(errors, found[0].u, np.zeros(len(errors)))
        means.append(errors.mean())
        scatter.append(errors.std())
        support.append(found[0].support)
        u += list(found[0].u)
    if not means:
        return f"| {sample.name} | {words} | | | | | | {tally.nothing} of {tally.strokes} |"
    mean = float(np.median(means))
    return (
        f"| {sample.name} | {words} | {tally.rms:.2f} | {mean:+.2f} ({mean * sample.mm_per_px:+.1f}) "
        f"| {np.median(scatter):.2f} | {np.median(u):.2f} | {np.median(support):.2f} "
        f"| {tally.nothing} of {tally.strokes} |"
    )


def _across(points: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Signed distances of points from a polyline, px, positive to the right of its direction (y down)."""
    nearest = np.full(len(points), np.inf)
    for a, b in pairwise(line):
        length = float(np.hypot(*(b - a)))
        if length == 0.0:
            continue
        along = (b - a) / length
        s, d = (points - a) @ along, (points - a) @ [-along[1], along[0]]
        nearest = np.where((s >= -1) & (s <= length + 1) & (np.abs(d) < np.abs(nearest)), d, nearest)
    return nearest


def sample_corner_rows() -> Iterator[str]:
    """Keel points of the renders from their two bottom edges."""
    yield "| photo | keel: found − truth px (mm) | u along x, y px |"
    yield "|---|---|---|"
    for sample in samples():
        if sample.photo["pixels"]["points"]["keel"]["vis"] == 0:
            continue
        rng = np.random.default_rng(5)
        strokes = []
        for side in ("port", "stbd"):
            line = sample.outline("keel", f"chine_inner_{side}")
            at = np.linspace(0.04, 0.5, 5) * (len(line) - 1)
            exact = np.column_stack([np.interp(at, np.arange(len(line)), line[:, axis]) for axis in (0, 1)])
            strokes.append(exact + rng.normal(0, HAND_PX, exact.shape))
        corner = snap_meeting(sample.gray, *strokes, kind=LineKind.EDGE)
        if not corner:
            yield f"| {sample.name} | {corner.reason} | |"
            continue
        x, y = corner.point - sample.point("keel")
        ux, uy = np.sqrt(np.diag(corner.covariance))
        mm = sample.mm_per_px
        yield f"| {sample.name} | {x:+.2f}, {y:+.2f} ({x * mm:+.1f}, {y * mm:+.1f}) | {ux:.2f}, {uy:.2f} |"


def speed_rows() -> Iterator[str]:
    """Processor time of one snap in a photo of 12 megapixels."""
    sample = samples()[0]
    line = np.array(sample.photo["pixels"]["reference_line"]["uv"])
    yield "| | milliseconds of processor time, median of 15 |"
    yield "|---|---|"
    for words, length, colours in (
        ("60 px", 60, None),
        ("150 px", 150, None),
        ("1500 px", 1500, None),
        ("1500 px with colours", 1500, sample.rgb),
    ):
        along = (line[-1] - line[0]) / np.hypot(*(line[-1] - line[0]))
        stroke = line[3] + np.linspace(0, length, 4)[:, None] * along
        took = _time(lambda s=stroke, c=colours: snap_line(sample.gray, s, colours=c, kind=LineKind.RIDGE))
        yield f"| string, stroke of {words} | {took:.1f} |"
    corner = sample.point("corner_low_stbd")
    yield f"| corner from a click | {_time(lambda: snap_corner(sample.gray, corner)):.1f} |"


def _time(call: Callable[[], object]) -> float:
    times = []
    for _ in range(15):
        began = process_time()
        call()
        times.append(process_time() - began)
    return 1e3 * float(np.median(times))


@dataclass(frozen=True)
class Section:
    """A part of the page: heading, what is to be known, and the rows of its table."""

    heading: str
    text: str
    rows: Callable[[], Iterator[str]]


SECTIONS = (
    Section(
        "Edges and strings of known place",
        f"""{RUNS} pictures a row in random directions, the stroke off by {HAND_PX:g} px, the camera's tone curve bent by an exponent of 1 ± {CURVE_U:g}.
z is the root mean square of error over stated u: 1 where u is honest, less where it is cautious.
The tone curve moves a whole edge at once, so a row of edges holds {RUNS} independent errors of that kind, not 700; and its share in u was set to match the spread assumed here, which comes from the renders, so that z near 1 checks the arithmetic and not any real camera.
"Worse" is the share of careful clicks (scatter {CAREFUL_PX:g} px) from which snapping leads farther away, by more than half a pixel from the truth.
The last column is what the steepest place of scikit-image's `profile_line` (for strings the centroid), averaged over three pixels, makes of the same places, started from the truth.""",  # noqa: E501
        edge_rows,
    ),
    Section(
        "Corners of known place",
        """A click 1.5 px off, noise 3, JPEG 92.
z compares with the stated covariance; errors are those of one coordinate.
OpenCV and scikit-image look at the corner itself, in a window of 13 px.""",
        corner_rows,
    ),
    Section(
        "Lines of the sample renders",
        """Strokes are the truth with 2 px of scatter, six of them; the lens is the true one (for the bowed transom, whose lines are not straight, none).
The truth of a bottom edge is the sharp edge, and the render's is rounded by 2 to 6 mm: the mean offset may come from that and then belongs to the uncertainty of the definition, but the causes were not taken apart.
The truth of a rule's edge is its upper rim; a pale rule on pale gelcoat (the outer edge, which the light falls on) has hardly any contrast, and u says so.
Positive is to the right looking from port to starboard, or from the keel outwards, with y down.""",  # noqa: E501
        sample_rows,
    ),
    Section(
        "Keel points of the sample renders",
        "From strokes along the inner halves of the two bottom edges, in grey, without the lens.",
        sample_corner_rows,
    ),
    Section(
        "A whole job",
        """`digitizer snap` and `--snap` move marks only where one edge answers to them; otherwise they stay as clicked, and that is said.
Lines and bottom edges: across the edge; each mark's place along it is kept.
Keel: to the meeting of the two bottom edges, with no better u than the click's.
Rims: replaced by points round the rim, when the clicks lie on the ellipse that was found.
Rectangles: to the meetings of their sides.
Outline and top edge: across the traced edge, away from corners.
Chines, top corners and the ends of rules stay as clicked: a chine is rounded, and the corner of its edges lay 1 to 2 px inboard of it on the renders.
What that does to the dimensions of the samples stands under [accuracy](accuracy.md#the-sample-photos).
Fittings and outlines are measured on [a page of their own](snapping-fittings.md).""",  # noqa: E501
        lambda: iter(()),
    ),
    Section(
        "What is weak",
        """- Edges blurred by more than 2 px: the tone curve's effect grows with the blur, and u comes out too small by a half.
- Bottom edges in front of something equally bright, and pale rules on pale gelcoat: u is large and sometimes the wrong one of two edges scores best; look at the others that are offered.
- Strings in grey lie on their own shadow; give the colours.
- Keel points of the renders lie up to 2 mm from the sharp one several times their stated u. The cause was not traced; the rounded hull, the roller behind it and the weak grey contrast there are candidates. Don't take that u for the keel's.
- A tape or string on a bowed transom is no straight line in any one photo; the stroke must follow it with five places or more.
- u_common is an estimate of what cameras do, not a measurement of one camera.""",  # noqa: E501
        lambda: iter(()),
    ),
    Section("Time", "On the machine that wrote this page, which did other work at the same time.", speed_rows),
)

INTRODUCTION = f"""# Snapped marks: what was measured

A rough stroke becomes points on the line it means, to a fraction of a pixel and with a stated u.
Every number on this page was computed by `python -m tests.imaging.snapping_table` with version {__version__} (Python {platform.python_version()}, NumPy {np.__version__}, OpenCV {cv2.__version__}, scikit-image {skimage.__version__}); run it again to check.
The pictures are drawn or rendered, so that the truth is exact; they are not photographs of boats.

## How it works

Profiles across the stroke give candidates: places where the brightness changes more steeply than the noise explains.
The candidates vote for lines; up to six lines are followed, and lines closer than their blur are fitted together.
Along each, means of a few profiles are fitted by steps blurred by a Gaussian, one for an edge, two for a string; places that don't agree with the line (fittings, straps, gaps) are left out.

Blur mixes light and not grey levels: between black and white paper the middle of the grey levels lies a third of a pixel to the dark side of the edge.
So the model is made in light and its grey levels are compared with the photo, by the tone curve of sRGB.
Cameras bend that curve; a fifth in its exponent is taken as u, and the same for all points of a line, since averaging does not lessen it.
The middle of a string is free of it.

The u of a point holds the noise seen in its profile, raised where the points scatter more about their line, and what all points share: the tone curve, clipping and 0.02 px that sampling leaves.

A string lies on its own shadow, and in grey the two run together: it then seems to lie up to a pixel too low, and nothing in the grey picture tells.
In colour it does: the combination of colours that vanishes on the gelcoat vanishes in its shadow too, and a coloured string stands out of both.
A white string on white gelcoat has no such help; use a coloured one.

Where edges compete all are returned, each with a score made of how much of the stroke it follows, contrast, sharpness (shadows are soft) and nearness.
"""  # noqa: E501


def page() -> str:
    parts = [INTRODUCTION]
    for section in SECTIONS:
        print(section.heading, flush=True)
        table = "\n".join(section.rows())
        print(table, flush=True)
        parts.append("\n\n".join(filter(None, (f"## {section.heading}", section.text, table))) + "\n")
    return "\n".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
