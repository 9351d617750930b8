"""
Classic mistakes with a tape, planted one at a time: how often the diagnosis names the right one first.

The photo's figures are those of measured jobs; the truth of each trial is drawn from their covariance, the tape
reads it with its own noise to the nearest sixteenth of an inch, and one mistake is made. Cases in which the
mistake changes no reading by more than the combined U don't count: nothing could tell them.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from digitizer.adjustment.propagation import Number, Propagated
from digitizer.job.model import DeadriseReading, Job, KnownLength, MarkKind, Path, Rake, Role, Side, TapeFigure
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.build import build
from digitizer.survey.diagnosis import SIXTEENTH, Mistake, diagnosis
from digitizer.survey.dimensions import Transom, bottom_at, figures, read_transom
from digitizer.survey.evidence import gather
from digitizer.survey.measure import adjusted
from digitizer.survey.tape_groups import Group, tape_groups
from digitizer.survey.uncertainty import Scales
from digitizer.transom.edges import fitted_polynomial, polynomial_at
from digitizer.transom.system import distance, girth
from digitizer.units import MM_PER_INCH
from tests.builders import FloatArray, SimTransom
from tests.survey.exact import a_camera, a_case, all_spots

TAPE_U = 1.0
"""Standard uncertainty of a reading, mm: noise and rounding to a sixteenth."""
NOISE = 0.85
"""Of the hand, mm: with rounding to a sixteenth (1.6 mm / √12) together `TAPE_U`."""
OFFSET = 381.0
OTHER_OFFSETS = (304.8, 457.2, 508.0, 609.6)


@dataclass(frozen=True)
class Base:
    """A measured job, from which truths are drawn."""

    transom: Transom
    scales: Scales
    known: Mapping[str, Number]
    spread: FloatArray
    """Columns that turn standard normal draws into deviations of all parameters."""


def base(job: Job, facts: Mapping[str, object], sightings: tuple[object, ...]) -> Base:
    """The measured transom of a job with its covariance."""
    network = build(job, facts, sightings)  # type: ignore[arg-type]
    found, _ = adjusted(network)
    t = read_transom(network, found.estimate.x)
    assert t is not None
    spread = found.estimate.solved(np.eye(len(found.estimate.x)))
    scales = Scales(found.estimate, network.system.rows, 1.0)
    return Base(t, scales, {f.code: f.value for f in figures(t)}, spread)


def flat_bases(count: int, seed: int = 1) -> Iterator[Base]:
    """Invented flat transoms of usual sizes, each seen by a camera of its own."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        half, rise = rng.uniform(950.0, 1200.0), rng.uniform(12.0, 24.0)
        hull = SimTransom(
            deadrise_deg=(rise + rng.normal(0.0, 0.2), rise + rng.normal(0.0, 0.2)),
            inner_half=(half, half),
            outer_half=(half + 25.0, half + 25.0),
            top_half=(half + 60.0, half + 60.0),
            top_height=(1010.0, 1010.0),
            crown=rng.uniform(10.0, 60.0),
        )
        spots = all_spots(hull)
        case = a_case(spots, camera=a_camera(yaw=rng.uniform(-15.0, 15.0), pitch=rng.uniform(0.0, 8.0)))
        for ends in (
            ("chine_port", "chine_starboard"),
            ("top_port", "chine_starboard"),
            ("top_starboard", "chine_port"),
        ):
            case = case.with_length(*ends)
        yield base(replace(case.job, rake=Rake(rng.uniform(9.0, 16.0), 0.2)), case.facts, case.sightings)


def bowed_base() -> Base:
    """The bowed sample."""
    job_file = read_job(sample_job("bowed_three"))
    evidence = gather(job_file)
    return base(job_file.job, evidence.facts, evidence.sightings)


@dataclass(frozen=True)
class Truth:
    """One draw of what the boat really is."""

    base: Base
    draw: FloatArray
    rng: np.random.Generator

    def of(self, number: Number) -> float:
        """True value of a figure."""
        return number.value + float(number.gradient @ self.draw) if isinstance(number, Propagated) else number

    def read(self, true: float) -> float:
        """As a person reads it off a tape: to the nearest sixteenth."""
        return round((true + self.rng.normal(0.0, NOISE)) / SIXTEENTH) * SIXTEENTH

    def height(self, side: Side, offset: float) -> float:
        """From the line down to the bottom edge."""
        t = self.base.transom
        bottom = bottom_at(t, side, offset if side is Side.STARBOARD else -offset)
        assert bottom is not None
        assert t.reference_height is not None
        return self.of(t.reference_height - bottom[0])

    def top(self, x: float) -> float:
        """Height of the crowned top edge above the line."""
        t = self.base.transom
        edge = fitted_polynomial([t.places[i] for i, p in t.infos.items() if p.kind in TOP], 2)
        assert t.reference_height is not None
        return self.of(polynomial_at(edge, x) - t.reference_height)


TOP = (MarkKind.TOP_EDGE, MarkKind.TOP_CORNER)
SIDES = (Side.PORT, Side.STARBOARD)
Planted = tuple[Job, float] | None
"""A job with the mistake in it, and the largest change that the mistake made to a reading in combined U."""


def readings(truth: Truth, change: Callable[[Side, float, float], tuple[float, float]] | None = None) -> Job:
    """A job whose A and B were read; `change` makes the mistake in a side's A and B."""
    job = truth.base.transom.network.job
    a = truth.read(truth.height(Side.PORT, 0.0))
    records = []
    for side in SIDES:
        pair = (a, truth.read(truth.height(side, OFFSET)))
        pair = change(side, *pair) if change is not None else pair
        records.append(DeadriseReading(f"tape {side}", side, *pair, OFFSET, TAPE_U))
    return replace(job, deadrise_readings=tuple(records), lengths=_without_checks(job), tape_figures=())


def _without_checks(job: Job) -> tuple[KnownLength, ...]:
    return tuple(k for k in job.lengths if k.role is not Role.CHECK)


def swapped(t: Truth) -> Job:
    return readings(t, lambda side, a, b: (b, a))


def swapped_on_one_side(t: Truth) -> Job:
    return readings(t, lambda side, a, b: (b, a) if side is Side.PORT else (a, b))


def other_offset(t: Truth) -> Job:
    offset = float(t.rng.choice(OTHER_OFFSETS))
    return readings(t, lambda side, a, b: (a, t.read(t.height(side, offset))))


def from_the_crown(t: Truth) -> Job:
    a = t.read(t.height(Side.PORT, 0.0) + t.top(0.0))
    at = {side: OFFSET if side is Side.STARBOARD else -OFFSET for side in SIDES}
    return readings(t, lambda side, _a, b: (a, b + t.top(at[side])))


def hooked(t: Truth) -> Job:
    return readings(t, lambda side, a, b: (a + MM_PER_INCH, b + MM_PER_INCH))


def one_b_an_inch_off(t: Truth) -> Job:
    return readings(t, lambda side, a, b: (a, b + (MM_PER_INCH if side is Side.PORT else 0.0)))


def fraction_of_b(t: Truth) -> Job:
    return readings(t, lambda side, a, b: (a, misread(b, t.rng) if side is Side.PORT else b))


def misread(reading: float, rng: np.random.Generator) -> float:
    """Eighths taken for sixteenths, or 3/8 for 5/8 and the other way round, where its fraction allows it."""
    whole, count = divmod(round(reading / SIXTEENTH), 16)
    wrong = [count // 2] if count % 2 == 0 and count else []
    wrong += [16 - count] if count in (6, 10) else []
    return (16 * whole + (int(rng.choice(wrong)) if wrong else count)) * SIXTEENTH


def centimetres(t: Truth) -> Job:
    return readings(t, lambda side, a, b: (a / 2.54, b / 2.54))


def a_length(t: Truth, change: Callable[[float, float], float], kind: MarkKind = MarkKind.CHINE) -> Job:
    """A job with one width by tape; `change` gives the false reading from chord and girth."""
    transom = t.base.transom
    port, starboard = (transom.one(kind, side) for side in SIDES)
    assert port is not None
    assert starboard is not None
    chord = t.of(distance(transom.places[port], transom.places[starboard]))
    along = t.of(girth(transom.developed[port], transom.developed[starboard]))
    record = KnownLength(
        "width", port, starboard, change(t.read(chord), along - chord), TAPE_U, Path.CHORD, role=Role.CHECK
    )
    job = transom.network.job
    return replace(job, lengths=(*_without_checks(job), record), deadrise_readings=(), tape_figures=())


def half_beam(t: Truth) -> Job:
    return a_length(t, lambda chord, more: chord / 2.0)


def width_an_inch_off(t: Truth) -> Job:
    return a_length(t, lambda chord, more: chord + MM_PER_INCH)


def fraction_of_a_width(t: Truth) -> Job:
    return a_length(t, lambda chord, more: misread(chord, t.rng))


def width_in_centimetres(t: Truth) -> Job:
    return a_length(t, lambda chord, more: chord / 2.54)


def along_the_face(t: Truth) -> Job:
    return a_length(t, lambda chord, more: chord + more)


def width(t: Truth) -> Job:
    return a_length(t, lambda chord, more: chord)


def rake_for_deadrise(t: Truth) -> Job:
    return an_angle(t, "rake")


def deadrise(t: Truth) -> Job:
    return an_angle(t, "deadrise_chord_port")


def an_angle(t: Truth, code: str) -> Job:
    """A job with the port deadrise by angle finder, in truth the figure of a code."""
    angle = np.degrees(t.of(t.base.known[code])) + t.rng.normal(0.0, 0.25)
    figure = TapeFigure("deadrise", "deadrise_chord_port", f"{angle:.1f}°", "0.5°")
    job = t.base.transom.network.job
    return replace(job, tape_figures=(figure,), lengths=_without_checks(job), deadrise_readings=())


CASES: tuple[tuple[str, Mistake, Callable[[Truth], Job]], ...] = (
    ("A and B exchanged on both sides", Mistake.SWAPPED, swapped),
    ("A and B exchanged on one side", Mistake.SWAPPED, swapped_on_one_side),
    ("B taken at 12, 18, 20 or 24 in instead of 15 in", Mistake.OFFSET, other_offset),
    ("A and B taken from the crowned top edge", Mistake.CROWN, from_the_crown),
    ("tape held at 1 in for A and B", Mistake.ONE_INCH, hooked),
    ("one B one inch too long", Mistake.ONE_INCH, one_b_an_inch_off),
    ("fraction of one B misread", Mistake.FRACTION, fraction_of_b),
    ("A and B in inches written as centimetres", Mistake.CENTIMETRES, centimetres),
    ("half the beam for the beam", Mistake.HALF_BEAM, half_beam),
    ("beam one inch too long", Mistake.ONE_INCH, width_an_inch_off),
    ("fraction of the beam misread", Mistake.FRACTION, fraction_of_a_width),
    ("beam in inches written as centimetres", Mistake.CENTIMETRES, width_in_centimetres),
    ("tape along the bowed face", Mistake.GIRTH, along_the_face),
    ("transom angle for deadrise", Mistake.RAKE, rake_for_deadrise),
)


HONEST: dict[Callable[[Truth], Job], Callable[[Truth], Job]] = {
    **dict.fromkeys((half_beam, width_an_inch_off, fraction_of_a_width, width_in_centimetres, along_the_face), width),
    rake_for_deadrise: deadrise,
}
"""The same figures without the mistake; A and B where nothing stands here."""


@dataclass(frozen=True)
class Outcome:
    """How the trials of one mistake came out."""

    name: str
    mistake: Mistake
    exceeds: int
    """Cases in which the mistake changed a reading by more than the combined U."""
    disagree: int
    """Of these, cases in which a reading lies beyond U: noise may bring back what is hardly larger."""
    first: int
    """Of all that exceed U, cases in which it was named first."""
    instead: Counter[str]

    @property
    def share(self) -> float:
        """Part of the cases beyond U in which it was named first."""
        return self.first / self.exceeds if self.exceeds else float("nan")


def outcome(name: str, mistake: Mistake, plant: Callable[[Truth], Job], bases: list[Base], trials: int) -> Outcome:
    """Trials of one mistake spread over the bases."""
    exceeds = disagree = first = 0
    instead: Counter[str] = Counter()
    for at, group, honest in planted(plant, bases, trials):
        if not _exceeds(group, honest, at):
            continue
        exceeds += 1
        found = diagnosis(group.readings, group.hypotheses, at.scales.covariance)
        disagree += found is not None and not found.agrees
        named = found.explanations[0].mistake if found is not None and found.explanations else None
        first += named is mistake
        if named is not mistake:
            instead["nothing said" if found is None else str(named or "none of them")] += 1
    return Outcome(name, mistake, exceeds, disagree, first, instead)


def planted(plant: Callable[[Truth], Job], bases: list[Base], trials: int) -> Iterator[tuple[Base, Group, Group]]:
    """For each trial its base, and the figures with the mistake and without it."""
    for n in range(trials):
        at = bases[n % len(bases)]
        draw = at.spread @ np.random.default_rng([3, n]).normal(size=at.spread.shape[1])
        jobs = (
            change(Truth(at, draw, np.random.default_rng([7, n]))) for change in (plant, HONEST.get(plant, readings))
        )
        group, honest = (tape_groups(at.transom, job, at.known)[0] for job in jobs)
        yield at, group, honest


def false_alarms(plant: Callable[[Truth], Job], bases: list[Base], trials: int) -> tuple[int, int]:
    """Of trials without a mistake: how often a figure lies beyond U, and how often only a suspicion is spoken."""
    disagree = suspected = 0
    for at, _, honest in planted(plant, bases, trials):
        found = diagnosis(honest.readings, honest.hypotheses, at.scales.covariance)
        disagree += found is not None and not found.agrees
        suspected += found is not None and found.agrees
    return disagree, suspected


def _exceeds(group: Group, honest: Group, at: Base) -> bool:
    """Whether the mistake changed any reading by more than the combined U of tape and photo."""
    photo = at.scales.covariance([r.photo for r in group.readings])
    limits = [2.0 * np.hypot(r.u, np.sqrt(photo[i, i])) for i, r in enumerate(group.readings)]
    by_label = {r.label: r.tape for r in honest.readings}
    return any(abs(r.tape - by_label[r.label]) > U for r, U in zip(group.readings, limits, strict=True))


def main() -> None:
    """Print the tables that the docs publish."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 600
    flat, bowed = list(flat_bases(12)), [bowed_base()]
    print("| mistake | exceeds U | of these beyond U | of these named first | first instead |")
    print("|---|---|---|---|---|")
    for name, mistake, plant in CASES:
        o = outcome(name, mistake, plant, bowed if plant is along_the_face else flat, trials)
        instead = ", ".join(f"{what} ({n})" for what, n in o.instead.most_common(3)) or "—"
        print(f"| {name} | {o.exceeds} | {o.disagree} | {100 * o.share:.1f} % | {instead} |", flush=True)
    print("\n| figures without a mistake | a figure beyond U | only a suspicion |")
    print("|---|---|---|")
    for name, plant in (("A and B of both sides", swapped), ("one width", half_beam), ("one angle", rake_for_deadrise)):
        disagree, suspected = false_alarms(plant, flat, trials)
        print(f"| {name} | {100 * disagree / trials:.1f} % | {100 * suspected / trials:.1f} % |", flush=True)


if __name__ == "__main__":
    main()
