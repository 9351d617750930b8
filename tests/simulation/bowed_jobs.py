"""A bowed scene drawn, photographed and marked: the job's records, with the truth beside them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import (
    Calibration,
    Camera,
    Face,
    Fitting,
    FittingKind,
    Gap,
    Instrument,
    Job,
    KnownLength,
    LineKind,
    Mark,
    MarkKind,
    Pad,
    Path,
    Photo,
    Rake,
    Side,
    Sighting,
    StraightLine,
)
from tests.builders import DIAGONAL_PX, FITTINGS, HEIGHT_PX, WIDTH_PX, FloatArray, SimFitting, a_pose, top_edge
from tests.simulation.bowed import Bottom, Bow, BowedScene, SimMark
from tests.simulation.bowed_evidence import BOWED, BowedEvidence
from tests.simulation.drawing import EDGE_STATIONS, RIM_MARKS, TOP_STATIONS, a_board
from tests.simulation.evidence import F_NOMINAL, STRICT, Evidence, Precision, lens_prior
from tests.simulation.jobs import Simulated
from tests.simulation.scene import Place

LINE_MARKS = 9
U_GAP, U_TAPE, U_PAD = 1.5, 2.0, 1.0
ON_PAD = SimFitting("pad_bolt", 180.0, 250.0, 30.0, 3.0)
KINDS = {
    "keel": MarkKind.KEEL, "chine_inner": MarkKind.CHINE_INNER, "chine": MarkKind.CHINE, "top": MarkKind.TOP_CORNER,
}  # fmt: skip


@dataclass(frozen=True)
class SimulatedBow(Simulated):
    """A job of several photos; `observed` are its readings divided by their u, in the order of the theory's."""

    observed: FloatArray


def simulated_bow(
    seed: int, evidence: BowedEvidence | str, *, precision: Precision = STRICT, noise: float = 1.0
) -> SimulatedBow:
    """A job drawn from `seed`, its exact truth beside it; see `simulated_job`."""
    if isinstance(evidence, str):
        evidence = BOWED[evidence]
    rng = np.random.default_rng(seed)
    scene, bottom = _drawn(rng, evidence, precision)
    pixels = scene.pixels(scene.theta)
    pixels = pixels + noise * rng.normal(0.0, 1.0, pixels.shape) * scene.pixel_u()[:, None]
    u_lengths = np.array([u for *_, u, _ in scene.lengths])
    lengths = scene.length_values(scene.theta) + noise * rng.normal(0.0, 1.0, len(u_lengths)) * u_lengths
    gaps = scene.relations(scene.theta) + noise * rng.normal(0.0, 1.0, len(scene.gaps)) * scene.relation_u()
    truth = scene.dimensions(scene.theta)
    string = scene.line(scene.theta)
    truth |= bottom.figures(string, truth["a_centre"])
    observed = np.concatenate(
        [(pixels / scene.pixel_u()[:, None]).ravel(), lengths / u_lengths, gaps / scene.relation_u()]
    )
    facts = {photo: _facts(photo) for photo in photo_names(evidence.photos)}
    job = _job(scene, evidence, pixels, lengths, gaps)
    return SimulatedBow(job, _sightings(scene, pixels), facts, truth, scene, observed)


def photo_names(count: int) -> list[str]:
    return [f"photo_{number}" for number in range(1, count + 1)]


def _drawn(rng: np.random.Generator, evidence: BowedEvidence, precision: Precision) -> tuple[BowedScene, Bottom]:
    scene = BowedScene(
        Evidence(calibrated=evidence.calibrated),
        precision,
        photos=evidence.photos,
        boards=evidence.seen_boards,
        crown=30.0,
    )
    curvature = 0.0
    if evidence.radii is not None:
        low, high = sorted(1.0 / np.array(evidence.radii))
        curvature = float(rng.uniform(low, high)) * (-1.0 if evidence.hollow else 1.0)
    scene.unknown("bow", [curvature])
    scene.unknown("rake", [np.radians(14.0)], np.radians(0.5), rng)
    bow = Bow(curvature)
    bottom = Bottom(float(rng.uniform(14.0, 23.0)), float(scene.theta["rake"][0]), bow)
    tied = _outline(scene, rng, bow, bottom, evidence)
    heights = np.zeros(len(scene.places))
    scene.unknown("height", heights, heights)
    scene.unknown("pad", [float(rng.uniform(20.0, 45.0))], U_PAD if evidence.pad == "measured" else np.inf, rng)
    fittings = (*FITTINGS, ON_PAD) if evidence.pad else FITTINGS
    if evidence.pad:
        scene.lifted |= dict.fromkeys([ON_PAD.id, *(name for name in scene.places if name.startswith("pad_"))], "pad")
    _line(scene, rng, evidence)
    _fittings(scene, rng, fittings)
    _board(scene, rng, precision)
    _marks(scene, rng, tied, evidence)
    _by_hand(scene, rng, evidence)
    _cameras(scene, rng, evidence)
    return scene, bottom


def _outline(
    scene: BowedScene, rng: np.random.Generator, bow: Bow, bottom: Bottom, evidence: BowedEvidence
) -> frozenset[str]:
    """Places of the outline; those with a name of their own are marked in all photos, edges anew in each."""
    inner, flat, top = 1130.0 + rng.normal(0.0, 20.0), 20.0, (1200.0, 1010.0)
    at = {"keel": np.zeros(2)}
    for side, sign in ((Side.PORT, -1.0), (Side.STARBOARD, 1.0)):
        rise = bottom.height(inner)
        at[f"chine_inner_{side}"] = np.array([sign * inner, rise])
        at[f"chine_{side}"] = np.array([sign * (inner + flat), rise - 5.0])
        at[f"top_{side}"] = np.array([sign * top[0], top[1]])
    if evidence.pad:
        middle = rng.normal(0.0, 15.0)
        for number, (x, y) in enumerate([(-310.0, 140.0), (310.0, 140.0), (310.0, 350.0), (-310.0, 350.0)], 1):
            at[f"pad_{number}"] = np.array([x + middle, y])
    tied = frozenset(at)
    for photo in range(evidence.photos):
        for side, sign in ((Side.PORT, -1.0), (Side.STARBOARD, 1.0)):
            for number, station in enumerate(EDGE_STATIONS, 1):
                x = sign * inner * station
                at[f"bottom_{side}_{number}@{photo}"] = np.array([x, bottom.height(x)])
        for number, station in enumerate(TOP_STATIONS, 1):
            at[f"top_{number}@{photo}"] = top_edge(at["top_port"], at["top_starboard"], scene.crown, station)
    for name in at:
        scene.places[name] = _place(scene, name)
    xy = np.array(list(at.values()))
    on_pad = np.array([name.startswith("pad_") for name in at])
    girth = np.where(on_pad, xy[:, 0], bow.girth(np.where(on_pad, 0.0, xy[:, 0])))
    scene.unknown("xy", np.column_stack([girth, xy[:, 1]]))
    return tied


def _place(scene: BowedScene, name: str) -> Place:
    stem, _, _ = name.partition("@")
    if stem.startswith("pad_"):
        kind, side, of = MarkKind.PAD, None, "pad"
    elif stem.startswith("bottom_"):
        kind, side, of = MarkKind.BOTTOM_EDGE, Side(stem.split("_")[1]), None
    elif "@" in name:
        kind, side, of = MarkKind.TOP_EDGE, None, None
    else:
        word, _, end = stem.rpartition("_")
        kind, side, of = KINDS[word or stem], Side(end) if word else None, None
    return Place(kind, side, of=of, u_px=0.7, u_definition=scene.precision.definition.get(kind.value, 0.0))


def _line(scene: BowedScene, rng: np.random.Generator, evidence: BowedEvidence) -> None:
    """Edge of a tape laid along the face: its ends the same in all photos, the marks between them not."""
    between = [np.linspace(-800.0, 810.0, LINE_MARKS - 2) + rng.uniform(-40.0, 40.0) for _ in range(evidence.photos)]
    along = np.concatenate([[-930.0, 940.0], *between])
    scene.unknown("string", [890.0, rng.normal(0.0, evidence.u_slope)])
    scene.unknown("string_x", along)
    scene.unknown("string_dev", np.zeros(len(along)), scene.precision.string_mm, rng)
    scene.unknown("string_z", [0.2], scene.precision.height_mm, rng)


def _fittings(scene: BowedScene, rng: np.random.Generator, fittings: tuple[SimFitting, ...]) -> None:
    scene.fitting_ids = tuple(fitting.id for fitting in fittings)
    count, precision = len(fittings), scene.precision
    scene.unknown("fitting", [[f.x, f.y, f.diameter / 2] for f in fittings])
    scene.unknown("proud", [f.proud for f in fittings], precision.proud_mm, rng)
    start = rng.uniform(0.0, 2 * np.pi, (count, scene.photos, 1))
    angles = (start + np.arange(RIM_MARKS) * 2 * np.pi / RIM_MARKS).reshape(count, -1)
    scene.unknown("rim_angle", angles)
    scene.unknown("rim_round", np.zeros(angles.shape), precision.round_mm, rng)
    scene.unknown("rim_edge", np.zeros((count, 1)), precision.edge_mm, rng)


def _board(scene: BowedScene, rng: np.random.Generator, precision: Precision) -> None:
    scene.targets = [a_board(precision)]
    (target,) = scene.targets
    scene.unknown("target", [[*target.place, rng.normal(0.0, np.radians(0.7))]])
    scene.unknown("target_z", [target.record.thickness_mm], precision.thickness_mm, rng)
    lean = max(precision.flatness_mm, 0.1) / target.half.min()
    scene.unknown("target_tilt", np.zeros((1, 2)), lean, rng)
    scene.unknown("target_scale", [0.0], precision.board_scale, rng)
    scene.unknown("target_flat", np.zeros((1, 3)), precision.flatness_mm, rng)


def _marks(scene: BowedScene, rng: np.random.Generator, tied: frozenset[str], evidence: BowedEvidence) -> None:
    """Every click in every photo, and how each may differ from the thing it means."""
    u = []
    for index, (name, place) in enumerate(scene.places.items()):
        stem, _, only = name.partition("@")
        for photo in [int(only)] if only else range(scene.photos):
            scene.marks.append(
                SimMark(
                    f"{stem}@{photo + 1}", photo, index, place.kind, evidence.click_px, stem if name in tied else None,
                    place.side, place.of,
                )
            )  # fmt: skip
            u.append(place.u_definition)
    first = len(scene.places)
    for index in range(len(scene.theta["string_x"])):
        own = range(scene.photos) if index < 2 else [(index - 2) // (LINE_MARKS - 2)]
        for photo in own:
            tie = f"line_{index + 1}" if index < 2 else None
            name = f"line_{index + 1}@{photo + 1}"
            scene.marks.append(
                SimMark(name, photo, first + index, MarkKind.REFERENCE_LINE, evidence.line_px, tie, of="reference")
            )
            u.append(0.0)
    first += len(scene.theta["string_x"])
    for fitting in scene.fitting_ids:
        for index in range(scene.photos * RIM_MARKS):
            photo, number = divmod(index, RIM_MARKS)
            name = f"{fitting}_rim_{number + 1}@{photo + 1}"
            scene.marks.append(SimMark(name, photo, first + index, MarkKind.RIM, evidence.click_px, of=fitting))
            u.append(0.0)
        first += scene.photos * RIM_MARKS
    scene.unknown("definition", np.zeros((len(u), 2)), np.array(u)[:, None], rng)


def _by_hand(scene: BowedScene, rng: np.random.Generator, evidence: BowedEvidence) -> None:
    scene.unknown("tape", [0.0, 0.0], scene.precision.tape, rng)
    ends = ("chine_port", "chine_starboard", U_TAPE, "tape")
    scene.lengths = [(name, *ends) for name, taken in (("girth", evidence.girth), ("chord", evidence.chord)) if taken]
    scene.girths = frozenset({"girth"})
    scene.gaps = [(f"gap_{span:.0f}", span, U_GAP) for span in evidence.gaps]


def _cameras(scene: BowedScene, rng: np.random.Generator, evidence: BowedEvidence) -> None:
    """One camera carried round the stern."""
    lens, u = lens_prior(scene.evidence)
    scene.unknown("lens", lens, u, rng)
    yaws = np.linspace(-1.0, 1.0, evidence.photos) * evidence.spread_deg if evidence.photos > 1 else np.array([12.0])
    poses = [
        a_pose(yaw + rng.normal(0.0, 4.0), rng.normal(6.0, 4.0), rng.normal(0.0, 1.5), 3300.0 + rng.normal(0.0, 80.0),
               (float(rng.normal(0.0, 30.0)), 500.0 + float(rng.normal(0.0, 30.0))))
        for yaw in yaws
    ]  # fmt: skip
    scene.unknown("rotation", [np.ravel(cv2.Rodrigues(rotation)[0]) for rotation, _ in poses])
    scene.unknown("translation", [translation for _, translation in poses])


def _facts(photo: str) -> PhotoFacts:
    return PhotoFacts(
        name=f"{photo}.jpg", sha256="0" * 64, width_px=WIDTH_PX, height_px=HEIGHT_PX, orientation=1, captured=None,
        device=None, focal_35mm=F_NOMINAL * 43.27 / DIAGONAL_PX, focal_mm=None, exif_width_px=None,
        exif_height_px=None, file_format="JPEG",
    )  # fmt: skip


def _job(scene: BowedScene, evidence: BowedEvidence, pixels: FloatArray, lengths: FloatArray, gaps: FloatArray) -> Job:
    precision = scene.precision
    return Job(
        title="simulated, bowed",
        cameras=(Camera("camera", _calibration(scene.evidence)),),
        photos=tuple(Photo(name, f"{name}.jpg") for name in photo_names(scene.photos)),
        marks=tuple(_mark(scene, mark, place) for mark, place in zip(scene.marks, pixels, strict=False)),
        lines=(StraightLine("reference", LineKind.STRAIGHTEDGE, True, precision.string_mm),),
        lengths=tuple(
            KnownLength(name, first, second, float(value), u, Path.GIRTH if name in scene.girths else Path.CHORD, tool)
            for (name, first, second, u, tool), value in zip(scene.lengths, lengths, strict=True)
        ),
        instruments=(Instrument("tape", "tape", *precision.tape),),
        targets=tuple(target.record for target in scene.targets),
        face=Face(evidence.face),
        gaps=tuple(
            Gap(name, span, float(value), u) for (name, span, u), value in zip(scene.gaps, gaps, strict=True)
        ),
        pads=_pads(scene, evidence),
        rake=Rake(14.0, 0.5),
        fittings=tuple(
            Fitting(name, FittingKind.OTHER, proud_mm=float(proud), u_proud_mm=precision.proud_mm,
                    u_round_mm=precision.round_mm, u_edge_mm=precision.edge_mm, on=scene.lifted.get(name))
            for name, proud in zip(scene.fitting_ids, scene.nominal["proud"], strict=True)
        ),
    )  # fmt: skip


def _pads(scene: BowedScene, evidence: BowedEvidence) -> tuple[Pad, ...]:
    if not evidence.pad:
        return ()
    measured = evidence.pad == "measured"
    return (Pad("pad", float(scene.nominal["pad"][0]), U_PAD) if measured else Pad("pad"),)


def _calibration(evidence: Evidence) -> Calibration | None:
    if not evidence.calibrated:
        return None
    lens, u = lens_prior(evidence)
    return Calibration(
        WIDTH_PX, HEIGHT_PX, lens[0], u[0], lens[1], lens[2], u[1], u_k1=u[3], u_k2=u[4], u_p=1e-7
    )  # fmt: skip


def _mark(scene: BowedScene, mark: SimMark, pixel: FloatArray) -> Mark:
    x, y = map(float, pixel)
    record = Mark(
        mark.id, f"photo_{mark.photo + 1}", mark.kind, x, y, mark.u_px, mark.side, mark.tie, mark.of,
        scene.precision.definition.get(mark.kind.value, 0.0),
    )  # fmt: skip
    if mark.kind is MarkKind.REFERENCE_LINE:
        return replace(record, height_mm=0.2, u_height_mm=scene.precision.height_mm)
    return record


def _sightings(scene: BowedScene, pixels: FloatArray) -> tuple[Sighting, ...]:
    found, start = [], len(scene.marks)
    for photo in scene.boards:
        for target in scene.targets:
            x, y = pixels[start : start + len(target.corners)].T
            start += len(target.corners)
            u = (target.u_px,) * len(target.corners)
            found.append(
                Sighting(target.id, f"photo_{photo + 1}", target.corner_ids, tuple(x.tolist()), tuple(y.tolist()), u)
            )
    return tuple(found)
