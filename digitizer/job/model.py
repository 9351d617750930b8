"""
What the surveyor recorded: photos, marks, known lengths, settings.

Plain frozen records, nothing that computes. Lengths are mm, angles degrees and image positions px, as
they stand in the file; `docs/reference/job-file.md` explains each field to the person who writes one by
hand. Fields named ``u_…`` are standard uncertainties (one sigma). Every observation has ``active``: false
keeps the record and leaves it out of the adjustment.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated

from annotated_types import Ge, Gt, Interval, Len

FORMAT_VERSION = 1

Id = Annotated[str, Len(1, 80)]
Text = Annotated[str, Len(0, 4000)]
Positive = Annotated[float, Interval(gt=0, le=1e6)]
NotNegative = Annotated[float, Interval(ge=0, le=1e6)]
Pixels = Annotated[float, Interval(ge=-1e6, le=1e6)]
Uncertainty = Annotated[float, Interval(ge=1e-6, le=1e6)]
"""A standard uncertainty that weighs an observation: never so small that it silences all others."""
StationStep = Annotated[float, Interval(ge=10, le=1e5)]
"""Never so small that an offset table fills a book."""
Degrees = Annotated[float, Interval(ge=-180, le=180)]


class MarkKind(StrEnum):
    """What a mark is, in the words of the trade."""

    REFERENCE_LINE = "reference_line"
    KEEL = "keel"
    CHINE = "chine"
    CHINE_INNER = "chine_inner"
    BOTTOM_EDGE = "bottom_edge"
    OUTLINE = "outline"
    TOP_EDGE = "top_edge"
    TOP_CORNER = "top_corner"
    RIM = "rim"
    FITTING_CENTRE = "fitting_centre"
    FITTING_CORNER = "fitting_corner"
    LENGTH_END = "length_end"
    RECTANGLE_CORNER = "rectangle_corner"
    LINE_POINT = "line_point"
    PLUMB_LINE = "plumb_line"
    KEEL_LINE = "keel_line"
    FACE_LINE = "face_line"
    WATERLINE = "waterline"
    PAD = "pad"
    CRACK = "crack"
    AREA = "area"
    GRID = "grid"
    STRAKE = "strake"


class Side(StrEnum):
    """Port and starboard as seen from astern: starboard is on the right."""

    PORT = "port"
    STARBOARD = "starboard"
    CENTRE = "centre"


class PhotoKind(StrEnum):
    """What a photo is for."""

    MEASURED = "measured"
    CLOSE_UP = "close_up"
    """Shows a detail: kept as a record with its own scale, and no part of the adjustment."""
    PATTERN = "pattern"
    """Shows a pattern laid flat: an adjustment of its own, and no part of the boat's."""


@dataclass(frozen=True)
class Photo:
    """One photograph; the file itself is never altered."""

    id: Id
    file: Annotated[str, Len(1, 400)]
    sha256: Annotated[str, Len(64, 64)] | None = None
    width_px: Annotated[int, Interval(ge=1, le=100_000)] | None = None
    height_px: Annotated[int, Interval(ge=1, le=100_000)] | None = None
    camera: Id = "camera"
    captured: str | None = None
    device: str | None = None
    cropped: bool = False
    """The picture was cropped, so the lens axis need not be near its middle."""
    u_square_deg: Annotated[float, Interval(gt=0, le=45)] | None = None
    """Set when the photo is declared taken roughly square to the transom: the standard uncertainty of that."""
    kind: PhotoKind = PhotoKind.MEASURED
    active: bool = True
    note: Text = ""


@dataclass(frozen=True)
class Calibration:
    """A lens known beforehand (OpenCV's pinhole and k1, k2, p1, p2, k3), each value with its u; px."""

    width_px: Annotated[int, Gt(0)]
    height_px: Annotated[int, Gt(0)]
    f_px: Positive
    u_f_px: Uncertainty
    cx_px: Pixels
    cy_px: Pixels
    u_c_px: Uncertainty
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    k3: float = 0.0
    u_k1: Uncertainty = 0.005
    u_k2: Uncertainty = 0.01
    u_p: Uncertainty = 0.0002
    u_k3: NotNegative = 0.0
    u_refocus: NotNegative = 0.0
    """Relative u of f at another focus than it was made at; above 0, middle and distortion are widened as well."""
    source: Text = ""
    """Where it comes from: when it was made, from how many photos."""


@dataclass(frozen=True)
class Camera:
    """The device and focal length that one or more photos share."""

    id: Id
    calibration: Calibration | None = None
    note: Text = ""


@dataclass(frozen=True)
class Mark:
    """
    A place in a photo that somebody pointed at.

    `point` names the place on the boat: marks in several photos with one `point` are the same place.
    Left out, the mark's own id is its point. `of` names the line, fitting, rectangle or pattern it belongs to.
    """

    id: Id
    photo: Id
    kind: MarkKind
    x_px: Pixels
    y_px: Pixels
    u_px: Uncertainty = 0.7
    side: Side | None = None
    point: Id | None = None
    of: Id | None = None
    u_definition_mm: NotNegative | None = None
    """How well the thing itself is defined on the boat; left out, the usual value of its kind."""
    height_mm: float | None = None
    """Height above the transom's face (a rule's thickness, a string's half width); left out, by kind."""
    u_height_mm: NotNegative | None = None
    on: Id | None = None
    """The pad it lies on, for marks other than the pad's own outline; its fitting's pad is taken where left out."""
    active: bool = True
    note: Text = ""


class LineKind(StrEnum):
    """What makes a line straight."""

    STRING = "string"
    STRAIGHTEDGE = "straightedge"
    EDGE = "edge"
    TOP_EDGE = "top_edge"
    """The boat's own top edge: usually crowned, so not a good reference line."""


@dataclass(frozen=True)
class StraightLine:
    """A line on the transom known to be straight; its marks name it in `of`. One of them is the reference line."""

    id: Id
    kind: LineKind = LineKind.STRING
    reference: bool = False
    u_straight_mm: Uncertainty = 0.5
    active: bool = True
    note: Text = ""


class Path(StrEnum):
    """How a length was taken: straight through (chord) or along the surface (girth)."""

    CHORD = "chord"
    GIRTH = "girth"


class Role(StrEnum):
    """Whether a figure takes part in the adjustment or is kept out and compared afterwards."""

    OBSERVATION = "observation"
    CHECK = "check"


@dataclass(frozen=True)
class KnownLength:
    """A length between two points, by rule or tape; a target's id stands for the middle of its print."""

    id: Id
    from_point: Id
    to_point: Id
    length_mm: Annotated[float, Interval(gt=0, le=100_000)]
    u_mm: Uncertainty = 0.8
    path: Path = Path.CHORD
    instrument: Id | None = None
    role: Role = Role.OBSERVATION
    active: bool = True
    note: Text = ""


@dataclass(frozen=True)
class Instrument:
    """A rule or tape whose own error is common to all its readings: true length = reading × (1 + scale) + zero."""

    id: Id
    kind: Annotated[str, Len(1, 40)] = "tape"
    u_scale: NotNegative = 0.0002
    u_zero_mm: NotNegative = 0.3
    note: Text = ""


@dataclass(frozen=True)
class DeadriseReading:
    """A and B taken by tape from the reference line to the bottom edge, kept out and compared with the photo."""

    id: Id
    side: Side
    a_mm: Positive
    b_mm: Positive
    offset_mm: Positive = 381.0
    u_mm: Uncertainty = 1.5
    active: bool = True
    note: Text = ""


@dataclass(frozen=True)
class Rectangle:
    """A sheet, door or level with square corners; `corners` are four points in order round it."""

    id: Id
    corners: tuple[Id, Id, Id, Id]
    width_mm: Positive
    """First to second corner."""
    height_mm: Positive
    """Second to third corner."""
    u_mm: Uncertainty = 1.0
    u_square_deg: Uncertainty = 0.1
    thickness_mm: NotNegative = 0.0
    u_thickness_mm: NotNegative = 0.5
    flush: bool = True
    active: bool = True
    note: Text = ""


class TargetKind(StrEnum):
    """The printed targets that are found by themselves."""

    CHARUCO = "charuco"
    ARUCO_GRID = "aruco_grid"
    ARUCO_MARKER = "aruco_marker"


@dataclass(frozen=True)
class Target:
    """
    A printed board or marker of known size.

    For `charuco`: `columns` × `rows` squares of `square_mm` with markers of `marker_mm`. For `aruco_grid`:
    `columns` × `rows` markers of `marker_mm`, `separation_mm` apart, numbered from `first_id`. For
    `aruco_marker`: one marker `first_id` of `marker_mm`.
    """

    id: Id
    kind: TargetKind
    dictionary: Annotated[str, Len(1, 40)] = "DICT_5X5_100"
    columns: Annotated[int, Interval(ge=1, le=100)] = 1
    rows: Annotated[int, Interval(ge=1, le=100)] = 1
    square_mm: Positive | None = None
    marker_mm: Positive = 40.0
    separation_mm: Positive | None = None
    first_id: Annotated[int, Interval(ge=0, le=1023)] = 0
    check_bar_nominal_mm: Positive | None = None
    check_bar_measured_mm: Positive | None = None
    """Length of the printed check bar as measured with a rule: corrects the printer's scale."""
    u_scale: Uncertainty | None = None
    """Relative u of the printed size; left out, 0.003, or 0.0005 with a measured check bar."""
    flatness_mm: NotNegative = 0.3
    thickness_mm: NotNegative = 0.0
    u_thickness_mm: NotNegative = 0.5
    flush: bool = True
    """Lies on the transom; false: held free in front of it."""
    on: Id | None = None
    """The pad it lies on."""
    active: bool = True
    note: Text = ""


@dataclass(frozen=True)
class Sighting:
    """Corners of a target found in a photo. Stored to make a job repeatable; left out, they are detected anew."""

    target: Id
    photo: Id
    corner_ids: tuple[int, ...]
    x_px: tuple[Pixels, ...]
    y_px: tuple[Pixels, ...]
    u_px: tuple[Uncertainty, ...]


@dataclass(frozen=True)
class MirrorPair:
    """Two points that the builder made alike to port and starboard; the same point twice lies on the axis."""

    id: Id
    port: Id
    starboard: Id
    u_mm: Uncertainty = 5.0
    active: bool = True
    note: Text = ""


class AngleKind(StrEnum):
    """A relation between two lines on the transom, each given by two points."""

    RIGHT_ANGLE = "right_angle"
    PARALLEL = "parallel"
    ANGLE = "angle"


@dataclass(frozen=True)
class Angle:
    """The angle from line `first` to line `second`, anticlockwise as seen from astern, for kind `angle`."""

    id: Id
    kind: AngleKind
    first: tuple[Id, Id]
    second: tuple[Id, Id]
    value_deg: Degrees = 0.0
    u_deg: Uncertainty = 0.1
    active: bool = True
    note: Text = ""


class GravityKind(StrEnum):
    """What gravity tells of a line."""

    LEVEL = "level"
    PLUMB = "plumb"


@dataclass(frozen=True)
class GravityLine:
    """
    A line known to be level or plumb, given by two points.

    On the face unless `free`: then it hangs in front of the transom, its distance unknown.
    """

    id: Id
    kind: GravityKind
    points: tuple[Id, Id]
    u_deg: Uncertainty = 0.15
    free: bool = False
    active: bool = True
    note: Text = ""


@dataclass(frozen=True)
class FaceLean:
    """How far the face leans aft from plumb at its top, by a level held on it."""

    lean_deg: Degrees
    u_deg: Uncertainty = 0.2
    active: bool = True


class FaceKind(StrEnum):
    """The shape that the transom's face is taken to have."""

    FLAT = "flat"
    BOWED = "bowed"
    FREE = "free"
    """Every mark's height off the face is unknown: needs two or more photos."""


@dataclass(frozen=True)
class Face:
    """The face's shape; nothing is switched silently, the survey says when another would fit better."""

    kind: FaceKind = FaceKind.FLAT
    note: Text = ""


@dataclass(frozen=True)
class Gap:
    """
    A straightedge and the gap between it and the face: how a bow is measured by hand.

    Either the straightedge touches at both ends and the gap is at its middle, or it touches at its middle and the gap
    is at its ends; `span_mm` is then the whole straightedge. Positive when the face bulges aft.
    """

    id: Id
    span_mm: Positive
    gap_mm: Annotated[float, Interval(ge=-1000, le=1000)]
    u_mm: Uncertainty = 1.5
    active: bool = True
    note: Text = ""


@dataclass(frozen=True)
class Pad:
    """A raised (or, with a negative height, recessed) flat area; its outline marks name it in `of`."""

    id: Id
    height_mm: Annotated[float, Interval(ge=-1000, le=1000)] | None = None
    """How far it stands off the face; left out, unknown, which takes two or more photos."""
    u_height_mm: Uncertainty = 1.5
    edge_radius_mm: NotNegative | None = None
    """Radius of its edges, by gauge."""
    active: bool = True
    note: Text = ""


@dataclass(frozen=True)
class Rake:
    """The transom angle: face against the perpendicular to the keel line, positive when the top leans aft."""

    rake_deg: Annotated[float, Interval(gt=-60, lt=60)]
    u_deg: Uncertainty = 0.5
    note: Text = ""


@dataclass(frozen=True)
class LevelReadings:
    """A level held on the face and on the keel line: the transom angle is the one minus the other."""

    face_deg: Annotated[float, Interval(gt=-60, lt=60)]
    """The face from plumb, positive when its top leans aft."""
    keel_deg: Annotated[float, Interval(gt=-45, lt=45)]
    """The keel line from level, positive when the bow is up."""
    u_deg: Uncertainty = 0.15
    """Of each reading."""
    active: bool = True
    note: Text = ""


class FittingKind(StrEnum):
    """What is fitted to a transom."""

    THROUGH_HULL = "through_hull"
    DRAIN = "drain"
    LIGHT = "light"
    TRANSDUCER = "transducer"
    TAB_PLATE = "tab_plate"
    TAB_RAM = "tab_ram"
    ANODE = "anode"
    TIE_BAR = "tie_bar"
    BOLT = "bolt"
    BOLT_HOLE = "bolt_hole"
    EYE = "eye"
    LADDER = "ladder"
    OTHER = "other"


class FittingShape(StrEnum):
    """The rim's shape on the face."""

    CIRCLE = "circle"
    RECTANGLE = "rectangle"
    POINT = "point"


class Plan(StrEnum):
    """What is to become of a fitting."""

    UNDECIDED = "undecided"
    STAYS = "stays"
    MOVES = "moves"
    WORKED_AROUND = "worked_around"


@dataclass(frozen=True)
class Fitting:
    """A fitting; its marks (rim points, corners or a centre) name it in `of`."""

    id: Id
    kind: FittingKind = FittingKind.OTHER
    shape: FittingShape = FittingShape.CIRCLE
    name: Text = ""
    proud_mm: NotNegative | None = None
    """How far the marked rim stands off the face; left out, the usual value of its kind."""
    u_proud_mm: NotNegative | None = None
    u_round_mm: Uncertainty = 0.3
    u_edge_mm: NotNegative = 0.25
    """How far the edge that is seen all round lies from the size that a calliper would read, on the radius."""
    diameter_mm: Positive | None = None
    """Diameter by calliper or rule; left out, measured from the rim."""
    u_diameter_mm: Uncertainty = 0.5
    plan: Plan = Plan.UNDECIDED
    on: Id | None = None
    """The pad it sits on."""
    active: bool = True
    note: Text = ""


class DefectKind(StrEnum):
    """What was found on the transom."""

    CRACK = "crack"
    BLISTER = "blister"
    DELAMINATION = "delamination"
    WET = "wet"
    CORROSION = "corrosion"
    REPAIR = "repair"
    """An earlier repair, to be seen or sounded."""
    OTHER = "other"


class Priority(StrEnum):
    """The surveyor's own class of a finding (common practice); nothing here is derived from a measurement."""

    NOT_STATED = "not_stated"
    FIRST = "A"
    TIMELY = "B"
    GENERAL = "C"


@dataclass(frozen=True)
class Defect:
    """
    A crack or a damaged area; its marks name it in `of`.

    Marks of kind `crack` follow it from end to end, marks of kind `area` go round it.
    """

    id: Id
    kind: DefectKind = DefectKind.OTHER
    name: Text = ""
    priority: Priority = Priority.NOT_STATED
    u_edge_mm: NotNegative = 1.0
    """How well its outline, or each end of a crack, is defined: in or out by the same amount all round."""
    points: tuple[Id, ...] = ()
    """Its points in order; left out, as they were marked."""
    close_ups: tuple[Id, ...] = ()
    """Close-up photos that show it."""
    on: Id | None = None
    """The pad it lies on."""
    active: bool = True
    note: Text = ""


@dataclass(frozen=True)
class Meter:
    """A moisture meter with its own scale; readings stay on that scale and are never converted."""

    id: Id
    name: Text = ""
    """Make, model and mode, as its owner calls it."""
    scale: Annotated[str, Len(1, 200)] = "relative, 0 to 100"
    low: Annotated[float, Interval(ge=-1e6, le=1e6)] = 0.0
    high: Annotated[float, Interval(ge=-1e6, le=1e6)] = 100.0
    control: Text = ""
    """Its reading on a place known to be dry, and where that was."""
    note: Text = ""


@dataclass(frozen=True)
class MeterReading:
    """One reading of a meter at a marked point."""

    id: Id
    meter: Id
    point: Id
    value: Annotated[float, Interval(ge=-1e6, le=1e6)]
    active: bool = True
    note: Text = ""


class Sound(StrEnum):
    """What a tap with the sounding hammer gave."""

    SHARP = "sharp"
    DULL = "dull"
    DEAD = "dead"


@dataclass(frozen=True)
class Sounding:
    """The sound of the laminate at a marked point."""

    id: Id
    point: Id
    sound: Sound
    active: bool = True
    note: Text = ""


class FlangeBottom(StrEnum):
    """How the lower edge of a mounting flange runs."""

    FOLLOWS = "follows"
    """A V that follows the deadrise."""
    FLAT = "flat"


@dataclass(frozen=True)
class BoltPattern:
    """Rows of holes, spread evenly from the lower to the upper edge of the flange and about its middle."""

    rows: Annotated[int, Interval(ge=1, le=20)]
    spacing_mm: Positive
    """Between neighbouring holes of a row, along x."""
    hole_mm: Positive
    """Diameter."""
    edge_mm: NotNegative = 40.0
    """Least distance of a hole's centre from the edges of the flange."""


@dataclass(frozen=True)
class Flange:
    """The planned mounting flange of a bracket; it fits against the face, its middle on the centreline or beside it."""

    width_mm: Positive
    height_mm: Positive
    """From its lower to its upper edge, in its middle."""
    bottom: FlangeBottom = FlangeBottom.FOLLOWS
    gap_mm: NotNegative = 25.0
    """Between the bottom edge of the hull and the lower edge of the flange, up along the face, where it is least."""
    top_mm: Positive | None = None
    """Height of its upper edge above the keel point; given, it takes the place of `gap_mm`."""
    deadrise_deg: Annotated[float, Interval(ge=0, le=60)] | None = None
    """Of its lower edge, in the face; left out, the mean of the hull's two sides as measured."""
    across_mm: Annotated[float, Interval(ge=-1e5, le=1e5)] = 0.0
    """Its middle from the centreline, positive to starboard."""
    top_radius_mm: NotNegative = 25.0
    bottom_radius_mm: NotNegative = 25.0
    margin_mm: NotNegative = 25.0
    """Clear distance that it needs to fittings."""
    u_place_mm: NotNegative = 1.0
    """How well it can be put where it is planned: standard uncertainty."""
    bolts: BoltPattern | None = None
    note: Text = ""


class Water(StrEnum):
    """The water that the boat floats in."""

    SALT = "salt"
    FRESH = "fresh"


@dataclass(frozen=True)
class BracketBody:
    """The hollow body behind a flange, its section a box with a V bottom, tapering evenly from face to stern."""

    length_mm: Positive
    """Fore and aft."""
    width_mm: Positive
    side_mm: NotNegative
    """Height of its sides, from its top down to where the V begins."""
    deadrise_deg: Annotated[float, Interval(ge=0, le=60)] = 0.0
    aft_width_mm: Positive | None = None
    """At its after end; left out, as forward."""
    aft_side_mm: NotNegative | None = None


@dataclass(frozen=True)
class Bracket:
    """The planned bracket as its maker states it."""

    weight_kg: NotNegative | None = None
    plate_angle_deg: Annotated[float, Interval(gt=-45, lt=45)] | None = None
    """Of its motor plate against the perpendicular to the keel line, positive when its top leans aft."""
    u_plate_deg: Uncertainty = 0.25
    rated_engines: Annotated[int, Interval(ge=1, le=8)] | None = None
    rated_power_hp: Positive | None = None
    """Of all engines together."""
    rated_weight_kg: Positive | None = None
    """Of all engines together."""
    body: BracketBody | None = None
    note: Text = ""


@dataclass(frozen=True)
class Engines:
    """One or more like engines side by side."""

    count: Annotated[int, Interval(ge=1, le=8)] = 1
    power_hp: Positive | None = None
    """Of each."""
    weight_kg: Positive | None = None
    """Of each."""
    spacing_mm: Positive | None = None
    """Between the middles of neighbours."""
    note: Text = ""


@dataclass(frozen=True)
class PowerRule:
    """What 33 CFR 183.53 asks for beside the transom's width."""

    length_mm: Positive
    """Of the boat, straight and level, without brackets and other fittings (33 CFR 183.3)."""
    u_length_mm: Uncertainty = 5.0
    outboard_monohull: bool = True
    """A monohull for outboards of more than 2 hp that is no sailboat, canoe, kayak or inflatable."""
    beam_mm: Positive | None = None
    """The boat's greatest beam: tells whether she has a full transom."""
    quarter_beam_mm: Positive | None = None
    """Broadest beam in the aftermost quarter; used where the transom is not a full one."""
    remote_steering: bool = True
    transom_height_mm: Positive | None = None
    """Where the engine is mounted; 508 mm (20 in) makes a difference."""
    flat_bottom_hard_chine: bool = False


@dataclass(frozen=True)
class Planning:
    """Engines now and planned, the bracket for them, and where it will float."""

    engines_now: Engines | None = None
    engines_planned: Engines | None = None
    bracket: Bracket | None = None
    water: Water = Water.SALT
    power_rule: PowerRule | None = None
    note: Text = ""


@dataclass(frozen=True)
class TapeFigure:
    """A figure of the tape form, as it was read; kept out of the adjustment and compared with the photo."""

    id: Id
    measure: Id
    """Code of the dimension, such as ``chine_beam`` or ``rake``."""
    reading: Annotated[str, Len(1, 40)]
    """As written, with its unit: ``78 3/8 in``, ``1990 mm``, ``13.5°``."""
    tolerance: Annotated[str, Len(0, 40)] = ""
    """Within which the reading is trusted, as written (about 95 %); left out, 3 mm or 0.5°."""
    active: bool = True
    note: Text = ""


class PatternPart(StrEnum):
    """Which part of the transom's outline a pattern stands for."""

    BOTTOM = "bottom"
    """The bottom edge from chine to chine."""
    PORT = "port"
    """The half to port of the centreline."""
    STARBOARD = "starboard"
    WHOLE = "whole"


class PatternFace(StrEnum):
    """Which face of the pattern is up in its photo."""

    AFT = "aft"
    """The face that looked aft while it was held against the transom: port is on the left."""
    FORWARD = "forward"
    """The face that lay against the transom: the photo shows the pattern mirrored."""


class PatternTaken(StrEnum):
    """How the pattern was held against the transom when its edge was taken."""

    BENT = "bent"
    """Bent round a bowed face: laid flat it shows girths."""
    STIFF = "stiff"
    """Kept flat: it shows the edge as seen square to the pattern."""


class ScaleLies(StrEnum):
    """What lies level with the target, rule or sheet that gives a pattern's photo its scale."""

    FLOOR = "floor"
    """It lies beside the pattern, whose upper face is higher by the pattern's thickness."""
    PATTERN = "pattern"
    """It lies on the pattern."""


class AlignedOn(StrEnum):
    """What a mark on the pattern stands for, where it is no single point of the transom."""

    CENTRELINE = "centreline"
    REFERENCE_LINE = "reference_line"


@dataclass(frozen=True)
class Alignment:
    """A mark on the pattern, and the point or line of the transom that it was made at."""

    mark: Id
    at: Id
    """A point marked on the transom, or ``centreline`` or ``reference_line`` for a place anywhere along that."""


@dataclass(frozen=True)
class Pattern:
    """
    A pattern cut or scribed to the transom, laid flat and photographed.

    Its photo is of kind `pattern` and brings its own scale: a target found in it, or a rectangle or lengths marked in
    it. Its edge is marked in that photo; the marks name the pattern in `of`.
    """

    id: Id
    photo: Id
    part: PatternPart = PatternPart.BOTTOM
    edge: tuple[Id, ...] = ()
    """Marks along its edge in order; left out, the marks of its photo that name it in `of`, as they were marked."""
    aligned: tuple[Alignment, ...] = ()
    """Two or more marks that put it in place; left out, it is laid on the measured outline by best fit."""
    face_up: PatternFace | None = None
    """Left out, whichever fits better."""
    taken: PatternTaken | None = None
    """Left out, girths are compared where the face is bowed, and the survey says if the other fits better."""
    thickness_mm: NotNegative = 0.0
    u_thickness_mm: NotNegative = 0.5
    scale_lies: ScaleLies = ScaleLies.FLOOR
    u_cut_mm: Uncertainty = 1.0
    """How well its edge follows the transom's by the way it was cut or scribed, at each mark."""
    active: bool = True
    note: Text = ""


class LengthUnit(StrEnum):
    """How lengths are printed."""

    MILLIMETRE = "mm"
    INCH_DECIMAL = "in"
    INCH_SIXTEENTHS = "in/16"


class PaperSize(StrEnum):
    """Paper of the report and of printed targets."""

    A4 = "A4"
    LETTER = "Letter"
    A3 = "A3"


class Reader(StrEnum):
    """Whom the report is for, which chooses what it holds."""

    SHOP = "shop"
    OWNER = "owner"
    SURVEY = "survey"


@dataclass(frozen=True)
class Settings:
    """How the answers are given."""

    unit: LengthUnit = LengthUnit.MILLIMETRE
    b_offset_mm: Positive = 381.0
    """Distance out from the centreline at which B is taken; 381 mm is 15 in."""
    paper: PaperSize = PaperSize.A4
    flange_width_mm: Positive | None = None
    """Width of the planned mounting flange, centred on the centreline: where it sits on a pad is then said."""
    report_for: Reader = Reader.SHOP
    station_step_mm: StationStep | None = None
    """Distance between the stations of the offset table; left out, 100 mm, or 4 in where lengths are in inches."""
    stations_mm: tuple[NotNegative, ...] = ()
    """Stations of the offset table in place of even ones: distances from the centreline and heights; up to 200."""
    cut_to_pattern: Id | None = None
    """The pattern whose edge is what is cut, in place of the measured outline; left out, the measured outline."""


@dataclass(frozen=True)
class Boat:
    """Whose transom this is."""

    name: Text = ""
    builder: Text = ""
    hull_number: Text = ""
    owner: Text = ""
    place: Text = ""


@dataclass(frozen=True)
class Document:
    """What a report is filed under, and what a survey says of its own limits."""

    number: Text = ""
    revision: Text = ""
    signatory: Text = ""
    """Whose name stands under the signature; left out, the surveyor's."""
    conditions: Text = ""
    """State of the boat and the weather: days ashore, temperature, humidity, state of the surface."""
    not_accessible: Text = ""
    """What could not be seen or reached."""
    limits: Text = ""
    """Other limits of the survey, in the surveyor's own words."""


@dataclass(frozen=True)
class Job:
    """The field book of one transom."""

    title: Text = ""
    format: Annotated[int, Ge(1)] = FORMAT_VERSION
    date: Text = ""
    surveyor: Text = ""
    boat: Boat = field(default_factory=Boat)
    settings: Settings = field(default_factory=Settings)
    cameras: tuple[Camera, ...] = ()
    photos: tuple[Photo, ...] = ()
    marks: tuple[Mark, ...] = ()
    lines: tuple[StraightLine, ...] = ()
    lengths: tuple[KnownLength, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    deadrise_readings: tuple[DeadriseReading, ...] = ()
    rectangles: tuple[Rectangle, ...] = ()
    targets: tuple[Target, ...] = ()
    sightings: tuple[Sighting, ...] = ()
    mirror_pairs: tuple[MirrorPair, ...] = ()
    angles: tuple[Angle, ...] = ()
    gravity_lines: tuple[GravityLine, ...] = ()
    face: Face = field(default_factory=Face)
    gaps: tuple[Gap, ...] = ()
    pads: tuple[Pad, ...] = ()
    face_lean: FaceLean | None = None
    rake: Rake | None = None
    level_readings: LevelReadings | None = None
    fittings: tuple[Fitting, ...] = ()
    defects: tuple[Defect, ...] = ()
    meters: tuple[Meter, ...] = ()
    meter_readings: tuple[MeterReading, ...] = ()
    soundings: tuple[Sounding, ...] = ()
    document: Document = field(default_factory=Document)
    tape_figures: tuple[TapeFigure, ...] = ()
    flange: Flange | None = None
    planning: Planning | None = None
    patterns: tuple[Pattern, ...] = ()
    note: Text = ""
