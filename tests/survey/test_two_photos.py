"""Two photos of one flat transom, tied by the points they share."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitizer.errors import AdjustmentError, RankDeficientError
from digitizer.job.model import Job, Mark, MarkKind, Photo
from tests.survey.exact import (
    Board,
    Case,
    Spot,
    a_camera,
    a_case,
    all_spots,
    assert_true,
    calibrated,
    codes,
    dimension,
    facts_of,
    marks,
    truth,
)

TAPED = (
    ("chine_port", "chine_starboard"),
    ("top_port", "top_starboard"),
    ("chine_port", "top_starboard"),
    ("chine_starboard", "top_port"),
    ("chine_port", "top_port"),
)
LEFT, RIGHT = a_camera(-22.0, 4.0), a_camera(25.0, 8.0, -1.0, 2900.0)
SPOTS = all_spots()


def two_photos(second: dict[str, Spot] | None = None, board_in_both: bool = True, boards: bool = True) -> Case:
    """A board seen from port and from starboard; all points tied."""
    second = SPOTS if second is None else second
    tied = set(second)
    board = Board()
    job = Job(
        cameras=(calibrated(LEFT),),
        photos=(Photo("left", "left.jpg"), Photo("right", "right.jpg")),
        marks=(*marks(SPOTS, LEFT, "left", tied), *marks(second, RIGHT, "right", tied)),
        targets=(board.record,) if boards else (),
    )
    sightings = [board.seen_by(LEFT, "left")] + [board.seen_by(RIGHT, "right")] * board_in_both
    facts = {name: facts_of(f"{name}.jpg") for name in ("left", "right")}
    return Case(job, facts, tuple(sightings) if boards else (), SPOTS, LEFT)


def test_both_agree_with_one_and_are_more_certain() -> None:
    """Dimensions from two photos are the truth, and every U is smaller than from either photo alone."""
    both = two_photos().survey()
    assert_true(both, truth())
    for name, camera in (("left", LEFT), ("right", RIGHT)):
        alone = a_case(camera=camera).survey()
        for d in alone.dimensions:
            if d.code != "reference_straightness":
                assert dimension(both, d.code).U < d.U, (name, d.code)
    assert [p.id for p in both.photos] == ["left", "right"]
    assert both.adjustment.redundancy > 60.0


def test_photos_tied_by_marks_alone() -> None:
    """A second photo without the board is tied by the points that it shares."""
    survey = two_photos(board_in_both=False).survey()
    assert_true(survey, truth())
    assert "left_out" not in codes(survey)


def test_photos_tied_by_a_few_marks() -> None:
    """Four shared points, not on one line, are enough to place the second photo."""
    shared = {n: SPOTS[n] for n in ("keel", "chine_port", "chine_starboard", "top_port", "top_starboard")}
    assert_true(two_photos(shared, board_in_both=False).survey(), truth())


def test_photos_tied_by_the_board_alone() -> None:
    """A second photo that shares only the board is placed by it."""
    extra = {"elsewhere": Spot(300.0, 700.0, MarkKind.OUTLINE)}
    survey = two_photos(extra).survey()
    assert_true(survey, truth())
    placed = next(p for p in survey.points if p.id == "elsewhere")
    assert (placed.x, placed.y) == pytest.approx((300.0 + 700.0 * 0.003, 700.0 - 300.0 * 0.003), abs=0.05)


def test_a_photo_that_nothing_ties_is_named() -> None:
    """A second photo that shares neither points nor a board with the first is refused by name, with the remedy."""
    strangers = {f"other {n}": s for n, s in SPOTS.items() if n.startswith("bottom_port")}
    with pytest.raises(RankDeficientError, match=r"^Nothing fixes where the camera of right stood: mark four or more "):
        two_photos(strangers, board_in_both=False).survey()


def test_one_point_pair_ties_nothing() -> None:
    """Two photos that share a single place are refused like strangers: one pair leaves the camera free to turn."""
    shared = {"keel": SPOTS["keel"]}
    with pytest.raises(RankDeficientError, match=r"^Nothing fixes where the camera of right stood: mark four or more "):
        two_photos(shared, board_in_both=False).survey()


def test_a_mirrored_photo_is_refused_with_what_to_do() -> None:
    """A photo flipped as selfies are shows starboard on the left, and the refusal says to flip it back."""
    case = a_case(boards=())
    for first, second in TAPED:
        case = case.with_length(first, second)
    (facts,) = case.facts.values()
    mirrored = case.but(marks=tuple(replace(m, x_px=facts.width_px - 1 - m.x_px) for m in case.job.marks))
    with pytest.raises(
        AdjustmentError, match=r"Port and starboard are exchanged .* flip the photo back if it is mirror"
    ):
        mirrored.survey()


def test_a_mark_behind_the_camera_is_refused_by_name() -> None:
    """Seen from 58° off square the face's plane ends within the picture; a mark beyond that lies behind the camera."""
    case = a_case(camera=a_camera(58.0, 3.0))
    stray = Mark("stray", case.job.marks[0].photo, MarkKind.OUTLINE, 5.0, 1500.0)
    with pytest.raises(AdjustmentError, match=r"^Mark stray in photo .* meets the face behind the camera"):
        case.but(marks=(*case.job.marks, stray)).survey()


def test_a_point_mistaken_in_one_photo() -> None:
    """A point marked on different things in two photos contradicts itself, and one of its marks is named."""
    case = two_photos()
    survey = case.with_mark_moved("right: chine_port", dy=35.0).survey()
    subjects = [f.subject for f in survey.findings if f.code in ("outlier", "undecided")]
    assert any("chine_port" in s for s in subjects)


def test_two_photos_need_no_board_but_a_length() -> None:
    """Two photos of the same plane and one tape figure solve what one photo and one figure can't."""
    case = two_photos(boards=False).with_length("chine_port", "chine_starboard")
    survey = case.but(lengths=(replace(case.job.lengths[0], u_mm=0.5),)).survey()
    for code, true in truth().items():
        found = dimension(survey, code)
        assert abs(found.value - true) < max(found.U, 0.05), code
