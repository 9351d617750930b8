"""Findings on the transom angle: what contradicts what, and the confusions that are usual with it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import combinations

from digitizer.job.model import FaceKind, Job
from digitizer.survey.model import Finding, Severity
from digitizer.survey.rake import RakeEstimate, RakeEvidence
from digitizer.survey.tape import normalised_error

USUAL_DEG = (8.0, 20.0)
"""Common practice: most transoms that carry an outboard lean 12° to 15°."""
STEEP_TRIM_DEG = 6.0
"""A boat on a trailer or on blocks hardly stands steeper."""
WIDE_U_DEG = 0.5


def rake_findings(job: Job, evidence: RakeEvidence, deadrise: Mapping[str, float] | None = None) -> Iterator[Finding]:
    """
    What the reader should know of the transom angle.

    Parameters
    ----------
    job
    evidence
    deadrise
        Measured deadrise in the face by side, degrees.
    """
    for photo, reason in evidence.problems:
        yield Finding("profile_left_out", Severity.WARNING, photo, f"Left out: {reason}")
    for a, b in combinations(evidence.estimates, 2):
        yield from _disagreement(job, a, b)
    yield from _level_findings(job, evidence)
    yield from _stated_findings(job, evidence, deadrise or {})
    yield from _profile_findings(job, evidence)
    for e in evidence.estimates:
        yield from _unusual(e)


def _disagreement(job: Job, a: RakeEstimate, b: RakeEstimate) -> Iterator[Finding]:
    en = normalised_error(a.value_deg, 2.0 * a.u_deg, b.value_deg, 2.0 * b.u_deg)
    if abs(en) > 1.0:
        text = (
            f"{_said(a)}, but {_said(b)} (En = {en:+.1f}). The weighed figure was widened to hold both; find out which "
            f"is wrong before it is used.{_sign_hint(job, a, b)}"
        )
        yield Finding("rake_disagrees", Severity.SERIOUS, "rake", text)


def _said(e: RakeEstimate) -> str:
    return f"{e.label[:1].upper()}{e.label[1:]} is {e.value_deg:.1f}° ± {2.0 * e.u_deg:.1f}°"


def _sign_hint(job: Job, a: RakeEstimate, b: RakeEstimate) -> str:
    U = 2.0 * math.hypot(a.u_deg, b.u_deg)
    if abs(a.value_deg + b.value_deg) <= U:
        return " The two differ in their sign only: positive is with the top leaning aft."
    levels = job.level_readings
    other = next((e for e in (a, b) if e.code != "rake_by_level"), a)
    if levels is not None and "rake_by_level" in (a.code, b.code):
        if abs(other.value_deg - (levels.face_deg + levels.keel_deg)) <= U:
            return " With the keel's reading of the other sign they agree: positive is with the bow up."
        if abs(other.value_deg - levels.face_deg) <= U:
            return " The other figure is the face's reading alone, without the keel's."
    return ""


def _level_findings(job: Job, evidence: RakeEvidence) -> Iterator[Finding]:
    levels, lean = job.level_readings, job.face_lean
    measured = any(e.code != "rake_stated" for e in evidence.estimates)
    if lean is not None and lean.active and not measured:
        yield Finding(
            "lean_is_not_rake",
            Severity.WARNING,
            "face_lean",
            f"The face leans {lean.lean_deg:.1f}° from plumb, which is the transom angle only on a level keel, and a "
            "boat on a trailer seldom stands level: hold the level on the keel line too, and enter both readings.",
        )
    if levels is None or not levels.active:
        return
    if _usual(-(levels.face_deg - levels.keel_deg)) and abs(levels.keel_deg) > STEEP_TRIM_DEG:
        text = (
            f"The readings look exchanged: face {levels.face_deg:.1f}°, keel {levels.keel_deg:.1f}°. The face is read "
            "from plumb, the keel from level."
        )
        yield Finding("levels_exchanged", Severity.SERIOUS, "level_readings", text)
    elif abs(levels.keel_deg) > STEEP_TRIM_DEG:
        text = f"A keel {levels.keel_deg:+.1f}° from level is steep for a boat ashore: check the reading and its sign."
        yield Finding("steep_keel", Severity.WARNING, "level_readings", text)
    if levels.keel_deg == 0.0:
        text = "The keel's reading is exactly 0°: make sure that the level was held on the keel, not left out."
        yield Finding("keel_not_levelled", Severity.NOTE, "level_readings", text)


def _stated_findings(job: Job, evidence: RakeEvidence, deadrise: Mapping[str, float]) -> Iterator[Finding]:
    stated = next((e for e in evidence.estimates if e.code == "rake_stated"), None)
    if stated is None:
        return
    others = [e for e in evidence.estimates if e is not stated]
    contradicted = any(abs(e.value_deg - stated.value_deg) > 2.0 * math.hypot(e.u_deg, stated.u_deg) for e in others)
    alike = [s for s, v in deadrise.items() if abs(v - stated.value_deg) <= max(stated.u_deg, 0.1)]
    if alike and (contradicted or not _usual(stated.value_deg)):
        text = (
            f"The rake as stated, {stated.value_deg:.1f}°, is the deadrise measured to {alike[0]}: it looks as if the "
            "one was typed for the other. The rake is how far the face leans aft, the deadrise the V of the bottom."
        )
        yield Finding("rake_is_deadrise", Severity.SERIOUS, "rake", text)
    lean = job.face_lean
    if lean is not None and lean.active and abs(lean.lean_deg - stated.value_deg) <= 0.05 and not others:
        text = (
            f"The rake as stated, {stated.value_deg:.1f}°, is the face's lean from plumb: it is the transom angle only "
            "where the keel is level. On a trailer subtract the keel's reading."
        )
        yield Finding("rake_is_lean", Severity.WARNING, "rake", text)


def _profile_findings(job: Job, evidence: RakeEvidence) -> Iterator[Finding]:
    for p in evidence.profiles:
        for mark in p.set_aside:
            text = f"Mark {mark} does not lie on its line in {p.photo} and was set aside: check it."
            yield Finding("outlier", Severity.SERIOUS, mark, text)
        if not p.on_centreline and job.face.kind is not FaceKind.FLAT:
            text = (
                f"Photo {p.photo} shows the near edge of the face; on a bowed face that flares it leans less far aft "
                "than the centreline, by a degree or so. Mark an upright straightedge on its centreline (side centre)."
            )
            yield Finding("near_edge_of_bow", Severity.WARNING, p.photo, text)
        if p.u_deg > WIDE_U_DEG:
            yield Finding(
                "wide_profile",
                Severity.NOTE,
                p.photo,
                f"In photo {p.photo} {_what_would_help(p.has_plumb, p.has_foot)}",
            )


def _what_would_help(has_plumb: bool, has_foot: bool) -> str:
    help_most = []
    if not has_foot:
        help_most.append("the place where the keel ends at the face (a face_line mark with side centre)")
    if not has_plumb:
        help_most.append("a plumb line")
    if not help_most:
        return (
            "the transom angle stays wide: take it abreast of the transom, so that the face is seen edge-on, and low."
        )
    return f"the transom angle stays wide for want of {' and '.join(help_most)}."


def _unusual(e: RakeEstimate) -> Iterator[Finding]:
    if e.value_deg < -2.0 * e.u_deg:
        text = f"{_said(e)}, so that the top leans forward: check the sign. Positive is with the top leaning aft."
        yield Finding("rake_negative", Severity.WARNING, "rake", text)
    elif not USUAL_DEG[0] - 2.0 * e.u_deg <= e.value_deg <= USUAL_DEG[1] + 2.0 * e.u_deg:
        low, high = USUAL_DEG
        text = f"{_said(e)}; most transoms lean {low:.0f}° to {high:.0f}°. Check it."
        yield Finding("rake_unusual", Severity.NOTE, "rake", text)


def _usual(rake: float) -> bool:
    return USUAL_DEG[0] <= rake <= USUAL_DEG[1]
