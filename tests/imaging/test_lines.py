"""Lines from rough strokes, on pictures with exact truth."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitizer.imaging.lines import LineKind, LineSnap, snap_line
from digitizer.imaging.not_found import NotFound
from tests.imaging.edge_pictures import Layer, drawn, ellipse, half_plane, photographed, polygon, shadow_of, string

MIDDLE = np.array([150.3, 100.2])
SIZE = (300, 200)


def directions(turn: float) -> tuple[np.ndarray, np.ndarray]:
    return np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])


def a_stroke(
    turn: float = 0.2, shift: float = 0.0, seed: int = 0, half: float = 90.0, scatter: float = 2.0
) -> np.ndarray:
    along, normal = directions(turn)
    rng = np.random.default_rng(seed)
    return MIDDLE + np.linspace(-half, half, 4)[:, None] * along + shift * normal + rng.normal(0, scatter, (4, 2))


def a_string(turn: float = 0.2, width: float = 2.6, brightness: float = 70.0) -> Layer:
    along, _ = directions(turn)
    return Layer(string(tuple(MIDDLE - 400 * along), tuple(MIDDLE + 400 * along), width), brightness)


def an_edge(turn: float = 0.2, brightness: float = 70.0) -> Layer:
    return Layer(half_plane(tuple(MIDDLE), turn), brightness)


def a_photo(*layers: Layer, seed: int = 1, background: float = 190.0, **camera) -> np.ndarray:
    return photographed(
        drawn(SIZE, layers, background), np.random.default_rng(seed), **({"noise": 3.0, "jpeg": 92} | camera)
    )


def errors(snap: LineSnap, turn: float = 0.2) -> np.ndarray:
    return (snap.points - MIDDLE) @ directions(turn)[1]


def first(found: tuple[LineSnap, ...] | NotFound) -> LineSnap:
    assert found, found
    return found[0]


@pytest.mark.parametrize("turn", [0.0, 0.2, 0.785, 1.571, 2.7])
@pytest.mark.parametrize("layer", [pytest.param(a_string, id="string"), pytest.param(an_edge, id="edge")])
def test_line_in_any_direction(layer, turn: float):
    """Strings and edges are found to a tenth of a pixel from strokes two pixels off, whatever their direction."""
    snap = first(snap_line(a_photo(layer(turn)), a_stroke(turn, half=70.0)))
    assert snap.kind is (LineKind.RIDGE if layer is a_string else LineKind.EDGE)
    assert np.sqrt(np.mean(errors(snap, turn) ** 2)) < 0.1
    assert snap.support > 0.9


def test_points_follow_the_stroke_in_order():
    """Points lie along the whole stroke, one after the other, in its direction."""
    along, _ = directions(0.2)
    stroke = a_stroke()
    for path in (stroke, stroke[::-1]):
        snap = first(snap_line(a_photo(an_edge()), path))
        steps = np.diff(snap.points @ along) * np.sign((path[-1] - path[0]) @ along)
        assert (steps > 0).all()
        assert abs(steps.sum() - 180) < 12


@pytest.mark.parametrize("seed", range(3))
def test_gaps_and_fittings_on_the_line_are_left_out(seed: int):
    """A fitting, a bunk and a gap over a third of the line cost points and no accuracy."""
    along, normal = directions(0.2)
    covers = [
        Layer(ellipse(tuple(MIDDLE + 50 * along + 3 * normal), (14, 11)), 200.0),
        Layer(string(tuple(MIDDLE - 60 * along - 40 * normal), tuple(MIDDLE - 52 * along + 40 * normal), 18.0), 40.0),
    ]
    snap = first(snap_line(a_photo(an_edge(), *covers, seed=seed), a_stroke(seed=seed)))
    assert np.abs(errors(snap)).max() < 0.4
    assert np.sqrt(np.mean(errors(snap) ** 2)) < 0.15
    assert 0.4 < snap.support < 0.9


def test_shadow_beside_an_edge_is_returned_too_and_scores_lower():
    """The soft edge of a shadow seven pixels off is offered, behind the sharp edge of the thing itself."""
    _, normal = directions(0.2)
    real, shadow = (
        an_edge(brightness=110.0),
        shadow_of(half_plane(tuple(MIDDLE), 0.2), tuple(7 * normal), 0.35, soft=5.0),
    )
    found = snap_line(a_photo(real, shadow), a_stroke())
    assert len(found) >= 2
    offsets = [float(np.median(errors(snap))) for snap in found[:2]]
    assert offsets[0] == pytest.approx(0.0, abs=0.1)
    assert offsets[1] == pytest.approx(7.0, abs=0.5)
    assert found[1].score < 0.8 * found[0].score
    assert found[1].spread > 1.2 * found[0].spread


def test_equal_edges_both_score_well():
    """Two edges as near and as strong as one another come back with scores that say so."""
    _, normal = directions(0.2)
    layers = [Layer(half_plane(tuple(MIDDLE + d * normal), 0.2), b) for d, b in ((-6.0, 140.0), (6.0, 90.0))]
    found = snap_line(a_photo(*layers), a_stroke(scatter=0.5))
    assert len(found) == 2
    assert found[1].score > 0.6 * found[0].score


def test_string_is_preferred_to_its_own_edges_and_kind_chooses():
    """Whoever strokes a string means its middle, unless he asks for an edge."""
    gray = a_photo(a_string(width=5.0))
    assert first(snap_line(gray, a_stroke())).kind is LineKind.RIDGE
    edge = first(snap_line(gray, a_stroke(shift=2.5, scatter=0.7), kind=LineKind.EDGE))
    assert edge.kind is LineKind.EDGE
    assert np.median(errors(edge)) == pytest.approx(2.5, abs=0.15)


def test_coloured_string_is_told_from_its_shadow():
    """A red string with its shadow close beneath: off in grey, right with the colours."""
    along, normal = directions(0.2)
    shadow = Layer(
        string(*(tuple(MIDDLE + s * 400 * along + 2.2 * normal) for s in (-1, 1)), 3.0), 0.4, soft=2.0, multiply=True
    )
    channels = [
        a_photo(shadow, a_string(brightness=level), background=ground, jpeg=None, seed=9 + c)
        for c, (level, ground) in enumerate([(180, 198), (85, 193), (70, 186)])
    ]
    rgb = np.stack(channels, axis=-1)
    gray = np.rint(rgb @ [0.299, 0.587, 0.114]).astype(np.uint8)
    in_grey = first(snap_line(gray, a_stroke(), kind=LineKind.RIDGE))
    in_colour = first(snap_line(gray, a_stroke(), colours=rgb, kind=LineKind.RIDGE))
    assert abs(np.median(errors(in_grey))) > 0.5
    assert abs(np.median(errors(in_colour))) < 0.2


def test_colours_show_an_edge_that_is_equally_bright():
    """Green against grey of the same brightness: nothing in grey, an edge with the colours."""
    channels = [
        a_photo(an_edge(brightness=b), background=120.0, jpeg=None, seed=3 + c) for c, b in enumerate((60, 140, 160))
    ]
    rgb = np.stack(channels, axis=-1)
    gray = a_photo(background=120.0)
    assert not snap_line(gray, a_stroke())
    snap = first(snap_line(gray, a_stroke(), colours=rgb))
    assert np.sqrt(np.mean(errors(snap) ** 2)) < 0.15


def bent(points: np.ndarray, k: float) -> np.ndarray:
    """Barrel distortion about the picture's middle."""
    away = points - np.array(SIZE) / 2
    return np.array(SIZE) / 2 + away * (1 + k * np.sum((away / 300.0) ** 2, axis=1, keepdims=True))


def unbent(points: np.ndarray, k: float) -> np.ndarray:
    guess = points
    for _ in range(30):
        guess = guess + points - bent(guess, k)
    return guess


@pytest.mark.parametrize("with_lens", [True, False], ids=["lens-given", "lens-unknown"])
def test_line_bent_by_a_lens(with_lens: bool):
    """A straight edge bent by two pixels is followed whether the lens is known or not."""
    k = -0.12
    top = 40.4
    inside = lambda x, y: unbent(np.column_stack([x.ravel(), y.ravel()]), k)[:, 1].reshape(x.shape) - top  # noqa: E731
    gray = a_photo(Layer(inside, 70.0))
    truth = bent(np.column_stack([np.linspace(20, 280, 5), np.full(5, top)]), k)
    stroke = truth + np.random.default_rng(3).normal(0, 1.5, truth.shape)
    maps = (lambda p: unbent(p, k), lambda p: bent(p, k)) if with_lens else None
    snap = first(snap_line(gray, stroke, straighten=maps))
    assert snap.support > 0.9
    assert np.sqrt(np.mean((unbent(snap.points, k)[:, 1] - top) ** 2)) < 0.1


def test_bent_edge_is_refused_by_a_straight_stroke_in_a_known_lens():
    """The rim of a round fitting is no straight line, and a stroke along an arc says so."""
    arc = MIDDLE + 60 * np.array([[np.cos(a), np.sin(a)] for a in np.linspace(0, 2.5, 7)])
    maps = (lambda p: p, lambda p: p)
    found = snap_line(a_photo(Layer(ellipse(tuple(MIDDLE), (60, 60)), 80.0)), arc, straighten=maps)
    assert not found
    assert "bends" in found.reason


def test_textured_ground_gives_no_line():
    """Many stray edges in all directions make no line."""
    texture = cv2.GaussianBlur(np.random.default_rng(5).normal(0.0, 1.0, SIZE[::-1]), (0, 0), 2.0)
    gray = np.clip(150.0 + 25.0 * texture / texture.std(), 0, 255).astype(np.uint8)
    found = snap_line(gray, a_stroke())
    assert not found or found[0].support < 0.5


def test_stated_u_holds_the_truth():
    """Points over forty pictures of different contrast and noise, the camera's tone curve bent to taste: z near 1."""
    rng = np.random.default_rng(7)
    z = []
    for run in range(40):
        turn = rng.uniform(0, np.pi)
        layer = (a_string if run % 2 else an_edge)(turn, brightness=rng.uniform(40, 150))
        gray = a_photo(layer, seed=run, noise=rng.uniform(1, 5), blur=rng.uniform(0.6, 1.4), curve=rng.normal(1.0, 0.2))
        snap = first(snap_line(gray, a_stroke(turn, seed=run, half=60.0)))
        z += list(errors(snap, turn) / snap.u)
    assert len(z) > 500
    assert 0.6 < np.std(z) < 1.25


def test_polygon_side_is_one_line():
    """A stroke along one side of a plate finds that side and not the next."""
    corners = [(60.2, 50.1), (240.5, 62.3), (238.0, 150.0), (58.0, 140.0)]
    stroke = np.add(corners[:2], [[12, 2], [-12, -1.5]])
    snap = first(snap_line(a_photo(Layer(polygon(corners), 90.0)), stroke))
    along = np.subtract(corners[1], corners[0]) / np.hypot(*np.subtract(corners[1], corners[0]))
    assert np.abs((snap.points - corners[0]) @ [-along[1], along[0]]).max() < 0.35
