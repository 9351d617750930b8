"""
Surveys of one invented boat drawn again and again: ``python -m tests.coverage.record_trials [--runs 100]``.

Every unknown is drawn from what the job says of it, so that each U must hold its truth in 95 of 100 cases; two surveys
of the unchanged boat, each with its own string, must disagree by more than U in about 1 of 20 figures.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from digitizer.job.model import Calibration, Camera, Defect, DefectKind, Job, Mark, MarkKind
from digitizer.survey.comparison import Comparison, compared
from digitizer.survey.defaults import DEFINITION_MM
from digitizer.survey.model import Survey
from tests.builders import HEIGHT_PX, WIDTH_PX, FloatArray, SimFitting, SimString
from tests.survey.exact import (
    Board,
    Case,
    Spot,
    a_camera,
    a_case,
    all_spots,
    fitting_record,
    length,
    rim_spots,
)

U_EDGE = 2.0
CRACK = np.array([(-300.0, 500.0), (-260.0, 530.0), (-260.0, 650.0), (-180.0, 700.0)])
WET = np.array([(200.0, 430.0), (420.0, 430.0), (460.0, 560.0), (330.0, 650.0), (180.0, 560.0)])
FITTINGS = (
    SimFitting("bilge", -690.0, 610.0, 60.0, 6.0),
    SimFitting("livewell", 720.0, 560.0, 72.0, 6.0),
    SimFitting("drain", 0.0, 158.0, 46.0, 4.0),
    SimFitting("light_port", -520.0, 330.0, 100.0, 10.0),
    SimFitting("light_starboard", 520.0, 330.0, 100.0, 10.0),
    SimFitting("bolt", 60.0, 800.0, 24.0, 3.0),
)


@dataclass(frozen=True)
class Drawn:
    """A job and its survey."""

    job: Job
    survey: Survey


def drawn_survey(seed: int, fittings: tuple[SimFitting, ...] = FITTINGS, click_px: float = 0.7) -> Drawn:
    """One survey of the boat, everything that is not known drawn; marks put by hand, or as well as `click_px` says."""
    rng = np.random.default_rng(seed)
    string = SimString(890.0 + rng.normal(0.0, 20.0), float(np.tan(np.radians(rng.normal(0.0, 0.3)))))
    spots = {**_defined(all_spots(string=string), rng), **_damage(rng), **_rims(fittings, rng)}
    spots = {name: replace(spot, u_px=min(spot.u_px, click_px)) for name, spot in spots.items()}
    camera = replace(
        a_camera(rng.uniform(-20, 20), rng.uniform(-4, 12), rng.normal(0, 2), rng.uniform(2800, 3800)),
        p1=0.0002 * rng.normal(), p2=0.0002 * rng.normal(),
    )  # fmt: skip
    tilt = tuple(float(t) for t in np.degrees(rng.normal(0.0, 0.1 / 160.0, 2)))
    board = Board(z=4.0 + 0.5 * rng.normal(), scale=1.0 + 0.003 * rng.normal(), tilt_deg=(tilt[0], tilt[1]))
    case = a_case(spots, (board,), camera, _calibrated(camera, rng))
    nominal = tuple(replace(f, proud=g.proud) for f, g in zip(fittings, FITTINGS, strict=True))
    target = replace(case.job.targets[0], thickness_mm=4.0, flatness_mm=0.01)
    job = replace(
        case.job,
        marks=tuple(_clicked(m, rng) for m in case.job.marks),
        targets=(target,),
        lengths=(length(spots, "chine_port", "chine_starboard", 1.0, rng.normal()),),
        fittings=tuple(fitting_record(f) for f in nominal),
        defects=(Defect("crack", DefectKind.CRACK, u_edge_mm=U_EDGE), Defect("wet", DefectKind.WET, u_edge_mm=U_EDGE)),
    )
    seen = case.sightings[0]
    noisy = replace(
        seen,
        x_px=tuple(x + u * rng.normal() for x, u in zip(seen.x_px, seen.u_px, strict=True)),
        y_px=tuple(y + u * rng.normal() for y, u in zip(seen.y_px, seen.u_px, strict=True)),
    )
    return Drawn(job, Case(job, case.facts, (noisy,)).survey())


def true_sizes() -> dict[str, float]:
    """Length of the crack, area of the outline."""
    x, y = WET.T
    area = 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
    return {"crack": float(np.sum(np.hypot(*np.diff(CRACK, axis=0).T))), "wet": area}


def moved(fittings: tuple[SimFitting, ...], name: str, dx: float, dy: float) -> tuple[SimFitting, ...]:
    """The same with one fitting elsewhere."""
    return tuple(replace(f, x=f.x + dx, y=f.y + dy) if f.id == name else f for f in fittings)


def pair(seed: int, second: tuple[SimFitting, ...] = FITTINGS, click_px: float = 0.7) -> Comparison:
    """Two surveys compared, the second of a boat whose fittings may have moved."""
    one, other = drawn_survey(2 * seed, click_px=click_px), drawn_survey(2 * seed + 1, second, click_px)
    return compared(one.survey, other.survey, one.job, other.job)


def _calibrated(camera: object, rng: np.random.Generator) -> Camera:
    """The lens as its calibration has it: off its true values by what the calibration says of itself."""
    c = vars(camera)
    return Camera(
        "camera",
        Calibration(
            WIDTH_PX, HEIGHT_PX, c["f"] * (1 + 0.01 * rng.normal()), 0.01 * c["f"], c["cx"] + 20 * rng.normal(),
            c["cy"] + 20 * rng.normal(), 20.0, c["k1"] + 0.02 * rng.normal(), 0.02 * rng.normal(), u_k1=0.02, u_k2=0.02,
        ),
    )  # fmt: skip


def _clicked(mark: Mark, rng: np.random.Generator) -> Mark:
    """The mark where a hand put it; the height that the job states is the nominal one."""
    dx, dy = mark.u_px * rng.normal(size=2)
    nominal = 1.0 if mark.height_mm is not None else None
    return replace(mark, x_px=mark.x_px + dx, y_px=mark.y_px + dy, height_mm=nominal)


def _defined(spots: dict[str, Spot], rng: np.random.Generator) -> dict[str, Spot]:
    """Edges where an eye takes them to be; the string bent and off the face as it may be."""
    height = 1.0 + 0.5 * rng.normal()
    out = {}
    for name, spot in spots.items():
        if spot.kind is MarkKind.REFERENCE_LINE:
            out[name] = replace(spot, y=spot.y + 0.5 * rng.normal(), z=height)
        else:
            dx, dy = DEFINITION_MM[spot.kind] * rng.normal(size=2)
            out[name] = spot.moved(float(dx), float(dy))
    return out


def _damage(rng: np.random.Generator) -> dict[str, Spot]:
    """Crack and area as outlined: each edge too far in or out as a whole, each mark by itself a little."""
    crack, wet = CRACK.copy(), _shifted(WET, U_EDGE * rng.normal())
    for end, inner in ((0, 1), (-1, -2)):
        along = CRACK[end] - CRACK[inner]
        crack[end] += U_EDGE * rng.normal() * along / np.hypot(*along)
    return {**_spots("crack", crack, MarkKind.CRACK, rng), **_spots("wet", wet, MarkKind.AREA, rng)}


def _spots(name: str, places: FloatArray, kind: MarkKind, rng: np.random.Generator) -> dict[str, Spot]:
    there = places + DEFINITION_MM[kind] * rng.normal(size=places.shape)
    return {f"{name}_{n}": Spot(float(x), float(y), kind, of=name) for n, (x, y) in enumerate(there, 1)}


def _shifted(outline: FloatArray, by: float) -> FloatArray:
    """The outline (n, 2), anticlockwise, with every side moved outwards, its corners where the sides then meet."""
    sides = np.roll(outline, -1, axis=0) - outline
    normals = np.column_stack([sides[:, 1], -sides[:, 0]]) / np.hypot(*sides.T)[:, None]
    before = np.roll(normals, 1, axis=0)
    return outline + by * (normals + before) / (1.0 + np.sum(normals * before, axis=1))[:, None]


def _rims(fittings: tuple[SimFitting, ...], rng: np.random.Generator) -> dict[str, Spot]:
    """Rims as they are seen: proud by what nobody measured, their edge off, not quite round."""
    out: dict[str, Spot] = {}
    for f in fittings:
        proud, edge = f.proud + rng.normal(), 0.25 * rng.normal()
        for name, spot in rim_spots(replace(f, proud=proud, diameter=f.diameter + 2 * edge), 8).items():
            away = np.array([spot.x - f.x, spot.y - f.y])
            dx, dy = 0.3 * rng.normal() * away / np.hypot(*away) + 0.3 * rng.normal(size=2)
            out[name] = replace(spot.moved(float(dx), float(dy)), z=proud)
    return out


def _share(hits: Iterable[bool]) -> str:
    held = list(hits)
    return f"{100 * sum(held) / len(held):.1f} % of {len(held)}"


def report(runs: int) -> Iterator[str]:
    """The table in Markdown."""
    true = true_sizes()
    surveys = [drawn_survey(seed).survey for seed in range(2 * runs)]
    sizes = [(d.id, d.size) for s in surveys for d in s.defects]
    yield "| what | result |\n|---|---|"
    for name, words in (("crack", "crack length inside its U"), ("wet", "area inside its U")):
        yield f"| {words} | {_share(abs(d.value - true[i]) <= d.U for i, d in sizes if i == name)} |"
    still = [pair(seed) for seed in range(runs)]
    yield f"| unchanged figures that seem changed, all | {_share(d.changed for c in still for d in c.every)} |"
    places = [d for c in still for m in c.fittings for d in m.by_fit[:2]]
    yield f"| of these, positions by best fit | {_share(d.changed for d in places)} |"
    for by, click in ((5.0, 0.7), (8.0, 0.7), (5.0, 0.3)):
        gone = [pair(seed, moved(FITTINGS, "drain", 0.0, by), click) for seed in range(runs)]
        found = [any(d.changed for m in c.fittings if m.first.id == "drain" for d in m.by_fit[:2]) for c in gone]
        U = np.median([m.by_fit[1].U for c in gone for m in c.fittings if m.first.id == "drain"])
        words = f"a fitting moved by {by:g} mm is found (marks to {click:g} px; U of its step {U:.1f} mm)"
        yield f"| {words} | {_share(found)} |"
        others = [d.changed for c in gone for m in c.fittings if m.first.id != "drain" for d in m.by_fit[:2]]
        yield f"| positions of the others then seem changed | {_share(others)} |"
        widths = [d for c in gone for d in c.dimensions if d.code == "chine_beam"]
        seen = [replace(d, difference=d.difference + by).changed for d in widths]
        yield f"| a chine beam {by:g} mm wider is found (marks to {click:g} px) | {_share(seen)} |"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=100)
    for line in report(parser.parse_args().runs):
        print(line, flush=True)
