"""
Why tape and photo disagree: the classic mistakes, tried one by one against the numbers.

Each hypothesis says what the tape would read if that mistake had been made, from the photo's own figures, so that its
misfit is a χ² with the covariance of both. What fits is named in the order of misfit plus a penalty for how many ways
the mistake could have been made (an information criterion); the one that fits best comes first. Where tape and photo
agree figure by figure, a mistake is still suspected if it explains them all better than no mistake does: photo figures
err together, so that a small slip in one of several readings shows in their differences first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from digitizer.adjustment.observations import FloatArray
from digitizer.adjustment.propagation import Number
from digitizer.adjustment.statistics import chi_square_quantile
from digitizer.survey.model import Quantity
from digitizer.units import MM_PER_INCH

Covariance = Callable[[Sequence[Number]], FloatArray]
FITS = 0.99
"""A mistake whose misfit lies beyond this part of χ² does not explain the figures."""
FREE = 8.0
"""Penalty for a mistake whose size is not fixed beforehand: it can explain almost anything."""
SIXTEENTH = MM_PER_INCH / 16.0


class Mistake(StrEnum):
    """The classic mistakes with a tape on a transom (common practice)."""

    SWAPPED = "A and B exchanged"
    OFFSET = "offset other than stated"
    CROWN = "taken from the crowned top edge"
    FRACTION = "inch fraction misread"
    ONE_INCH = "one inch off"
    CENTIMETRES = "inches taken as centimetres"
    GIRTH = "girth against chord"
    RAKE = "rake taken for deadrise"
    HALF_BEAM = "half beam for beam"
    OTHER_LINE = "measured from another line"


@dataclass(frozen=True)
class Reading:
    """One figure of the tape, and what the photo says of it; mm or rad."""

    subject: str
    """Id of the record it comes from."""
    label: str
    tape: float
    u: float
    photo: Number
    quantity: Quantity = Quantity.LENGTH
    inches: bool = False
    """It may have been read on a tape in inches."""


@dataclass(frozen=True)
class Hypothesis:
    """What all readings of a group would be if a mistake had been made."""

    mistake: Mistake
    text: str
    expected: tuple[Number, ...]
    penalty: float = 0.0


@dataclass(frozen=True)
class Explanation:
    """A mistake that explains the figures."""

    mistake: Mistake
    text: str
    misfit: float
    """χ² of the readings once the mistake is allowed for."""
    score: float


@dataclass(frozen=True)
class Diagnosis:
    """What is to be said of a group of readings."""

    subject: str
    """Id of the record the first reading comes from."""
    agrees: bool
    """Every reading lies within the combined U of tape and photo."""
    explanations: tuple[Explanation, ...]
    """Likeliest first; where the readings agree, only those that fit better than no mistake does."""


def diagnosis(
    readings: Sequence[Reading], hypotheses: Iterable[Hypothesis], covariance: Covariance
) -> Diagnosis | None:
    """What may have gone wrong with a group of readings; None where nothing need be said."""
    found = diagnosed(readings, hypotheses, covariance)
    if disagrees(readings, covariance):
        return Diagnosis(readings[0].subject, False, tuple(found))
    tape, u = _arrays(readings)
    honest = _misfit(tape, u, [r.photo for r in readings], covariance)
    better = tuple(e for e in found if e.score < honest)
    return Diagnosis(readings[0].subject, True, better) if better else None


def diagnosed(
    readings: Sequence[Reading], hypotheses: Iterable[Hypothesis], covariance: Covariance
) -> list[Explanation]:
    """The mistakes that explain a group of readings, likeliest first; each mistake once."""
    limit = chi_square_quantile(FITS, len(readings))
    tape, u = _arrays(readings)
    best: dict[Mistake, Explanation] = {}
    for h in hypotheses:
        misfit = _misfit(tape, u, h.expected, covariance)
        score = misfit + h.penalty
        if misfit <= limit and (h.mistake not in best or score < best[h.mistake].score):
            best[h.mistake] = Explanation(h.mistake, h.text, misfit, score)
    return sorted(best.values(), key=lambda s: s.score)


def _arrays(readings: Sequence[Reading]) -> tuple[FloatArray, FloatArray]:
    """Figures of the tape and their standard uncertainties."""
    return np.array([r.tape for r in readings]), np.array([r.u for r in readings])


def _misfit(tape: FloatArray, u: FloatArray, expected: Sequence[Number], covariance: Covariance) -> float:
    residual = tape - np.array([float(e) for e in expected])
    return float(residual @ np.linalg.solve(covariance(expected) + np.diag(u**2), residual))


def disagrees(readings: Sequence[Reading], covariance: Covariance) -> bool:
    """Whether any reading lies beyond the combined U of tape and photo: |En| > 1."""
    photo = covariance([r.photo for r in readings])
    return any(
        abs(r.tape - float(r.photo)) > 2.0 * math.hypot(r.u, math.sqrt(photo[i, i])) for i, r in enumerate(readings)
    )


def of_one(readings: Sequence[Reading]) -> Iterator[Hypothesis]:
    """Slips that can happen to any one reading, and centimetres for the whole lot."""
    penalty = 2.0 * math.log(max(1, len(readings)))
    photo = [r.photo for r in readings]
    for i, r in enumerate(readings):
        for mistake, words, slip in slips(r):
            expected = (*photo[:i], photo[i] + slip, *photo[i + 1 :])
            yield Hypothesis(mistake, f"{r.label}: {words}", expected, penalty)
    if all(r.quantity is Quantity.LENGTH for r in readings):
        names = " and ".join(dict.fromkeys(r.label for r in readings))
        for factor, words in (
            (1.0 / 2.54, f"{names}: inches written down as centimetres"),
            (2.54, f"{names}: centimetres written down as inches"),
        ):
            yield Hypothesis(Mistake.CENTIMETRES, words, tuple(p * factor for p in photo), 1.0)


def slips(r: Reading) -> Iterator[tuple[Mistake, str, float]]:
    """By how much a reading in inches may be off, mm: the tape minus the truth."""
    if r.quantity is not Quantity.LENGTH or not r.inches:
        return
    yield Mistake.ONE_INCH, "one inch too long, as when the tape is held at its 1 in mark", MM_PER_INCH
    yield Mistake.ONE_INCH, "one inch too short", -MM_PER_INCH
    count = round(r.tape / SIXTEENTH) % 16
    for true in _fractions(count):
        words = f"the fraction may be {_inches(true)} in, taken as {_inches(count)} in"
        yield Mistake.FRACTION, words, (count - true) * SIXTEENTH


def _fractions(count: int) -> Iterator[int]:
    """Sixteenths that may have been read as `count` of them: eighths taken for sixteenths, and 3/8 for 5/8."""
    if 0 < count < 8:
        yield 2 * count
    if count in (6, 10):
        yield 16 - count


def _inches(sixteenths: int) -> str:
    common = math.gcd(sixteenths, 16)
    return f"{sixteenths // common}/{16 // common}"


def in_inches(tape_mm: float, unit: str) -> bool:
    """Whether a figure may have been read in inches: the job is in inches, or it is a whole number of sixteenths."""
    return unit != "mm" or abs(tape_mm / SIXTEENTH - round(tape_mm / SIXTEENTH)) < 0.02
