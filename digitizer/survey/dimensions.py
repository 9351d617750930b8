"""
From adjusted points to the dimensions of a transom, each as a number that carries its sensitivities.

Nothing is rounded and nothing is judged here; `survey.measure` turns the figures into records with their
uncertainty and budget.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.points import parameter
from digitizer.adjustment.propagation import Number, atan, atan2
from digitizer.job.model import FaceKind, MarkKind, Side
from digitizer.survey.model import Quantity
from digitizer.survey.network import Network, PointInfo
from digitizer.survey.placing import placed
from digitizer.transom.deadrise import carried_deadrise, chord_deadrise, edge_deadrise, section_deadrise
from digitizer.transom.edges import crown, deviations, fitted_polynomial, polynomial_at
from digitizer.transom.surface import sagitta
from digitizer.transom.system import Place, TransomSystem, distance, girth

SIDES = (Side.PORT, Side.STARBOARD)
BOUNDARY = (
    MarkKind.OUTLINE,
    MarkKind.TOP_EDGE,
    MarkKind.TOP_CORNER,
    MarkKind.CHINE,
    MarkKind.CHINE_INNER,
    MarkKind.BOTTOM_EDGE,
    MarkKind.KEEL,
)
"""Kinds of marks that lie on the transom's boundary."""
CORNERS = (MarkKind.KEEL, MarkKind.CHINE, MarkKind.CHINE_INNER, MarkKind.TOP_CORNER, MarkKind.BOTTOM_EDGE)
"""Kinds of marks that the transom system can rest on."""


@dataclass(frozen=True)
class Figure:
    """One dimension before its uncertainty is worked out; length mm, angle rad."""

    code: str
    label: str
    group: str
    quantity: Quantity
    value: Number
    made_from: tuple[str, ...]
    note: str = ""


@dataclass
class Transom:
    """The adjusted points by what they are, in the transom system."""

    network: Network
    x: FloatArray
    system: TransomSystem
    rolled: TransomSystem
    """The same for points of the face rolled flat."""
    places: dict[str, Place]
    developed: dict[str, Place]
    """The same points rolled flat: girth from the keel, height, distance off the surface."""
    infos: dict[str, PointInfo]
    keel: str | None
    """Id of the keel point; none where it is the meeting of the bottom edges."""
    by_chines: bool
    """The x axis runs through the chines, for want of a reference line."""
    reference_height: Number | None = None
    aside: frozenset[str] = frozenset()
    """Points all of whose marks were set aside, so that nothing places them."""

    def ids(self, kind: MarkKind, side: Side | None = None) -> list[str]:
        """Points of a kind, on one side where given: as marked, or else by where they lie."""
        return [i for i in self._by_kind.get(kind, ()) if side is None or self.side_of(i) is side]

    @cached_property
    def _by_kind(self) -> dict[MarkKind, list[str]]:
        out: dict[MarkKind, list[str]] = {}
        for point, info in self.infos.items():
            out.setdefault(info.kind, []).append(point)
        return out

    def side_of(self, point: str) -> Side:
        """Port, starboard or centre of a point."""
        return self._sides[point]

    @cached_property
    def _sides(self) -> dict[str, Side]:
        lies = {i: Side.PORT if float(p.x) < 0.0 else Side.STARBOARD for i, p in self.places.items()}
        return {i: lies[i] if info.side is None else Side(info.side) for i, info in self.infos.items()}

    def of(self, owner: str) -> list[str]:
        """Points that belong to a fitting, a line or a pad."""
        return self._by_owner.get(owner, [])

    @cached_property
    def _by_owner(self) -> dict[str, list[str]]:
        out: dict[str, list[str]] = {}
        for point, info in self.infos.items():
            out.setdefault(info.of or "", []).append(point)
        return out

    def one(self, kind: MarkKind, side: Side) -> str | None:
        """First point of a kind on a side."""
        return next(iter(self.ids(kind, side)), None)

    @property
    def is_bowed(self) -> bool:
        """Whether the face is taken to be bowed, so that girth and chord differ."""
        return self.network.surface is not None

    @property
    def curvature(self) -> float:
        """Of the face, 1/mm; zero for a flat one."""
        surface = self.network.surface
        return 0.0 if surface is None else float(self.x[surface.columns[0]])

    @property
    def straight(self) -> str:
        """Says of a length on a bowed face that it goes straight through."""
        return "straight through (chord)" if self.is_bowed else ""

    def in_system(self, chart: tuple[Number, Number, Number]) -> Place:
        """A place given by its chart coordinates, in the transom system."""
        return self.system.of(Place(*self.network.points.in_space(self.x, chart)))

    def at(self, points: Iterable[str]) -> list[Place]:
        """Places of points."""
        return [self.places[p] for p in points]

    def fitted(self, points: Sequence[str], degree: int) -> list[Number]:
        """Coefficients of the curve fitted to points (see `edges.fitted_polynomial`), worked out once."""
        key = (tuple(points), degree)
        if key not in self._fitted:
            self._fitted[key] = fitted_polynomial(self.at(points), degree)
        return self._fitted[key]

    @cached_property
    def _fitted(self) -> dict[tuple[tuple[str, ...], int], list[Number]]:
        return {}

    def bottom_corner(self, side: Side) -> str | None:
        """Where the bottom ends outboard: the chine flat's inner edge, or the chine where there is no flat."""
        return self.one(MarkKind.CHINE_INNER, side) or self.one(MarkKind.CHINE, side)


def read_transom(n: Network, x: FloatArray, aside: frozenset[str] = frozenset()) -> Transom | None:
    """
    Transom system and the points in it; None where neither a keel nor two bottom edges give an origin.

    `aside` are points that nothing places, because their marks were set aside.
    """
    infos = {info.id: info for info in n.infos if info.kind is not MarkKind.PLUMB_LINE}
    keel = next((i for i, p in infos.items() if p.kind is MarkKind.KEEL), None)
    wanted = [i for i, p in infos.items() if p.kind in CORNERS] if keel is None or n.reference is None else [keel]
    charts = {i: Place(*n.points.propagated_chart(x, n.index[i])) for i in wanted}
    turn, by_chines = _turn(n, x, charts, infos)
    origin = charts[keel] if keel is not None else _edges_meet(charts, infos, turn)
    if origin is None:
        return None
    rolled = TransomSystem(origin, turn)
    system = TransomSystem(Place(*n.points.in_space(x, (origin.x, origin.y, 0.0))), turn, _yaw(n, x, origin))
    which = [n.index[i] for i in infos]
    developed = dict(zip(infos, placed(n.points, x, which, rolled, developed=True), strict=True))
    places = developed
    if n.surface is not None:
        places = dict(zip(infos, placed(n.points, x, which, system, developed=False), strict=True))
    transom = Transom(n, x, system, rolled, places, developed, infos, keel, by_chines, aside=aside)
    if n.reference is not None:
        transom.reference_height = _reference_height(n, x, origin)
    return transom


def _yaw(n: Network, x: FloatArray, origin: Place) -> Number:
    """Turn of the face at the keel about the axis of the bow."""
    if n.surface is None:
        return 0.0
    return parameter(x, int(n.surface.columns[0])) * (origin.x - n.surface.apex)


def _turn(n: Network, x: FloatArray, places: dict[str, Place], infos: dict[str, PointInfo]) -> tuple[Number, bool]:
    """Direction of the x axis in the datum system, and whether it had to be taken from the chines."""
    if n.reference is not None:
        return parameter(x, n.lines[n.reference.id]), False
    for kind in (MarkKind.CHINE, MarkKind.CHINE_INNER, MarkKind.TOP_CORNER):
        ends = [next((i for i, p in infos.items() if p.kind is kind and p.side == s), None) for s in SIDES]
        if ends[0] is not None and ends[1] is not None:
            port, starboard = places[ends[0]], places[ends[1]]
            return atan2(starboard.y - port.y, starboard.x - port.x), True
    return 0.0, True


def _edges_meet(places: dict[str, Place], infos: dict[str, PointInfo], turn: Number) -> Place | None:
    """Meeting point of the two fitted bottom edges."""
    edge = [i for i, p in infos.items() if p.kind is MarkKind.BOTTOM_EDGE]
    if len(edge) < 4:
        return None
    middle = sum(float(places[i].x) for i in edge) / len(edge)
    about = TransomSystem(Place(middle, 0.0), turn)
    inside = {i: about.of(places[i]) for i in edge}
    sides = [[inside[i] for i in edge if (infos[i].side or _guess(inside[i])) == side] for side in SIDES]
    if min(len(side) for side in sides) < 2:
        return None
    (a0, a1), (b0, b1) = (fitted_polynomial(side, 1) for side in sides)
    x = (b0 - a0) / (a1 - b1)
    back = TransomSystem(TransomSystem(Place(0.0, 0.0), turn).of(Place(-middle, 0.0)), -turn)
    return back.of(Place(x, a0 + a1 * x))


def _guess(p: Place) -> Side:
    return Side.PORT if float(p.x) < 0.0 else Side.STARBOARD


def _reference_height(n: Network, x: FloatArray, origin: Place) -> Number:
    """Height of the reference line above the keel point; it is parallel to the x axis by definition."""
    assert n.reference is not None
    phi = n.lines[n.reference.id]
    direction, offset = parameter(x, phi), parameter(x, phi + 1)
    at_origin = TransomSystem(Place(0.0, 0.0), direction).of(origin)
    return offset - at_origin.y


# --- the figures, heading by heading ---------------------------------------------------------------------------


def figures(t: Transom) -> list[Figure]:
    """All dimensions that the marks allow, in the order in which a dimension sheet gives them."""
    return [*_deadrise(t), *_a_and_b(t), *_widths(t), *_heights(t), *_edges(t), *_pads(t), *_rake(t)]


def _deadrise(t: Transom) -> Iterator[Figure]:
    axis = "against the line through the chines" if t.by_chines else ""
    for side in SIDES:
        corner = t.bottom_corner(side)
        chord = None
        if corner is not None and t.keel is not None:
            chord = chord_deadrise(t.places[t.keel], t.places[corner])
            yield _angle(f"deadrise_chord_{side}", f"Deadrise {side}, keel to chine", chord, (t.keel, corner), axis)
        edge = t.ids(MarkKind.BOTTOM_EDGE, side)
        degree = 2 if t.is_bowed else 1
        if len(edge) > degree:
            fitted = edge_deadrise(t.at(edge), t.fitted(edge, degree))
            how = "tangent at the keel of the curve" if t.is_bowed else "line"
            note = "; ".join(filter(None, (axis, f"{how} fitted to {len(edge)} marks")))
            yield _angle(f"deadrise_edge_{side}", f"Deadrise {side}, bottom edge", fitted, edge, note)
            chord = chord if chord is not None else fitted
        yield from _section(t, side, chord, tuple(edge))


def _section(t: Transom, side: Side, face: Number | None, edge: tuple[str, ...]) -> Iterator[Figure]:
    """Deadrise in a section square to the keel: the chine carried there, or the fitted edge by the flat face's rule."""
    if face is None or t.network.rake is None:
        return
    rake, corner = parameter(t.x, t.network.rake), t.bottom_corner(side)
    code, label = f"section_deadrise_{side}", f"Deadrise {side}, section"
    if corner is not None and t.keel is not None:
        carried = carried_deadrise(t.places[t.keel], t.places[corner], rake)
        yield _angle(code, label, carried, (t.keel, corner), "square to the keel, keel to chine")
    else:
        yield _angle(code, label, section_deadrise(face, rake), edge, "square to the keel, from the fitted edge")


def _a_and_b(t: Transom) -> Iterator[Figure]:
    a = t.reference_height
    if a is None:
        return
    offset = t.network.job.settings.b_offset_mm
    line = tuple(i for i, p in t.infos.items() if p.kind is MarkKind.REFERENCE_LINE)
    keel = (t.keel,) if t.keel is not None else ()
    yield _length("a_centre", "A, reference line to keel", "Deadrise", a, (*keel, *line))
    for side in SIDES:
        sign = 1.0 if side is Side.STARBOARD else -1.0
        bottom = bottom_at(t, side, sign * offset)
        if bottom is not None:
            height, made_from, how = bottom
            note = f"{offset:g} mm out from the centreline; bottom {how}"
            yield _length(f"b_{side}", f"B {side}", "Deadrise", a - height, (*made_from, *line), note)


def bottom_at(t: Transom, side: Side, x: float) -> tuple[Number, tuple[str, ...], str] | None:
    """Height of the bottom edge at a distance from the centreline, what it was made from, and how."""
    edge = t.ids(MarkKind.BOTTOM_EDGE, side)
    degree = 2 if t.is_bowed else 1
    if len(edge) > degree:
        return polynomial_at(t.fitted(edge, degree), x), tuple(edge), "from the fitted edge"
    corner = t.bottom_corner(side)
    if corner is None or t.keel is None or t.is_bowed:  # a straight bottom meets a bowed face in a curve, not a chord
        return None
    keel, chine = t.places[t.keel], t.places[corner]
    return (chine.y - keel.y) * x / (chine.x - keel.x), (t.keel, corner), "from the chord keel to chine"


def _widths(t: Transom) -> Iterator[Figure]:
    pairs = (
        ("chine_beam", "Chine beam", MarkKind.CHINE, "outer edges of the chines"),
        ("chine_beam_inner", "Beam at the inner edges of the chine flats", MarkKind.CHINE_INNER, ""),
        ("top_width", "Width between the top corners", MarkKind.TOP_CORNER, ""),
    )
    for code, label, kind, note in pairs:
        port, starboard = (t.one(kind, side) for side in SIDES)
        if port is not None and starboard is not None:
            width = distance(t.places[port], t.places[starboard])
            yield _length(code, label, "Widths", width, (port, starboard), "; ".join(filter(None, (note, t.straight))))
            if t.is_bowed:
                along = girth(t.developed[port], t.developed[starboard])
                yield _length(
                    f"{code}_girth", f"{label}, girth", "Widths", along, (port, starboard), "along the surface"
                )
    for side in SIDES:
        inner, outer = t.one(MarkKind.CHINE_INNER, side), t.one(MarkKind.CHINE, side)
        if inner is not None and outer is not None:
            flat = distance(t.places[inner], t.places[outer])
            yield _length(f"chine_flat_{side}", f"Chine flat {side}", "Widths", flat, (inner, outer))
    yield from _transom_beam(t)


def _transom_beam(t: Transom) -> Iterator[Figure]:
    around = [*t.ids(MarkKind.OUTLINE), *t.ids(MarkKind.CHINE), *t.ids(MarkKind.TOP_CORNER)]
    if len(t.ids(MarkKind.OUTLINE)) < 4:
        return
    port = min(around, key=lambda i: float(t.places[i].x))
    starboard = max(around, key=lambda i: float(t.places[i].x))
    beam = t.places[starboard].x - t.places[port].x
    yield _length(
        "transom_beam",
        "Transom beam, widest marks",
        "Widths",
        beam,
        (port, starboard),
        "between the outermost outline marks",
    )


def _heights(t: Transom) -> Iterator[Figure]:
    top = _top(t)
    if len(top) >= 3:
        edge = t.fitted(top, 2)
        yield _length("height_centre", "Height on the centreline, keel to top edge", "Heights", edge[0], top)
    for kind, code, label in (
        (MarkKind.TOP_CORNER, "height", "Height of the top corner {}"),
        (MarkKind.CHINE, "height_chine", "Height of the chine {}, outer edge"),
        (MarkKind.CHINE_INNER, "height_chine_inner", "Height of the chine flat {}, inner edge"),
    ):
        for side in SIDES:
            point = t.one(kind, side)
            if point is not None:
                yield _length(
                    f"{code}_{side}", label.format(side), "Heights", t.places[point].y, (point,), "above the keel point"
                )


def _top(t: Transom) -> list[str]:
    """Marks of the top edge, its corners included, from port to starboard."""
    return sorted([*t.ids(MarkKind.TOP_EDGE), *t.ids(MarkKind.TOP_CORNER)], key=lambda i: float(t.places[i].x))


def _edges(t: Transom) -> Iterator[Figure]:
    top = _top(t)
    if len(top) >= 3:
        port, *_, starboard = top
        rise = crown(t.fitted(top, 2), t.places[port], t.places[starboard])
        width = float(t.places[starboard].x) - float(t.places[port].x)
        yield _length(
            "crown", "Crown of the top edge", "Edges", rise, top, f"over {width:.0f} mm between its end marks"
        )
    chines = [t.bottom_corner(side) for side in SIDES]
    if chines[0] is not None and chines[1] is not None:
        port_place, starboard_place = t.at(chines)  # type: ignore[arg-type]
        if t.keel is not None:
            shift = (port_place.x + starboard_place.x) * -0.5
            made_from = (t.keel, chines[0], chines[1])
            note = "positive when the keel lies to starboard"
            yield _length("keel_from_middle", "Keel from the middle of the chines", "Edges", shift, made_from, note)
        if not t.by_chines:
            slope = atan((starboard_place.y - port_place.y) / (starboard_place.x - port_place.x))
            note = "positive when the starboard chine is higher"
            yield _angle(
                "chine_line_slope",
                "Line through the chines against the reference line",
                slope,
                (chines[0], chines[1]),
                note,
                "Edges",
            )
    if t.network.up is not None:
        up = t.network.up
        slope = t.system.turn + atan(parameter(t.x, up.roll))
        yield _angle(
            "reference_level",
            "Reference line against level",
            slope,
            (),
            "positive when its starboard end is higher",
            "Edges",
        )


WIDEST = (
    (MarkKind.CHINE, "chine beam"),
    (MarkKind.CHINE_INNER, "inner chine beam"),
    (MarkKind.TOP_CORNER, "top width"),
)


def bow(t: Transom) -> tuple[Figure, Number, float] | None:
    """Sagitta of a bowed face over its widest marked beam, the curvature behind it (1/mm), and that chord (mm)."""
    if t.network.surface is None:
        return None
    curvature = parameter(t.x, int(t.network.surface.columns[0]))
    for kind, name in WIDEST:
        port, starboard = (t.one(kind, side) for side in SIDES)
        if port is not None and starboard is not None:
            chord = t.places[starboard].x - t.places[port].x
            note = f"over {float(chord):.0f} mm, the {name}; positive when the face bulges aft"
            value = sagitta(curvature, chord)
            figure = _length("sagitta", "Bow of the face (sagitta)", "Shape", value, (port, starboard), note)
            return figure, curvature, float(chord)
    return None


def free_deviations(t: Transom) -> tuple[list[str], list[Number]]:
    """Marks whose distance off the bow several photos tell, and that distance, mm; none unless the face is free."""
    if t.network.job.face.kind is not FaceKind.FREE:
        return [], []
    points = [
        i
        for i, p in t.infos.items()
        if p.kind in BOUNDARY and p.marks[0].height_mm is None and len({m.photo for m in p.marks}) > 1
    ]
    points.sort(key=lambda i: (float(t.developed[i].x), float(t.developed[i].y)))
    return points, [t.developed[i].z for i in points]


def _rake(t: Transom) -> Iterator[Figure]:
    """The transom angle, where it was stated or levelled."""
    if t.network.rake is not None:
        note = "face against the perpendicular to the keel line, positive when the top leans aft"
        yield _angle("rake", "Transom angle (rake)", parameter(t.x, t.network.rake), (), note, "Shape")


def _pads(t: Transom) -> Iterator[Figure]:
    """Extent, place and height of each pad."""
    for pad in (p for p in t.network.job.pads if p.active):
        around = [i for i, p in t.infos.items() if p.kind is MarkKind.PAD and p.of == pad.id]
        code, height = f"pad_{pad.id}", parameter(t.x, t.network.pads[pad.id])
        yield _length(
            f"{code}_height", f"{pad.id}, height off the face", "Shape", height, around, "negative when recessed"
        )
        if len(around) < 3:
            continue
        port, starboard = (pick(around, key=lambda i: float(t.developed[i].x)) for pick in (min, max))
        low, high = (pick(around, key=lambda i: float(t.places[i].y)) for pick in (min, max))
        left, right = t.developed[port].x, t.developed[starboard].x
        rise = t.places[high].y - t.places[low].y
        ends = (port, starboard)
        yield _length(f"{code}_width", f"{pad.id}, width", "Shape", right - left, ends, "between its outermost marks")
        yield _length(f"{code}_rise", f"{pad.id}, from lowest to highest mark", "Shape", rise, (low, high))
        middle = (left + right) * 0.5
        yield _length(
            f"{code}_offset", f"{pad.id}, middle from the centreline", "Shape", middle, ends, "positive to starboard"
        )


def straightness_deviations(t: Transom) -> tuple[list[str], list[Number]]:
    """
    Marks of the reference line and how far each lies above it, mm.

    Nothing holds a mark that was set aside, so it stands as it is, with the uncertainty of its nearest neighbour.
    """
    n = t.network
    if n.reference is None or t.reference_height is None:
        return [], []
    on_line = [i for i, p in t.infos.items() if p.kind is MarkKind.REFERENCE_LINE]
    held = [i for i in on_line if i not in t.aside]
    if len(on_line) < 3 or not held:
        return [], []
    on_line.sort(key=lambda i: float(t.developed[i].x))  # from port: draws fall alike whatever the marks' order
    off = dict(zip(on_line, deviations([t.developed[i] for i in on_line], (t.reference_height, 0.0)), strict=True))
    for mark in on_line:
        if mark in t.aside:
            x = float(t.developed[mark].x)
            near = off[min(held, key=lambda i: abs(float(t.developed[i].x) - x))]
            off[mark] = float(off[mark]) + (near - float(near))
    return on_line, list(off.values())


def _angle(
    code: str, label: str, value: Number, made_from: Sequence[str], note: str = "", group: str = "Deadrise"
) -> Figure:
    return Figure(code, label, group, Quantity.ANGLE, value, tuple(made_from), note)


def _length(code: str, label: str, group: str, value: Number, made_from: Sequence[str], note: str = "") -> Figure:
    return Figure(code, label, group, Quantity.LENGTH, value, tuple(made_from), note)
