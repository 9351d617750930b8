"""
What a measurement leaves: dimensions with their uncertainty, fittings, observations, findings.

Plain frozen records. Lengths mm, angles degrees, image positions px; transom frame T: origin at the keel
point, x to starboard parallel to the reference line, y up along the face, z aft. ``u`` is a standard
uncertainty; reports print U = 2u.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Quantity(StrEnum):
    """What kind of number a dimension is, and so its unit."""

    LENGTH = "length"
    ANGLE = "angle"
    AREA = "area"


@dataclass(frozen=True)
class Contribution:
    """One line of an uncertainty budget."""

    source: str
    """Such as "clicks on the photo", "lens", "target scale", "rule", "definition of the chine"."""
    u: float
    """Standard uncertainty from this source alone, in the dimension's unit."""
    share: float
    """Its part of the variance, 0 to 1."""


@dataclass(frozen=True)
class Dimension:
    """A dimension with its uncertainty."""

    code: str
    """Stable name, such as ``deadrise_chord_port``; see docs/reference/dimensions.md."""
    label: str
    """For people: "Deadrise port, keel to chine"."""
    group: str
    """Heading it stands under: "Deadrise", "Widths", "Heights", "Edges", "Shape", "Fittings", "Checks"."""
    quantity: Quantity
    value: float
    u: float
    lower: float
    """95 % interval; symmetrical unless the first-order rule does not hold here."""
    upper: float
    made_from: tuple[str, ...]
    """Ids of the points it was made from."""
    budget: tuple[Contribution, ...]
    note: str = ""

    @property
    def U(self) -> float:
        """Expanded uncertainty, k = 2."""
        return 2.0 * self.u


@dataclass(frozen=True)
class SurveyPoint:
    """A marked point on the transom, in the transom frame."""

    id: str
    kind: str
    side: str | None
    x: float
    y: float
    z: float
    u_x: float
    u_y: float
    of: str | None = None
    """Id of what it is a mark of, such as its pad or its fitting."""


@dataclass(frozen=True)
class FittingResult:
    """Where a fitting sits and how large it is."""

    id: str
    name: str
    kind: str
    shape: str
    plan: str
    x: Dimension
    """From the centreline, starboard positive."""
    below_reference: Dimension | None
    """Down from the reference line; none without one."""
    y: Dimension
    """Up along the face from the keel point."""
    diameter: Dimension | None
    width: Dimension | None
    height: Dimension | None
    proud_mm: float
    u_proud_mm: float
    nearest: str | None
    """Id of the nearest other fitting."""
    clearance: Dimension | None
    """Rim to rim with the nearest."""
    roll_rad: float = 0.0
    """Turn of a rectangle against the reference line, anticlockwise."""
    girth: Dimension | None = None
    """From the centreline along a bowed surface; none on a flat face, where it is `x`."""


@dataclass(frozen=True)
class DefectResult:
    """A crack or a damaged area: where it is and how large."""

    id: str
    name: str
    kind: str
    priority: str
    note: str
    closed: bool
    """An area, marked all round; false: a crack, marked from end to end."""
    place: tuple[tuple[float, float], ...]
    """Its points in order, mm from the centreline along the surface and up the face."""
    photos: tuple[str, ...]
    """Photos in which it is marked."""
    close_ups: tuple[str, ...]
    size: Dimension
    """Length of a crack along its marks, or area of an outline."""
    perimeter: Dimension | None
    x: Dimension
    """Middle of its extents from the centreline, along the surface, starboard positive."""
    y: Dimension
    """Middle of its extents up from the keel point."""
    below_reference: Dimension | None
    width: Dimension
    """Extent across, along the surface."""
    height: Dimension
    """Extent up and down."""


@dataclass(frozen=True)
class PlaceReading:
    """What a meter showed, or a tap sounded like, at a place."""

    id: str
    point: str
    x: float
    """mm from the centreline along the surface, starboard positive."""
    y: float
    """mm up from the keel point."""
    U_place: float
    """Expanded uncertainty of the place, the larger of across and up, mm."""
    note: str
    meter: str | None = None
    value: float | None = None
    """On the meter's own scale."""
    sound: str | None = None


@dataclass(frozen=True)
class CloseUp:
    """A photo of a detail, and the scale that it brings with it."""

    id: str
    file: str
    sha256: str
    width_px: int
    height_px: int
    captured: str | None
    device: str | None
    mm_per_px: float | None
    """At its scale, for what lies beside that and square to the view; none without a scale."""
    u_mm_per_px: float
    scale: str
    """What gives its scale, in words."""


class ObservationState(StrEnum):
    """What became of an observation."""

    USED = "used"
    REJECTED = "rejected"
    KEPT_OUT = "kept out"


@dataclass(frozen=True)
class ObservationResult:
    """One observation after the adjustment."""

    label: str
    """For people: "rule 1500 mm", "mark chine port"."""
    subject: str
    """Id of the record it comes from."""
    kind: str
    unit: str
    observed: float | None
    residual: float
    """Adjusted − observed, in `unit`."""
    u: float
    redundancy: float
    w: float | None
    """Standardised residual; none where nothing checks it."""
    minimal_detectable_error: float | None
    state: ObservationState
    photo: str | None = None


class Severity(StrEnum):
    """How loudly a finding speaks."""

    NOTE = "note"
    WARNING = "warning"
    SERIOUS = "serious"


@dataclass(frozen=True)
class Finding:
    """Something the reader should know, in words, with what to do."""

    code: str
    severity: Severity
    subject: str
    text: str


@dataclass(frozen=True)
class Improvement:
    """A further observation, and what it would do for the figure that gains most."""

    text: str
    """What to add: "a tape figure across the chines (± 2 mm)"."""
    label: str
    """The dimension that gains most."""
    quantity: Quantity
    U: float
    U_after: float


@dataclass(frozen=True)
class TapeCheck:
    """A tape figure that was kept out, against the photo."""

    id: str
    label: str
    tape: float
    U_tape: float
    photo: float
    U_photo: float
    quantity: Quantity
    en: float
    agrees: bool


@dataclass(frozen=True)
class PhotoResult:
    """How one photo was taken, by the adjustment."""

    id: str
    file: str
    sha256: str
    width_px: int
    height_px: int
    captured: str | None
    device: str | None
    f_px: float
    u_f_px: float
    k1: float
    u_k1: float
    distance_mm: float
    """From the camera to the keel point."""
    off_square_deg: float
    """Angle between the view and the perpendicular of the face."""
    sample_distance_mm: float
    """Millimetres per pixel at the middle of the transom."""
    lens_source: str
    camera_matrix: tuple[float, ...]
    """f, cx, cy, k1, k2, p1, p2, k3 as adjusted."""
    rotation: tuple[float, ...]
    """Rows of the rotation from the transom frame to the camera."""
    translation: tuple[float, ...]
    """mm."""


@dataclass(frozen=True)
class Adjustment:
    """The adjustment as a whole."""

    observations: int
    parameters: int
    redundancy: float
    weighted_square_sum: float
    variance_factor: float
    test_lower: float
    test_upper: float
    accepted: bool
    """The global test: the weighted square sum is not above its 95 % band; below it, all agree better than promised."""
    scaled_by: float
    """Factor by which u was multiplied because the test failed; 1 when it passed."""
    iterations: int


class OffsetLine(StrEnum):
    """What an offset is of."""

    BOTTOM = "bottom"
    """Height of the bottom edge at a distance from the centreline."""
    TOP = "top"
    """Height of the top edge at a distance from the centreline."""
    HALF_BREADTH = "half_breadth"
    """Distance of the outline from the centreline at a height."""


@dataclass(frozen=True)
class Offset:
    """One entry of the offset table, in the face, rolled flat where it is bowed."""

    line: OffsetLine
    side: str
    station: float
    """Distance from the centreline of a height, or height above the keel point of a half-breadth; mm."""
    value: Dimension


@dataclass(frozen=True)
class OutlineEdge:
    """A part of the outline as it would be cut: in the face, rolled flat where it is bowed."""

    name: str
    """ "bottom edge", "side" or "top edge"."""
    points: tuple[tuple[float, float], ...]
    """Girth from the centreline and height above the keel point, mm, with the boat's inside on the left."""


class FlangeVerdict(StrEnum):
    """How a fitting stands to the planned flange."""

    INSIDE = "inside"
    """The flange covers it or a part of it."""
    WITHIN_MARGIN = "within margin"
    CLEAR = "clear"
    NOT_DECIDED = "not decided"
    """The limit lies within U of its clearance."""


@dataclass(frozen=True)
class FlangeFitting:
    """One fitting and the flange."""

    fitting: str
    name: str
    clearance: Dimension
    """From the flange's edge to the rim; negative by how far the rim reaches in."""
    verdict: FlangeVerdict
    between: tuple[FlangeVerdict, ...]
    """Where it is not decided: what it may be."""
    wholly: bool
    """The flange covers all of it."""
    plan: str
    """What the job says is to become of it."""
    outcome: str
    """What becomes of it: stays, moves, worked around; undecided where the figures don't decide."""


@dataclass(frozen=True)
class FlangeStation:
    """The gap under the flange at one place."""

    x_mm: float
    gap: Dimension
    """Lower edge of the flange above the bottom edge of the hull, up along the face."""


@dataclass(frozen=True)
class FlangePad:
    """How the flange sits on a pad."""

    pad: str
    place: str
    """``inside``, ``astride``, ``outside`` or ``not decided``."""
    distance: Dimension
    """Between their edges; negative where they cross, by how far."""


@dataclass(frozen=True)
class FlangeCrossing:
    """A strake or chine flat and the flange's width."""

    name: str
    inside: Dimension
    """How far it reaches in under the flange's width; negative where it stays beside it."""
    decided: bool


@dataclass(frozen=True)
class FlangeSize:
    """A flange that is clear of everything, in round figures, mm."""

    width_mm: float
    height_mm: float
    top_mm: float
    """Height of its upper edge above the keel point."""


@dataclass(frozen=True)
class FlangeShift:
    """A shift that clears everything, mm: to starboard and up positive."""

    across_mm: float
    up_mm: float


@dataclass(frozen=True)
class FlangeFit:
    """The planned mounting flange laid on the transom; on a bowed face everything is along its surface."""

    width_mm: float
    height_mm: float
    top_mm: float
    """Height of its upper edge above the keel point."""
    deadrise_deg: float
    """Of its lower edge, in the face; 0 where it is flat."""
    margin_mm: float
    outline: tuple[tuple[float, float], ...]
    """Its edge, anticlockwise, mm; not closed."""
    margin_line: tuple[tuple[float, float], ...]
    """The line all round it at its margin, mm; not closed."""
    bolts: tuple[tuple[float, float], ...]
    """Middles of its holes, mm."""
    bolt_hole_mm: float
    fittings: tuple[FlangeFitting, ...]
    stations: tuple[FlangeStation, ...]
    deadrise_differences: tuple[Dimension, ...]
    """Hull minus flange over its width, by side."""
    pads: tuple[FlangePad, ...]
    crossings: tuple[FlangeCrossing, ...]
    to_bottom: Dimension | None
    """Least distance to the bottom edge; negative where they cross."""
    to_outline: Dimension | None
    """Least distance to the rest of the marked outline."""
    stand_off: Dimension | None
    """How far a flat flange stands off a bowed face at its sides; negative where it stands off in its middle."""
    shift: FlangeShift | None
    shift_up: FlangeShift | None
    shift_across: FlangeShift | None
    largest: FlangeSize | None
    tallest: FlangeSize | None
    """Of the planned width."""
    widest: FlangeSize | None
    """Of the planned height."""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class PatternStation:
    """The pattern against the measured outline at one place of it."""

    place: str
    """In words: "bottom edge, 300 mm to port", "starboard chine"."""
    edge: str
    """The part of the outline: "bottom edge", "side" or "top edge"."""
    x: float
    y: float
    """On the measured outline, mm; along the surface where girths are compared."""
    outward: tuple[float, float]
    """Unit vector away from the boat's inside, along which the difference is taken."""
    difference: Dimension
    """Pattern − measured outline, mm: positive where the pattern stands outside it."""

    @property
    def en(self) -> float:
        """Difference over its U: beyond ±1 it is more than both uncertainties explain."""
        return self.difference.value / self.difference.U if self.difference.U > 0.0 else 0.0


@dataclass(frozen=True)
class PatternSpan:
    """The two alignment marks farthest apart: their distance on the pattern and on the transom."""

    ends: tuple[str, str]
    """Points of the transom at which they were made."""
    on_pattern: float
    on_transom: float
    """mm; along the surface where girths are compared."""
    difference: Dimension
    """Pattern − transom."""


@dataclass(frozen=True)
class PatternResult:
    """A pattern laid on the measured outline."""

    id: str
    photo: str
    file: str
    sha256: str
    part: str
    mirrored: bool
    """The face that lay against the transom was up in its photo, so it was turned over."""
    taken: str
    """ "girth": bent round the face; "chord": kept flat, seen square to it; "flat": the face is flat."""
    aligned_by: str
    """ "marks" or "best fit"."""
    scale: str
    """What gives its photo's scale, in words."""
    edge: tuple[tuple[float, float], ...]
    """Its traced edge laid on the transom, mm, in the plane that is cut from (rolled flat where the face is bowed)."""
    U_edge: tuple[float, ...]
    """At each of these points, the expanded uncertainty square to the edge: pattern and its lie together, mm."""
    closed: bool
    stations: tuple[PatternStation, ...]
    largest: Dimension
    """The largest difference, by its amount; drawn by Monte Carlo, for it can't be less than nothing."""
    span: PatternSpan | None
    """None with fewer than two marks made at points of the transom."""
    rms_mm: float
    """Root mean square of the differences."""
    rms_fit_mm: float
    """The same after a best fit to the edge without regard to its marks."""
    beyond_chance: float
    """Differences this many times their u are not to be expected anywhere along the edge (95 %)."""


@dataclass(frozen=True)
class PlanningLine:
    """One line of the planning figures, in words."""

    label: str
    value: str
    note: str = ""
    caution: bool = False
    """What is planned goes beyond what was stated or measured."""


@dataclass(frozen=True)
class Survey:
    """The whole answer for one job."""

    program_version: str
    title: str
    dimensions: tuple[Dimension, ...]
    fittings: tuple[FittingResult, ...]
    points: tuple[SurveyPoint, ...]
    outline: tuple[tuple[float, float], ...]
    """The marked outline in the face, mm, in order round it; open where it was not marked."""
    reference_line: tuple[tuple[float, float], tuple[float, float]] | None
    """Its two ends in the face, mm."""
    observations: tuple[ObservationResult, ...]
    checks: tuple[TapeCheck, ...]
    findings: tuple[Finding, ...]
    photos: tuple[PhotoResult, ...]
    adjustment: Adjustment
    coverage_factor: float = 2.0
    defects: tuple[DefectResult, ...] = ()
    readings: tuple[PlaceReading, ...] = ()
    """Of moisture meters and of the sounding hammer."""
    close_ups: tuple[CloseUp, ...] = ()
    place_covariance: tuple[tuple[float, ...], ...] = ()
    """Of x, y, x, y … of the fittings in their order, mm²: for comparing two surveys; not in the data files."""
    improvements: tuple[Improvement, ...] = ()
    """Observations that could be added, each tried by itself, the most helpful first."""
    curvature_per_mm: float = 0.0
    """Of the face about the axis through the keel point; 0 for a flat one. Positive when it bulges aft."""
    edges: tuple[OutlineEdge, ...] = ()
    """The outline as it would be cut, in order round it; open where it was not marked."""
    offsets: tuple[Offset, ...] = ()
    flange: FlangeFit | None = None
    planning: tuple[PlanningLine, ...] = ()
    patterns: tuple[PatternResult, ...] = ()
