"""The condition survey: faultless damage has its true size and place, and U holds what is common round an edge."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import (
    Defect,
    DefectKind,
    Face,
    FaceKind,
    KnownLength,
    Mark,
    MarkKind,
    Meter,
    MeterReading,
    Photo,
    PhotoKind,
    Sound,
    Sounding,
)
from digitizer.survey.closeups import U_TILT
from digitizer.survey.measure import measure
from digitizer.survey.model import DefectResult, Survey
from digitizer.survey.steps import steps
from digitizer.transom.surface import Bowed
from tests.survey.exact import (
    Board,
    Case,
    Spot,
    a_camera,
    a_case,
    all_spots,
    calibrated,
    codes,
    facts_of,
    marks,
    truth,
)

CRACK = [(-300.0, 500.0), (-260.0, 530.0), (-260.0, 650.0)]
"""Legs of 50 and 120 mm."""
AREA = [(200.0, 500.0), (400.0, 500.0), (400.0, 650.0), (200.0, 650.0)]
"""200 by 150 mm."""
CURVATURE = 1.0 / 6000.0


def damage_spots() -> dict[str, Spot]:
    """The crack, the area and two grid points."""
    crack = {f"crack_{i}": Spot(x, y, MarkKind.CRACK, of="crack") for i, (x, y) in enumerate(CRACK, 1)}
    area = {f"wet_{i}": Spot(x, y, MarkKind.AREA, of="wet") for i, (x, y) in enumerate(AREA, 1)}
    grid = {f"grid_{x}": Spot(x, 700.0, MarkKind.GRID, of="grid") for x in (-200.0, 300.0)}
    return crack | area | grid


def surveyed(**records: object) -> Survey:
    """One photo, everything faultless."""
    return a_case({**all_spots(), **damage_spots()}, **records).survey()


def defect(survey: Survey, name: str) -> DefectResult:
    """One defect by its id."""
    return next(d for d in survey.defects if d.id == name)


@pytest.fixture(scope="module")
def survey() -> Survey:
    """Damage marked without any record of it."""
    return surveyed()


def test_crack_has_its_length_and_place(survey: Survey) -> None:
    """170 mm along the marks; middle of its extents and the extents themselves."""
    crack = defect(survey, "crack")
    slope = math.radians(truth()["deadrise_chord_port"] - 19.0)
    assert not crack.closed
    assert crack.size.value == pytest.approx(170.0, abs=0.02)  # mm, what the last step leaves open
    # extents are along axes turned by the string's slope, so turn the places by hand
    x = [a * math.cos(slope) + b * math.sin(slope) for a, b in CRACK]
    assert crack.x.value == pytest.approx((min(x) + max(x)) / 2, abs=0.1)
    assert crack.width.value == pytest.approx(max(x) - min(x), abs=0.1)
    assert crack.below_reference is not None
    assert crack.below_reference.value + crack.y.value == pytest.approx(truth()["a_centre"], abs=0.1)


def test_area_has_its_size(survey: Survey) -> None:
    """200 × 150 mm, 700 mm round it."""
    wet = defect(survey, "wet")
    assert wet.closed
    assert wet.perimeter is not None
    assert wet.size.value == pytest.approx(30_000.0, abs=10.0)  # mm²
    assert wet.perimeter.value == pytest.approx(700.0, abs=0.1)


@pytest.fixture(scope="module")
def edges() -> tuple[Survey, Survey]:
    """Edges known exactly, and edges known to 5 mm."""
    exact, vague = (
        surveyed(defects=(Defect("wet", u_edge_mm=u), Defect("crack", DefectKind.CRACK, u_edge_mm=u))) for u in (0, 5)
    )
    return exact, vague


def test_edge_is_common_all_round(edges: tuple[Survey, Survey]) -> None:
    """What the edge itself adds to the variance of an area is (perimeter × u)², however many marks there are."""
    without, with_edge = (defect(each, "wet").size for each in edges)
    assert math.sqrt(with_edge.u**2 - without.u**2) == pytest.approx(700.0 * 5.0, rel=1e-3)
    assert with_edge.value == pytest.approx(without.value, abs=1e-6)


def test_ends_of_a_crack_are_independent(edges: tuple[Survey, Survey]) -> None:
    """The two ends add √2 u to a crack's length."""
    without, with_ends = (defect(each, "crack").size for each in edges)
    assert math.sqrt(with_ends.u**2 - without.u**2) == pytest.approx(5.0 * math.sqrt(2.0), rel=1e-3)


def test_order_of_points_may_be_given() -> None:
    """Points given in order win over the order of the marks."""
    names = ("crack_3", "crack_1", "crack_2")
    crack = defect(surveyed(defects=(Defect("crack", DefectKind.CRACK, points=names),)), "crack")
    assert crack.size.value == pytest.approx(math.hypot(40.0, 150.0) + 50.0, abs=0.02)


def test_outline_that_crosses_itself_and_defect_without_marks_are_told() -> None:
    """A bow tie has no area to speak of; a defect without marks is a finding and not a result."""
    bow_tie = Defect("wet", points=("wet_1", "wet_3", "wet_2", "wet_4"))
    found = surveyed(defects=(bow_tie, Defect("blister", DefectKind.BLISTER)))
    assert "outline_crosses" in codes(found)
    assert "blister" in [f.subject for f in found.findings if f.code == "not_marked"]
    assert "blister" not in [d.id for d in found.defects]


def test_switched_off_is_left_out() -> None:
    """An inactive defect leaves no trace in the results."""
    assert [d.id for d in surveyed(defects=(Defect("wet", active=False),)).defects] == ["crack"]


def test_marks_too_close_together_are_told() -> None:
    """Sixty marks on 60 mm zigzag: the length along them is too long, and the finding says by how much."""
    close = {f"hair_{i}": Spot(-100.0 + i, 600.0, MarkKind.CRACK, of="hair", u_px=2.0) for i in range(60)}
    found = a_case({**all_spots(), **close}).survey()
    assert "hair" in [f.subject for f in found.findings if f.code == "marks_too_close"]


def two_photos() -> Case:
    """The crack seen whole from one place, and all but its first end from another that also marks a further bend."""
    spots = {**all_spots(), **damage_spots()}
    other = a_camera(yaw=-15.0, pitch=8.0, distance=2500.0)
    seen = {n: s for n, s in spots.items() if n != "crack_1"}
    seen["crack_between"] = Spot(-260.0, 590.0, MarkKind.CRACK, of="crack")
    case = a_case(spots, camera=a_camera())
    board = Board()
    return Case(
        replace(
            case.job,
            photos=(*case.job.photos, Photo("beside", "beside.jpg", camera="camera")),
            marks=marks(spots, a_camera(), tied=spots) + marks(seen, other, "beside", tied=seen),
        ),
        {**case.facts, "beside": facts_of("beside.jpg")},
        (board.seen_by(a_camera()), board.seen_by(other, "beside")),
    )


def test_marks_of_several_photos_make_one_crack(survey: Survey) -> None:
    """A bend marked only in the second photo goes between its neighbours; two photos are more certain than one."""
    crack = defect(two_photos().survey(), "crack")
    assert crack.photos == ("astern", "beside")
    assert len(crack.place) == 4
    assert crack.size.value == pytest.approx(170.0, abs=0.02)
    assert crack.size.u < defect(survey, "crack").size.u


def bowed() -> Case:
    """The same places on a face bowed in plan, rolled out: girth along it, seen from two places."""
    spots = {**all_spots(), **damage_spots()}
    surface, bend = Bowed(np.array([0]), 0.0), np.array([CURVATURE])
    bent = {n: surface.space(s.place[None], bend)[0] for n, s in spots.items()}
    cameras = {"astern": a_camera(yaw=20.0, pitch=10.0), "beside": a_camera(yaw=-20.0, pitch=-6.0)}
    found: list[Mark] = []
    for photo, camera in cameras.items():
        places = camera.project(np.array(list(bent.values())))
        flat = marks(spots, camera, photo, tied=spots)
        found += [replace(m, x_px=float(u), y_px=float(v)) for m, (u, v) in zip(flat, places, strict=True)]
    ends = ("chine_port", "chine_starboard")
    chord = float(np.linalg.norm(bent[ends[0]] - bent[ends[1]]))
    case = a_case(spots, boards=())
    job = replace(
        case.job,
        face=Face(FaceKind.BOWED),
        cameras=(calibrated(a_camera()),),
        photos=tuple(Photo(p, f"{p}.jpg", camera="camera") for p in cameras),
        marks=tuple(found),
        lengths=(KnownLength("beam", *ends, chord, 1.0),),
    )
    return Case(job, {p: facts_of(f"{p}.jpg") for p in cameras})


def test_damage_on_a_bowed_face_is_measured_along_the_surface() -> None:
    """Length and area are those of the face rolled flat, not of its shadow."""
    found = bowed().survey()
    assert found.curvature_per_mm == pytest.approx(CURVATURE, rel=5e-3)  # the prior on it pulls a little
    assert defect(found, "crack").size.value == pytest.approx(170.0, abs=0.05)  # mm
    assert defect(found, "wet").size.value == pytest.approx(30_000.0, abs=15.0)  # mm²
    assert defect(found, "wet").x.value == pytest.approx(300.0, abs=2.0)  # mm; the string's slope turns it a little


def test_readings_stay_on_the_meters_own_scale() -> None:
    """A reading and a sounding have their place; the value is the meter's, untouched."""
    found = surveyed(
        meters=(Meter("m", "pin-less", "relative, 0 to 999", 0.0, 999.0),),
        meter_readings=(MeterReading("r1", "m", "grid_-200.0", 182.0), MeterReading("r2", "m", "wet_1", 5, False)),
        soundings=(Sounding("s1", "grid_300.0", Sound.DULL, note="by the drain"),),
    )
    reading, sounding = found.readings
    assert (reading.value, reading.meter, reading.sound) == (182.0, "m", None)
    assert (sounding.value, sounding.sound, sounding.note) == (None, "dull", "by the drain")
    assert reading.x == pytest.approx(-200.0, abs=4.0)  # mm; the string's slope turns the axes
    assert 0.0 < reading.U_place < 20.0


def with_close_up(*extra: Mark, lengths: tuple[KnownLength, ...] = ()) -> Case:
    """One photo, and a close-up of the crack with a rule in it."""
    case = a_case({**all_spots(), **damage_spots()})
    job = replace(
        case.job,
        photos=(*case.job.photos, Photo("detail", "detail.jpg", kind=PhotoKind.CLOSE_UP)),
        marks=(*case.job.marks, *extra),
        lengths=lengths,
        defects=(Defect("crack", DefectKind.CRACK, close_ups=("detail",)),),
    )
    return Case(job, {**case.facts, "detail": facts_of("detail.jpg")}, case.sightings)


def test_close_up_takes_no_part_in_the_adjustment(survey: Survey) -> None:
    """The figures are those without it, its marks are nobody's points, and its rule is not missed."""
    ends = (
        Mark("zero", "detail", MarkKind.LENGTH_END, 500.0, 500.0, 1.0),
        Mark("hundred", "detail", MarkKind.LENGTH_END, 2500.0, 500.0, 1.0),
    )
    found = with_close_up(*ends, lengths=(KnownLength("rule", "zero", "hundred", 100.0, 0.2),)).survey()
    assert defect(found, "crack").size.value == defect(survey, "crack").size.value
    assert [p.id for p in found.photos] == ["astern"]
    assert "left_out" not in codes(found)
    assert steps(with_close_up(*ends).job)[0].holds == "1 photo"
    (close,) = found.close_ups
    assert close.mm_per_px == pytest.approx(0.05)
    relative = math.sqrt(0.002**2 + 2.0 / 2000.0**2 + U_TILT**2)
    assert close.u_mm_per_px == pytest.approx(0.05 * relative)


def test_close_up_without_a_scale_says_so() -> None:
    """Nothing of known length in it: no figure."""
    (close,) = with_close_up().survey().close_ups
    assert close.mm_per_px is None
    assert close.scale == "no scale in it"


def test_close_up_takes_its_scale_from_a_target() -> None:
    """A board seen square on from a known distance: millimetres per pixel are distance over focal length."""
    case = with_close_up()
    camera = a_camera(yaw=0.0, pitch=0.0, roll=0.0, distance=1000.0, k1=0.0, aim=(10.0, 590.0))
    seen = Board().seen_by(camera, "detail")
    found = measure(case.job, case.facts, (*case.sightings, seen))
    (close,) = found.close_ups
    assert close.mm_per_px == pytest.approx((1000.0 - 4.0) / camera.f, rel=1e-3)
    assert close.scale == "target board"


def test_photo_facts_come_from_the_file() -> None:
    """The log of a close-up has fingerprint, time and device as the file says."""
    case = with_close_up()
    facts = PhotoFacts(
        "detail.jpg", "ab" * 32, 800, 600, 1, "2025-05-06T10:00:00", "K2", None, None, None, None, "JPEG"
    )
    (close,) = measure(case.job, {**case.facts, "detail": facts}, case.sightings).close_ups
    assert (close.sha256, close.captured, close.device) == ("ab" * 32, "2025-05-06T10:00:00", "K2")


def test_sample_against_its_truth() -> None:
    """Cracks of the sample within 3 mm and areas within 2 %, all inside their U."""
    from digitizer.cli.work import measured, opened
    from digitizer.samples import sample_job

    job_file = opened(sample_job("damaged_two"), lambda _words: None)
    found = measured(job_file, lambda _words: None).survey
    known = json.loads(job_file.path.with_name("truth.json").read_text())
    lengths = {c["name"]: c["length_mm"] for c in known["cracks"]}
    areas = {a["name"]: a["area_mm2"] for a in known["areas"]}
    assert {d.id for d in found.defects} == set(lengths) | set(areas)
    for d in found.defects:
        true = (areas if d.closed else lengths)[d.id]
        assert abs(d.size.value - true) < (0.02 * true if d.closed else 3.0)
        assert abs(d.size.value - true) < d.size.U
