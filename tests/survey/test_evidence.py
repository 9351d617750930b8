"""What may fix scale and tilt, each alone: on faultless data every kind of evidence gives the true dimensions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from digitizer.job.model import (
    Angle,
    AngleKind,
    FaceLean,
    Fitting,
    FittingKind,
    GravityKind,
    GravityLine,
    Instrument,
    KnownLength,
    LineKind,
    MarkKind,
    MirrorPair,
    Photo,
    Rectangle,
    StraightLine,
)
from tests.builders import SimCamera, SimFitting, SimTransom
from tests.survey.exact import (
    HULL,
    STRING,
    Board,
    Case,
    Spot,
    a_camera,
    a_case,
    all_spots,
    assert_true,
    codes,
    dimension,
    facts_of,
    length,
    outline_spots,
    rim_spots,
    string_spots,
    truth,
    values,
)

CAMERAS = {
    "square-on": a_camera(0.0, 0.0, 0.0),
    "from-starboard": a_camera(35.0, 3.0),
    "from-port-and-above": a_camera(-25.0, 20.0, -4.0),
    "barrel-distortion": a_camera(12.0, 5.0, k1=-0.09),
    "board-on-the-axis": a_camera(2.0, 1.0, 0.0, aim=(10.0, 590.0)),
}
TAPED = (
    ("chine_port", "chine_starboard"),
    ("top_port", "top_starboard"),
    ("chine_port", "top_starboard"),
    ("chine_starboard", "top_port"),
    ("keel", "top_port"),
    ("chine_port", "top_port"),
)
SPOTS = all_spots()


def taped(case: Case) -> Case:
    """With six tape figures in several directions."""
    for first, second in TAPED:
        case = case.with_length(first, second)
    return case


def end(x: float, y: float, z: float = 0.0) -> Spot:
    return Spot(x, y, MarkKind.LENGTH_END, z=z, u_px=0.3)


@pytest.mark.parametrize("camera", CAMERAS.values(), ids=CAMERAS)
def test_a_board_on_the_face(camera: SimCamera) -> None:
    """A board that lies flush, from wherever the photo was taken."""
    assert_true(a_case(camera=camera).survey(), truth())


@pytest.mark.parametrize("camera", CAMERAS.values(), ids=CAMERAS)
def test_tape_figures(camera: SimCamera) -> None:
    """Six tape figures and no board."""
    assert_true(taped(a_case(boards=(), camera=camera)).survey(), truth())


def test_a_single_marker() -> None:
    """One marker of known size."""
    assert_true(a_case(boards=[Board("marker", marker=True)]).survey(), truth())


def test_several_targets_share_the_work() -> None:
    """Four markers near the corners give less uncertainty than one at the middle, and the same figures."""
    four = [
        Board(f"marker {n}", x, y, turn_deg=n, marker=True)
        for n, (x, y) in enumerate(((-950.0, 760.0), (960.0, 750.0), (-880.0, 430.0), (890.0, 440.0)), 1)
    ]
    together, alone = a_case(boards=four).survey(), a_case(boards=[Board("marker", marker=True)]).survey()
    assert_true(together, truth())
    for code in ("deadrise_chord_port", "chine_beam", "height_centre"):
        assert dimension(together, code).U < 0.7 * dimension(alone, code).U


def test_a_free_target_in_front_with_known_lengths() -> None:
    """A board held free in front of the transom tells of the lens; tape figures place the face."""
    board = Board(x=-300.0, y=500.0, z=400.0, tilt_deg=(8.0, -15.0), flush=False)
    case = taped(a_case(boards=[board]))
    assert_true(case.survey(), truth())


@pytest.mark.parametrize("scale", [0.98, 1.015])
def test_a_measured_check_bar_corrects_the_print(scale: float) -> None:
    """A print that came out too small is taken at its true size, and its scale weighs less in the budget."""
    board = Board(scale=scale, bar_mm=100.0 * scale)
    survey = a_case(boards=[board]).survey()
    assert_true(survey, truth())
    unmeasured = a_case(boards=[replace(board, bar_mm=None)]).survey()
    wrong = values(unmeasured)["chine_beam"] / truth()["chine_beam"]
    assert wrong == pytest.approx(1.0 / scale, rel=1e-4)


def test_sheet_of_known_sides_alone() -> None:
    """A sheet 1250 × 620 mm, its four corners marked, fixes everything."""
    corners = {"a": (-600.0, 300.0), "b": (650.0, 300.0), "c": (650.0, 920.0), "d": (-600.0, 920.0)}
    spots = SPOTS | {
        n: Spot(x, y, MarkKind.RECTANGLE_CORNER, of="sheet", z=3.0, u_px=0.3) for n, (x, y) in corners.items()
    }
    sheet = Rectangle("sheet", ("a", "b", "c", "d"), 1250.0, 620.0, thickness_mm=3.0)
    case = a_case(spots, boards=(), rectangles=(sheet,))
    marks = tuple(replace(m, height_mm=None, u_height_mm=None) if m.of == "sheet" else m for m in case.job.marks)
    survey = case.but(marks=marks).survey()
    assert_true(survey, truth())
    size = [o for o in survey.observations if o.subject == "sheet"]
    assert {o.kind for o in size} >= {"rectangle"}


def carpenters_square(camera: SimCamera) -> Case:
    spots = SPOTS | {"corner": end(-500.0, 400.0), "up": end(-500.0, 1000.0), "along": end(500.0, 400.0)}
    square = Angle("square", AngleKind.RIGHT_ANGLE, ("corner", "up"), ("corner", "along"))
    lengths = (length(spots, "corner", "up", 0.3), length(spots, "corner", "along", 0.3))
    return a_case(spots, boards=(), camera=camera, angles=(square,), lengths=lengths)


def test_carpenters_square() -> None:
    """Two arms and the right angle between them, seen square on."""
    survey = carpenters_square(a_camera(0.0, 0.0, 0.0)).survey()
    assert_true(survey, truth(), mm=1.0, degrees=0.05)
    row = next(o for o in survey.observations if o.subject == "square")
    assert (row.unit, row.u) == ("°", pytest.approx(0.1))


def test_carpenters_square_fits_a_mirrored_pose_too() -> None:
    """Three points fit two poses equally well when seen aslant: the survey says so, and two more lengths settle it."""
    case = carpenters_square(a_camera(12.0, 5.0))
    assert "mirror_pose" in codes(case.survey())
    settled = case.with_length("chine_port", "top_starboard").with_length("chine_port", "chine_starboard").survey()
    assert_true(settled, truth())


def test_stated_angles_and_parallels() -> None:
    """An angle of 60° from one batten to another and a parallel to the first, with a length along each."""
    c, s = math.cos(math.radians(60.0)), math.sin(math.radians(60.0))
    spots = SPOTS | {
        "a": end(-500.0, 300.0), "b": end(500.0, 300.0), "c": end(-400.0 + 600 * c, 300.0 + 600 * s),
        "d": end(-600.0, 980.0), "e": end(700.0, 980.0), "f": end(-400.0, 300.0),
    }  # fmt: skip
    angles = (
        Angle("sixty", AngleKind.ANGLE, ("a", "b"), ("f", "c"), 60.0),
        Angle("minus sixty", AngleKind.ANGLE, ("c", "f"), ("b", "a"), -60.0),
        Angle("parallel", AngleKind.PARALLEL, ("a", "b"), ("e", "d")),
    )
    lengths = (length(spots, "a", "b"), length(spots, "f", "c"))
    survey = a_case(spots, boards=(), angles=angles, lengths=lengths).survey()
    assert_true(survey, truth())
    seen = {o.subject: o.observed for o in survey.observations if o.kind == "angle"}
    assert seen == pytest.approx({"sixty": 60.0, "minus sixty": -60.0, "parallel": 0.0})  # °


def test_mirror_pairs_with_one_width_and_a_height() -> None:
    """What the builder made alike on both sides, with a width and a height by tape."""
    hull = SimTransom()
    string = replace(STRING, slope=0.0)
    spots = all_spots(hull, string)
    pairs = tuple(
        MirrorPair(stem, f"{stem}_port", f"{stem}_starboard", 3.0) for stem in ("chine", "chine_inner", "top")
    )
    keel = MirrorPair("keel", "keel", "keel", 3.0)
    case = a_case(spots, boards=(), mirror_pairs=(*pairs, keel))
    case = case.with_length("chine_port", "chine_starboard").with_length("top_port", "top_starboard")
    survey = case.with_length("keel", "top_port").survey()
    assert_true(survey, truth(hull, string))
    assert {o.subject for o in survey.observations if o.kind == "mirror pair"} == {
        "chine",
        "chine_inner",
        "top",
        "keel",
    }


def test_mirror_pairs_make_the_sides_more_certain() -> None:
    """Pairs lower the uncertainty of a deadrise, and a pair that does not hold is found."""
    hull, string = SimTransom(), replace(STRING, slope=0.0)
    plain = a_case(all_spots(hull, string))
    pairs = tuple(MirrorPair(s, f"{s}_port", f"{s}_starboard", 2.0) for s in ("chine", "chine_inner", "top"))
    alike = plain.but(mirror_pairs=pairs)
    assert dimension(alike.survey(), "height_port").U < dimension(plain.survey(), "height_port").U
    assert "outlier" not in codes(alike.survey())


LEAN_DEG = 14.0
UP = np.array([0.02, 1.0, -math.tan(math.radians(LEAN_DEG))])


def hung(x: float, top: float, out: float, drop: float = 700.0) -> list[Spot]:
    """Two places on a plumb line that hangs `out` mm off the face at its top."""
    ends = [np.array([x, top, out]), np.array([x, top, out]) - drop * UP / np.linalg.norm(UP)]
    return [Spot(*map(float, p[:2]), MarkKind.PLUMB_LINE, z=float(p[2]), u_px=0.3) for p in ends]


def test_level_plumb_and_lean() -> None:
    """Two plumb lines, one level line on the face and the face's lean by level fix the tilt; one tape the scale."""
    (a, b), (c, d) = hung(-900.0, 950.0, 60.0), hung(850.0, 960.0, 40.0)
    spots = SPOTS | {
        "a": a,
        "b": b,
        "c": c,
        "d": d,
        "left": end(-800.0, 950.0),
        "right": end(800.0, 950.0 - 1600 * UP[0]),
    }
    lines = (
        GravityLine("level", GravityKind.LEVEL, ("left", "right")),
        GravityLine("port line", GravityKind.PLUMB, ("a", "b"), free=True),
        GravityLine("starboard line", GravityKind.PLUMB, ("c", "d"), free=True),
    )
    case = a_case(spots, boards=(), gravity_lines=lines, face_lean=FaceLean(LEAN_DEG, 0.1))
    loose = tuple(
        replace(m, height_mm=None, u_height_mm=None) if m.kind is MarkKind.PLUMB_LINE else m for m in case.job.marks
    )
    survey = case.but(marks=loose).with_length("chine_port", "chine_starboard").survey()
    # Unknown distances of the lines from the face pull a little towards what they are first taken for.
    assert_true(survey, truth(), mm=1.0, degrees=0.02)
    lean = next(o for o in survey.observations if o.kind == "lean")
    assert lean.observed == pytest.approx(LEAN_DEG)
    level = dimension(survey, "reference_level")
    assert level.value == pytest.approx(math.degrees(math.atan(STRING.slope) + math.atan(UP[0])), abs=0.02)


def test_lean_of_the_face_goes_by_its_tangent() -> None:
    """With the board on the face, plumb lines at known distance from it fit a lean of 14° without a residue."""
    a, b = hung(-900.0, 950.0, 260.0)
    case = a_case(
        SPOTS | {"a": a, "b": b}, gravity_lines=(GravityLine("plumb", GravityKind.PLUMB, ("a", "b"), free=True),)
    )
    survey = case.but(face_lean=FaceLean(LEAN_DEG, 0.2)).survey()
    lean = next(o for o in survey.observations if o.kind == "lean")
    assert lean.residual == pytest.approx(0.0, abs=1e-3)  # °


def test_a_fitting_of_known_diameter_gives_the_scale() -> None:
    """One flange measured with a calliper is a known length; with a photo taken square it is all there is."""
    fitting = SimFitting("port light", -200.0, 600.0, 180.0, 6.0)
    record = Fitting("port light", FittingKind.LIGHT, proud_mm=6.0, diameter_mm=180.0, u_diameter_mm=0.2)
    camera = a_camera(0.0, 0.0, 0.0)
    case = a_case(SPOTS | rim_spots(fitting, 10), boards=(), camera=camera, fittings=(record,))
    survey = case.but(photos=(Photo("astern", "astern.jpg", u_square_deg=3.0),)).survey()
    assert_true(survey, truth())
    assert dimension(survey, "fitting_port light_diameter").value == pytest.approx(180.0, abs=0.01)
    assert dimension(survey, "chine_beam").U > 10.0  # mm


def test_one_length_in_a_photo_taken_roughly_square() -> None:
    """One known length with "taken square, ± 5°" is solvable, its figures wide and the length said to be unchecked."""
    camera = a_camera(0.0, 0.0, 0.0)
    case = a_case(boards=(), camera=camera).with_length("chine_port", "chine_starboard")
    survey = case.but(photos=(Photo("astern", "astern.jpg", u_square_deg=5.0),)).survey()
    assert_true(survey, truth())
    well = a_case(camera=camera).with_length("chine_port", "chine_starboard").survey()
    assert dimension(survey, "deadrise_chord_port").U > 2.0 * dimension(well, "deadrise_chord_port").U
    assert dimension(survey, "top_width").U > 4.0 * dimension(well, "top_width").U
    assert "unchecked" in codes(survey)
    assert "advice" in codes(survey)


def test_strings_marked_along_their_length_take_out_distortion() -> None:
    """With the lens unknown, marks all along two strings tell of its distortion; the figures are near the truth."""
    up = {
        f"up_{n}": Spot(150.0, y, MarkKind.LINE_POINT, of="up and down", z=1.0, u_px=0.3)
        for n, y in enumerate(np.linspace(120, 960, 7).tolist())
    }
    ends = a_case(outline_spots() | string_spots(xs=(-1000.0, 1000.0)))
    along = a_case(
        outline_spots() | string_spots(xs=np.linspace(-1000, 1000, 9).tolist()) | up,
        lines=(StraightLine("up and down", LineKind.STRAIGHTEDGE),),
    )
    surveys = [
        replace(case, job=replace(case.job, cameras=()), facts={"astern": facts_of("astern.jpg", 25.1)}).survey()
        for case in (ends, along)
    ]
    u = [survey.photos[0].u_k1 for survey in surveys]
    assert u[1] < 0.6 * u[0]
    # The prior of an unknown lens pulls against the evidence, so the figures are near the truth, within their U.
    for code, true in truth().items():
        found = dimension(surveys[1], code)
        assert abs(found.value - true) < found.U, code


def test_marks_without_a_keel_take_the_meeting_of_the_bottom_edges() -> None:
    """Without a keel point the origin is where the two bottom edges meet, and the survey says so."""
    spots = {name: spot for name, spot in SPOTS.items() if name != "keel"}
    survey = a_case(spots).survey()
    true = {k: v for k, v in truth().items() if "chord" not in k and k != "keel_from_middle"}
    assert_true(survey, true)
    assert "no_keel" in codes(survey)


def test_without_a_reference_line_the_chines_stand_in() -> None:
    """Deadrise is then against the line through the chines; only the mean of both sides keeps its meaning."""
    survey = a_case(outline_spots()).survey()
    found, true = values(survey), truth()
    mean = [sum(d[f"deadrise_chord_{s}"] for s in ("port", "starboard")) / 2 for d in (found, true)]
    assert mean[0] == pytest.approx(mean[1], abs=0.01)  # °
    assert found["chine_beam"] == pytest.approx(true["chine_beam"], abs=0.01)
    assert "no_reference_line" in codes(survey)
    assert "a_centre" not in found


def test_offset_of_b_is_the_settings() -> None:
    """B is taken where the settings say, and the widths do not care."""
    case = a_case()
    at = replace(case.job.settings, b_offset_mm=610.0)
    survey = case.but(settings=at).survey()
    assert_true(survey, truth(HULL, STRING, 610.0))
    assert "610 mm" in dimension(survey, "b_port").note


def test_a_tape_shares_its_own_error_among_its_readings() -> None:
    """Readings of one tape with a hook 0.6 mm short and 0.03 % stretch are told from scatter by the board's scale."""
    case = taped(a_case(boards=[Board(bar_mm=100.0)]))
    lengths = tuple(
        KnownLength(k.id, k.from_point, k.to_point, (k.length_mm - 0.6) / 1.0003, 0.8, instrument="tape")
        for k in case.job.lengths
    )
    survey = case.but(lengths=lengths, instruments=(Instrument("tape", "tape", 0.0003, 0.6),)).survey()
    for code, true in truth().items():
        found = dimension(survey, code)
        assert abs(found.value - true) < found.U, code
    own = {o.label: o for o in survey.observations if o.kind == "instrument"}
    assert set(own) == {"tape: scale", "tape: zero"}
