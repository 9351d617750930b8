"""Targets found in pictures with known truth: places, their stated uncertainty, and what is not to be found."""

from __future__ import annotations

import json
from pathlib import Path
from time import perf_counter

import cv2
import numpy as np
import pytest

from digitizer.errors import JobFileError
from digitizer.imaging.photo import gray_pixels
from digitizer.imaging.targets import find_targets, object_points
from digitizer.job.model import Target, TargetKind
from tests.imaging.rendering import a_board, a_grid, a_marker, a_view, bent, picture, seen, through_a_lens

SAMPLES = Path(__file__).parents[2] / "sample_images"


def errors(detection, target, H):
    """Found minus true places, (n, 2), px."""
    return detection.image_points - seen(H, object_points(target, detection.corner_ids))


def the_only(gray, target):
    (detection,) = find_targets(gray, [target])
    assert detection.target_id == target.id
    return detection


@pytest.mark.parametrize(
    ("view", "make", "least"),
    [
        pytest.param({}, {}, 35, id="square-on"),
        pytest.param({"turn": 0.5}, {}, 35, id="turned-29-deg"),
        pytest.param({"turn": 0.5, "tilt": 0.5}, {}, 35, id="oblique"),
        pytest.param({"turn": 3.0}, {}, 35, id="upside-down"),
        pytest.param({}, {"noise": 10}, 35, id="noisy"),
        pytest.param({}, {"blur_px": 2.0}, 20, id="blurred"),
        pytest.param({}, {"black": 100, "white": 130}, 35, id="low-contrast"),
        pytest.param({"scale": 0.45}, {}, 12, id="squares-of-25-px"),
    ],
)
def test_board_corners_within_their_uncertainty(view, make, least):
    """Corners are off by no more than they say, and not to one side: pixel centres are whole numbers."""
    target, H = a_board(), a_view(**view)
    detection = the_only(picture([(target, H)], **make), target)
    off = errors(detection, target, H)
    assert len(detection.corner_ids) >= least  # light spreads over black modules a few px wide
    assert np.sqrt(np.mean((off / detection.u_px[:, None]) ** 2)) < 1.25  # 1, with room for 70 samples (3 sigma)
    # A convention off by half a pixel would show at once; 0.5 u leaves room for chance.
    assert np.abs(off.mean(axis=0)).max() < 0.5 * detection.u_px.max()


def test_sharp_board_is_good_to_a_tenth_of_a_pixel():
    """In an ordinary picture saddle corners are stated, and are, within 0.05 to 0.1 px."""
    target, H = a_board(), a_view()
    detection = the_only(picture([(target, H)]), target)
    assert detection.u_px.max() < 0.1
    assert np.sqrt(np.mean(errors(detection, target, H) ** 2)) < 0.05


@pytest.mark.parametrize("make", [{"noise": 25}, {"blur_px": 3.0}, {"black": 110, "white": 135}], ids=str)
def test_poor_picture_states_more(make):
    """Noise, blur and low contrast widen the stated uncertainty."""
    target, H = a_board(), a_view()
    good = np.median(the_only(picture([(target, H)]), target).u_px)
    assert np.median(the_only(picture([(target, H)], **make), target).u_px) > 1.2 * good


@pytest.mark.parametrize(
    ("target", "view", "make"),
    [
        pytest.param(a_grid(), {"scale": 1.5}, {}, id="grid"),
        pytest.param(a_grid(), {"scale": 1.5, "turn": 0.4, "tilt": 0.4}, {}, id="grid-oblique"),
        pytest.param(a_grid(), {"scale": 1.5}, {"blur_px": 2.0}, id="grid-blurred"),
        pytest.param(a_grid(), {"scale": 0.5}, {}, id="grid-small"),
        pytest.param(a_marker(), {"scale": 1.5, "turn": 0.4}, {}, id="marker"),
        pytest.param(a_marker(), {"scale": 0.25, "turn": 0.4}, {}, id="marker-of-30-px"),
        pytest.param(a_marker(), {"scale": 1.5, "turn": 0.4}, {"blur_px": 3.0}, id="marker-blurred"),
    ],
)
def test_marker_corners_within_their_uncertainty(target, view, make):
    """Marker corners are off by no more than they say, and not to one side."""
    H = a_view(**view)
    detection = the_only(picture([(target, H)], **make), target)
    off = errors(detection, target, H)
    assert len(off) == 4 * target.columns * target.rows
    # 1, with room for the tone curve, which moves all corners of a picture alike.
    assert np.sqrt(np.mean((off / detection.u_px[:, None]) ** 2)) < 1.6
    assert np.abs(off.mean(axis=0)).max() < 0.1  # px: no half pixel


def test_sharp_marker_is_good_to_a_tenth_of_a_pixel():
    """From its four sides, a marker's corners are stated, and are, within a tenth of a pixel."""
    target, H = a_marker(), a_view(1.2, turn=0.4)
    detection = the_only(picture([(target, H)]), target)
    assert detection.u_px.max() < 0.1
    assert np.sqrt(np.mean(errors(detection, target, H) ** 2)) < 0.1


def test_marker_with_a_hidden_side_gives_no_corner_of_that_side():
    """A thumb over half a side: of a grid the marker's two other corners remain, a single marker isn't used."""
    alone, grid, H = a_marker(), a_grid(), a_view(1.4, turn=0.3)
    for target, first, left in ((alone, 4 * 90, set()), (grid, 4 * 40, {162, 163})):
        gray = picture([(target, H)])
        (a, b) = seen(H, object_points(target, [first, first + 1]))
        cv2.circle(gray, tuple(int(v) for v in (a + b) / 2), int(0.3 * np.hypot(*(b - a))), 120, -1)
        detections = find_targets(gray, [target])
        given = {number for detection in detections for number in detection.corner_ids if number < first + 4}
        assert given <= left
        assert bool(detections) == (target is grid)


@pytest.mark.parametrize("legacy", [False, True])
@pytest.mark.parametrize(("columns", "rows"), [(8, 6), (7, 5), (5, 7), (9, 4)])
def test_both_board_layouts_are_read(columns, rows, legacy):
    """Current and legacy boards are found and told apart where they differ: with an even number of rows."""
    target, H = a_board(columns, rows), a_view()
    detection = the_only(picture([(target, H)], legacy=legacy), target)
    assert detection.legacy == (legacy and rows % 2 == 0)
    assert len(detection.corner_ids) == (columns - 1) * (rows - 1)
    assert np.abs(errors(detection, target, H)).max() < 0.5


def test_opencvs_own_drawing_is_read():
    """A board drawn by OpenCV gives OpenCV's corners."""
    board = cv2.aruco.CharucoBoard((7, 5), 35.0, 26.0, cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100))
    gray = cv2.copyMakeBorder(
        board.generateImage((700, 500), marginSize=0), 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=255
    )
    target = a_board(7, 5, square_mm=35.0, marker_mm=26.0)
    detection = the_only(gray, target)
    # Drawn at 100 px a square from the outer edge of the first pixel, which lies half a pixel before its centre.
    rows, columns = np.divmod(np.arange(24), 6)
    true = np.column_stack([columns + 1, rows + 1]) * 100.0 + 60.0 - 0.5
    assert detection.image_points == pytest.approx(true, abs=0.1)


def test_partly_hidden_board_gives_the_corners_seen():
    """What an arm hides is left out, and the rest is as good as ever."""
    target, H = a_board(), a_view()
    detection = the_only(picture([(target, H)], hidden=(380, 100, 520, 420)), target)
    places = seen(H, object_points(target, range(35)))
    covered = (np.abs(places - (450, 260)) < (65, 155)).all(axis=1)
    assert not set(detection.corner_ids) & set(np.flatnonzero(covered))
    assert len(detection.corner_ids) >= 20
    assert np.abs(errors(detection, target, H)).max() < 0.4


def test_several_targets_in_one_photo():
    """Board, grid and marker side by side are found, in the order asked for."""
    placed = [
        (a_board(7, 5, square_mm=35.0, marker_mm=26.0), a_view(1.1, (170, 150), 0.1)),
        (a_grid(2, 2), a_view(1.1, (560, 160), -0.1)),
        (a_marker(90), a_view(1.1, (250, 450), 0.3)),
        (a_marker(91), a_view(1.1, (560, 450), -0.3)),
    ]
    detections = find_targets(picture(placed), [target for target, _ in placed])
    assert [d.target_id for d in detections] == [target.id for target, _ in placed]
    for detection, (target, H) in zip(detections, placed, strict=True):
        assert np.abs(errors(detection, target, H)).max() < 0.6


def test_another_dictionary_is_read():
    """Targets of several dictionaries may hang together."""
    placed = [
        (a_marker(3, dictionary="DICT_4X4_50"), a_view(1.5, (200, 300), 0.1)),
        (a_marker(3, id="other", dictionary="DICT_6X6_250"), a_view(1.5, (600, 300), 0.1)),
    ]
    assert len(find_targets(picture(placed), [target for target, _ in placed])) == 2


@pytest.mark.parametrize("target", [a_board(), a_grid(), a_marker()], ids=lambda t: t.kind.value)
def test_bare_wall_shows_no_target(target):
    """Nothing is found where nothing is."""
    assert find_targets(picture([]), [target]) == []


def test_markers_of_another_board_are_no_board():
    """Markers that bear a board's numbers but hang elsewhere don't make its corners."""
    stray = [
        (a_marker(n, marker_mm=41.0), a_view(1.5, c, 0.2 * n))
        for n, c in enumerate([(150, 150), (600, 200), (300, 450)])
    ]
    assert find_targets(picture(stray), [a_board()]) == []


def test_stray_marker_does_not_disturb_the_board():
    """One of a board's numbers elsewhere in the picture, its own being hidden, is left out."""
    board, H = a_board(7, 5, square_mm=35.0, marker_mm=26.0), a_view(1.5, (260, 300), 0.0)
    x, y = seen(H, np.array([[-70.0, 70.0]]))[0].astype(int)  # the marker of number 0
    stray = (a_marker(0, marker_mm=60.0), a_view(1.5, (680, 300), 0.3))
    gray = picture([(board, H), stray], hidden=(x - 22, y - 22, x + 22, y + 22))
    assert np.abs(errors(the_only(gray, board), board, H)).max() < 0.4


def test_marker_seen_twice_is_left_out():
    """Two prints of one marker can't be told apart, so neither is taken."""
    marker = a_marker(90)
    gray = picture([(marker, a_view(1.2, (200, 300))), (marker, a_view(1.2, (600, 300)))])
    assert find_targets(gray, [marker]) == []


def test_targets_that_share_a_marker_are_refused():
    """Nothing tells two targets with common marker numbers apart."""
    with pytest.raises(JobFileError, match="board and marker 3 both have marker 3"):
        find_targets(np.zeros((10, 10), dtype=np.uint8), [a_board(), a_marker(3)])


def test_unknown_dictionary_is_refused():
    """A dictionary that doesn't exist is refused with an example of one that does."""
    with pytest.raises(JobFileError, match="DICT_5X5_100"):
        find_targets(np.zeros((10, 10), dtype=np.uint8), [a_marker(3, dictionary="DICT_NONE")])


def test_no_targets_cost_nothing():
    """Without targets there is nothing to find."""
    assert find_targets(np.zeros((10, 10), dtype=np.uint8), []) == []


def test_large_photo_is_searched_reduced_and_placed_in_full():
    """In a photo beyond the size searched first, corners are still those of the full picture."""
    target, H = a_board(), a_view(1.2, (1300.4, 1000.6))
    small = picture([(target, a_view(1.2, (400.4, 300.6)))])
    gray = np.full((2000, 2600), 125, dtype=np.uint8)
    gray[700:1300, 900:1700] = small
    detection = the_only(gray, target)
    assert len(detection.corner_ids) == 35
    assert np.abs(errors(detection, target, H).mean(axis=0)).max() < 0.03  # px


def sample(folder, photo):
    record = json.loads((SAMPLES / folder / "truth.json").read_text(encoding="utf-8"))
    true = record["photos"][photo]["pixels"]["target_inner_corners"]
    file = SAMPLES / folder / record["photos"][photo]["file"]
    return pytest.param(file, record["target"], true, id=f"{folder}-{photo + 1}")


SAMPLE_PHOTOS = [
    sample("flat_square_on", 0),
    sample("flat_oblique_wide", 0),
    *(sample("bowed_three", photo) for photo in range(3)),
    *(sample("padded_two", photo) for photo in range(2)),
    *(sample("damaged_two", photo) for photo in range(2)),
]


@pytest.mark.parametrize(("file", "spec", "true"), SAMPLE_PHOTOS)
def test_board_of_a_sample_photo(file, spec, true):
    """On the bundled renders every corner is found, and the stated uncertainty is that of the errors."""
    target = Target(
        id="board",
        kind=TargetKind.CHARUCO,
        dictionary=spec["dictionary"],
        columns=spec["columns"],
        rows=spec["rows"],
        square_mm=spec["square_length_mm"],
        marker_mm=spec["marker_length_mm"],
    )
    gray = gray_pixels(file.read_bytes(), file.name)
    start = perf_counter()
    detection = the_only(gray, target)
    assert perf_counter() - start < 2.0  # s; 0.05 to 0.16 s on a quiet machine
    off = detection.image_points - np.array(true)[list(detection.corner_ids)]
    assert len(off) >= len(true) - 1
    assert np.sqrt(np.mean(off**2)) < 0.16  # px
    assert 0.7 < np.sqrt(np.mean((off / detection.u_px[:, None]) ** 2)) < 1.25
    assert np.abs(off.mean(axis=0)).max() < 0.09  # px: no half pixel


@pytest.mark.parametrize("k1", [-0.3, -0.1, 0.1])
def test_board_that_fills_a_wide_lens(k1):
    """Strong distortion over the whole picture neither loses corners nor widens them beyond use."""
    target, H = a_board(9, 6), a_view(1.4)
    gray = through_a_lens(picture([(target, H)]), k1, f_px=500.0)
    detection = the_only(gray, target)
    true = bent(seen(H, object_points(target, detection.corner_ids)), gray, k1, 500.0)
    assert len(detection.corner_ids) >= 38
    assert np.abs(detection.image_points - true).max() < 0.4  # px
    assert detection.u_px.max() < 0.3
