"""A scene photographed and marked: the job's records, with the truth that nobody at work on it knows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import (
    Angle,
    AngleKind,
    Calibration,
    Camera,
    Fitting,
    FittingKind,
    Instrument,
    Job,
    KnownLength,
    LineKind,
    Mark,
    MarkKind,
    MirrorPair,
    Photo,
    Rake,
    Sighting,
    StraightLine,
)
from tests.builders import DIAGONAL_PX, HEIGHT_PX, WIDTH_PX, FloatArray, SimTransom
from tests.simulation.drawing import RIM_MARKS, a_scene
from tests.simulation.evidence import EVIDENCE, F_NOMINAL, STRICT, Evidence, Precision, lens_prior
from tests.simulation.scene import Scene


@dataclass(frozen=True)
class Simulated:
    """A job with the truth that nobody at work on it knows."""

    job: Job
    sightings: tuple[Sighting, ...]
    facts: dict[str, PhotoFacts]
    truth: dict[str, float]
    scene: Scene


def simulated_job(
    seed: int,
    evidence: Evidence | str,
    *,
    precision: Precision = STRICT,
    noise: float = 1.0,
    hull: SimTransom | None = None,
) -> Simulated:
    """
    A job drawn from `seed`, its exact truth beside it.

    Parameters
    ----------
    evidence
        A key of `EVIDENCE`, or one's own.
    precision
        What comes on top of the clicks.
    noise
        Factor on the scatter of clicks and readings; 0 for a faultless job (with the boat and camera still drawn).
    """
    if isinstance(evidence, str):
        evidence = EVIDENCE[evidence]
    rng = np.random.default_rng(seed)
    scene = a_scene(rng, evidence, precision, hull or SimTransom())
    pixels = scene.pixels(scene.theta)
    pixels = pixels + noise * rng.normal(0.0, 1.0, pixels.shape) * scene.pixel_u()[:, None]
    lengths = scene.length_values(scene.theta)
    lengths = lengths + noise * rng.normal(0.0, 1.0, lengths.shape) * np.array([u for *_, u, _ in scene.lengths])
    return Simulated(
        _job(scene, pixels, lengths), _sightings(scene, pixels), _facts(evidence), scene.dimensions(scene.theta), scene
    )


def _facts(evidence: Evidence) -> dict[str, PhotoFacts]:
    focal = F_NOMINAL * 43.27 / DIAGONAL_PX if evidence.exif else None
    facts = PhotoFacts(
        name="astern.jpg", sha256="0" * 64, width_px=WIDTH_PX, height_px=HEIGHT_PX, orientation=1, captured=None,
        device=None, focal_35mm=focal, focal_mm=None, exif_width_px=None, exif_height_px=None, file_format="JPEG",
    )  # fmt: skip
    return {"astern": facts}


def _job(scene: Scene, pixels: FloatArray, lengths: FloatArray) -> Job:
    evidence, precision = scene.evidence, scene.precision
    return Job(
        title="simulated",
        cameras=(Camera("camera", _calibration(evidence)),),
        photos=(Photo("astern", "astern.jpg", u_square_deg=evidence.u_square_deg),),
        marks=_marks(scene, pixels),
        lines=(StraightLine("reference", LineKind.STRING, True, precision.string_mm),),
        lengths=tuple(
            KnownLength(name, first, second, float(value), u, instrument=instrument)
            for (name, first, second, u, instrument), value in zip(scene.lengths, lengths, strict=True)
        ),
        instruments=(Instrument("tape", "tape", *precision.tape),),
        targets=tuple(target.record for target in scene.targets),
        rake=Rake(14.0, 0.5),
        mirror_pairs=tuple(MirrorPair(f"pair_{port}", port, other, u) for port, other, u in scene.pairs),
        angles=_angles(evidence),
        fittings=tuple(
            Fitting(name, FittingKind.OTHER, proud_mm=float(proud), u_proud_mm=precision.proud_mm,
                    u_round_mm=precision.round_mm, u_edge_mm=precision.edge_mm)
            for name, proud in zip(scene.fitting_ids, scene.nominal["proud"], strict=True)
        ),
    )  # fmt: skip


def _calibration(evidence: Evidence) -> Calibration | None:
    if not evidence.calibrated:
        return None
    lens, u = lens_prior(evidence)
    return Calibration(
        WIDTH_PX, HEIGHT_PX, lens[0], u[0], lens[1], lens[2], u[1], u_k1=u[3], u_k2=u[4], u_p=1e-7
    )  # fmt: skip


def _marks(scene: Scene, pixels: FloatArray) -> tuple[Mark, ...]:
    rows = iter(pixels)
    marks = [
        Mark(
            name, "astern", place.kind, *map(float, next(rows)), place.u_px, place.side, of=place.of,
            u_definition_mm=place.u_definition, height_mm=place.height, u_height_mm=place.u_height,
        )
        for name, place in scene.places.items()
    ]  # fmt: skip
    marks += [
        Mark(f"string_{n}", "astern", MarkKind.REFERENCE_LINE, *map(float, next(rows)), scene.evidence.line_px,
             of="reference", u_definition_mm=0.0, height_mm=1.2, u_height_mm=scene.precision.height_mm)
        for n in range(1, scene.evidence.string_marks + 1)
    ]  # fmt: skip
    for name in scene.fitting_ids:
        marks += [
            Mark(f"{name}_rim_{n}", "astern", MarkKind.RIM, *map(float, next(rows)), scene.evidence.click_px,
                 of=name, u_definition_mm=0.0)
            for n in range(1, RIM_MARKS + 1)
        ]  # fmt: skip
    return tuple(marks)


def _sightings(scene: Scene, pixels: FloatArray) -> tuple[Sighting, ...]:
    sightings, end = [], len(pixels)
    for target in reversed(scene.targets):
        count = len(target.corners)
        x, y = pixels[end - count : end].T
        u = (target.u_px,) * count
        sightings.append(Sighting(target.id, "astern", target.corner_ids, tuple(x.tolist()), tuple(y.tolist()), u))
        end -= count
    return tuple(reversed(sightings))


def _angles(evidence: Evidence) -> tuple[Angle, ...]:
    if not evidence.square:
        return ()
    return (Angle("square", AngleKind.RIGHT_ANGLE, ("square_2", "square_1"), ("square_2", "square_3"), u_deg=0.1),)
