"""Findings: what the reader should know before trusting a figure, in words, with what to do."""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Sequence

from digitizer.adjustment.observations import REJECTED_WEIGHT, Row
from digitizer.adjustment.propagation import Propagated
from digitizer.adjustment.reliability import Snooped, Suspicion, standardised_residuals
from digitizer.adjustment.shifts import Displaced
from digitizer.adjustment.solve import Estimate
from digitizer.adjustment.statistics import W_CRITICAL
from digitizer.job.model import Job, LineKind, MarkKind, Role
from digitizer.survey.advice import Advice
from digitizer.survey.diagnosis import Diagnosis
from digitizer.survey.dimensions import Transom
from digitizer.survey.model import (
    Adjustment,
    Dimension,
    Finding,
    FittingResult,
    ObservationResult,
    ObservationState,
    PhotoResult,
    Quantity,
    Severity,
    TapeCheck,
)
from digitizer.survey.shape import Bow
from digitizer.survey.uncertainty import Scales

OBLIQUE_DEG = 40.0
RIVAL = 6.0
"""An explanation that scores within this of the best (odds of 1 to 20) is named beside it."""
NOTICED_MM = 25.0
"""A length that would have to be wrong by more than this to be noticed is poorly checked."""
UNIT = {Quantity.ANGLE: "°", Quantity.LENGTH: " mm"}


def rejected_findings(snooped: Snooped, rows: Sequence[Row]) -> Iterator[Finding]:
    """One finding for each observation that was set aside, and for each error that can't be placed."""
    residuals = snooped.estimate.residuals / REJECTED_WEIGHT
    for rejection in snooped.rejections:
        if rejection.displaced is not None:
            yield _slipped(rejection.displaced)
            continue
        group = rows[rejection.row].group
        together = [i for i, row in enumerate(rows) if i == rejection.row or (group and row.group == group)]
        row = rows[together[0]]
        amount = row.u * math.hypot(*residuals[together])
        times = f"{abs(rejection.w):.1f} times its uncertainty"
        size = f"{amount:.1f} {row.unit}" if row.unit in ("mm", "px") else times
        rivals = list(dict.fromkeys(rows[i].group or rows[i].label for i in rejection.rivals))
        instead = f" An error in {' or '.join(rivals[:2])} would look the same." if rivals else ""
        yield Finding(
            "outlier",
            Severity.SERIOUS,
            row.subject,
            f"{_capital(row.group or row.label)} does not fit everything else (off by about {size}, "
            f"w = {rejection.w:+.1f}) and was set aside: check it, correct it, or switch it off.{instead}",
        )
    for suspicion in snooped.undecided:
        yield _undecided(suspicion, rows)
    for moved in snooped.ambiguous:
        yield _slipped(moved)
    if snooped.too_many:
        yield Finding(
            "too_many_misfits",
            Severity.SERIOUS,
            "adjustment",
            "So many marks and figures contradict one another that a slip of the hand can't be the reason, and none "
            "was set aside: the face may not be flat, a target's size may be wrong, or two boats may be mixed.",
        )


def _slipped(moved: Displaced) -> Finding:
    """A target that lay elsewhere in one photo, or in one of several that can't be told apart."""
    shift = moved.shift
    photos = " or ".join([shift.photo, *(other.photo for other in moved.rivals)])
    done = (
        "Nothing tells in which, and none was set aside: take its photos again, or switch its sighting off in one."
        if moved.rivals
        else "It slipped or was moved; its corners in that photo were set aside, and the photo is tied by what else it "
        "shares."
    )
    text = f"{_capital(shift.subject)} lay elsewhere in {photos} than in the other photos (w = {moved.w:.1f}). {done}"
    return Finding("target_slipped", Severity.SERIOUS, shift.subject, text)


def assumption_findings(estimate: Estimate, rows: Sequence[Row]) -> Iterator[Finding]:
    """What was assumed of an unknown (lens, thickness, how proud a rim stands) and does not fit; never set aside."""
    w = standardised_residuals(estimate)
    for i, row in enumerate(rows):
        if not row.rejectable and abs(w[i]) > W_CRITICAL:
            yield Finding(
                "assumption",
                Severity.WARNING,
                row.subject,
                f"{_capital(row.label)} does not fit everything else (w = {w[i]:+.1f}): check what the job says of it.",
            )


def _undecided(suspicion: Suspicion, rows: Sequence[Row]) -> Finding:
    names = list(dict.fromkeys(rows[i].group or rows[i].label for i in suspicion.rows))
    text = (
        f"One of these is wrong, and nothing tells which: {', '.join(names[:4])}. None was set aside; "
        "check each, or add another observation of the same place."
        if len(names) > 1
        else f"{_capital(names[0])} does not fit (w = {suspicion.w:+.1f}), but nothing could replace it: check it."
    )
    return Finding("undecided", Severity.SERIOUS, rows[suspicion.rows[0]].subject, text)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def adjustment_findings(a: Adjustment, results: Sequence[ObservationResult]) -> Iterator[Finding]:
    """The global test, and what nothing checks."""
    if not a.accepted and a.scaled_by > 1.0:
        yield Finding(
            "global_test",
            Severity.WARNING,
            "adjustment",
            f"The observations scatter more than their uncertainties allow (factor {a.scaled_by:.2f}): all of them "
            "were enlarged by it. Often a mark lies on the wrong thing, the transom is not flat, or a target is bent.",
        )
    lengths = [r for r in results if r.kind == "length" and r.state is ObservationState.USED]
    for r in lengths:
        if r.minimal_detectable_error is None:
            yield Finding(
                "unchecked",
                Severity.WARNING,
                r.subject,
                f"Nothing checks {r.label}: an error in it goes straight into every dimension. "
                "Add a second known length.",
            )
        elif r.minimal_detectable_error > NOTICED_MM:
            yield Finding(
                "poorly_checked",
                Severity.NOTE,
                r.subject,
                f"An error in {r.label} would be noticed only above {r.minimal_detectable_error:.0f} mm: "
                "another known length would check it.",
            )
    targets = {r.subject for r in results if r.kind == "target corner"}
    if len(targets) == 1 and not lengths:
        yield Finding(
            "unchecked",
            Severity.WARNING,
            next(iter(targets)),
            f"The scale rests on {next(iter(targets))} alone: measure its printed check bar, and add one tape figure "
            "across the boat.",
        )


def line_findings(t: Transom, dimensions: Sequence[Dimension]) -> Iterator[Finding]:
    """The reference line and the origin."""
    reference = t.network.reference
    if t.by_chines:
        yield Finding(
            "no_reference_line",
            Severity.WARNING,
            "reference line",
            "No reference line is marked: deadrise is measured against the line through the chines, so only the mean "
            "of port and starboard means anything. Stretch a string across the transom and mark it.",
        )
    if reference is not None and reference.kind is LineKind.TOP_EDGE:
        yield Finding(
            "crowned_reference",
            Severity.WARNING,
            reference.id,
            "The reference line follows the top edge, which is usually crowned: use a stretched string or a "
            "straightedge.",
        )
    straightness = next((d for d in dimensions if d.code == "reference_straightness"), None)
    if straightness is not None and straightness.lower > 3.0:
        yield Finding(
            "bent_reference",
            Severity.WARNING,
            "reference line",
            f"The reference line is not straight: its marks depart by {straightness.value:.1f} mm. Check that it is a "
            "stretched string and not the edge of the boat.",
        )
    if t.keel is None:
        yield Finding(
            "no_keel",
            Severity.NOTE,
            "keel",
            "No keel point is marked: the meeting of the two bottom edges stands in for it.",
        )


def deadrise_findings(t: Transom, scales: Scales, values: dict[str, Propagated]) -> Iterator[Finding]:
    """Chord against edge, port against starboard."""
    for side in ("port", "starboard"):
        chord, edge = values.get(f"deadrise_chord_{side}"), values.get(f"deadrise_edge_{side}")
        if chord is not None and edge is not None and not t.is_bowed:
            yield from _disagreement(
                scales,
                chord,
                edge,
                f"deadrise_{side}",
                f"Deadrise {side} by chord and by the bottom edge differ by {{:.2f}}° ± {{:.2f}}°: the bottom is not "
                "straight there (hook, pad, rounded keel), or a mark is off. Look before cutting.",
            )
    port, starboard = values.get("deadrise_chord_port"), values.get("deadrise_chord_starboard")
    if port is not None and starboard is not None and not t.by_chines:
        yield from _disagreement(
            scales,
            port,
            starboard,
            "deadrise",
            "Deadrise port and starboard differ by {:.2f}° ± {:.2f}°: the boat is not symmetrical, or the reference "
            "line is not square to its centreline (then the mean of the two sides is the better figure).",
        )
    if t.network.rake is None and (port is not None or starboard is not None):
        yield Finding(
            "no_rake",
            Severity.NOTE,
            "rake",
            "No transom angle was given, so the deadrise is the one in the face: a section square to the keel shows "
            "less.",
        )


def _disagreement(scales: Scales, a: Propagated, b: Propagated, subject: str, text: str) -> Iterator[Finding]:
    difference = a - b
    U = 2.0 * float(scales.standard([difference])[0])
    if abs(float(difference)) > U:
        yield Finding(
            "disagreement",
            Severity.WARNING,
            subject,
            text.format(abs(math.degrees(float(difference))), math.degrees(U)),
        )


def photo_findings(photos: Sequence[PhotoResult]) -> Iterator[Finding]:
    """How the photos were taken."""
    for photo in photos:
        if photo.off_square_deg > OBLIQUE_DEG:
            yield Finding(
                "oblique",
                Severity.NOTE,
                photo.id,
                f"Photo {photo.id} looks at the transom from {photo.off_square_deg:.0f}° off square: what stands proud "
                "is shifted most there. A squarer view measures better.",
            )
        if "calibration" not in photo.lens_source and "EXIF" not in photo.lens_source:
            yield Finding(
                "no_focal_length",
                Severity.NOTE,
                photo.id,
                f"Photo {photo.id} does not say its focal length (messengers strip it): ask for the original file.",
            )


def twin_findings(twin: bool) -> Iterator[Finding]:
    """Two positions of the camera that fit alike."""
    if twin:
        yield Finding(
            "mirror_pose",
            Severity.SERIOUS,
            "pose",
            "Two positions of the camera, tilted opposite ways, fit equally well: every figure was widened to hold "
            "both. Add a known length across the boat, a printed target, or a view from further to one side.",
        )


def missing_findings(t: Transom) -> Iterator[Finding]:
    """What was not marked, and what could not take part."""
    wanted = {
        MarkKind.KEEL: "the keel point",
        MarkKind.CHINE: "the chines",
        MarkKind.BOTTOM_EDGE: "the bottom edges",
    }
    for kind, name in wanted.items():
        if (
            not t.ids(kind)
            and not (kind is MarkKind.CHINE and t.ids(MarkKind.CHINE_INNER))
            and kind is not MarkKind.KEEL
        ):
            yield Finding("not_marked", Severity.NOTE, str(kind), f"Not measured, because not marked: {name}.")
    for subject, reason in dict.fromkeys(t.network.left_out):
        yield Finding("left_out", Severity.WARNING, subject, f"Left out: {reason}.")


def tape_findings(checks: Sequence[TapeCheck]) -> Iterator[Finding]:
    """Tape figures that the photo contradicts."""
    for c in checks:
        if not c.agrees:
            unit = UNIT[c.quantity]
            yield Finding(
                "tape_disagrees",
                Severity.SERIOUS,
                c.id,
                f"{_capital(c.label)}: the tape says {c.tape:.1f}{unit}, the photo {c.photo:.1f}{unit} "
                f"± {c.U_photo:.1f} (En = {c.en:+.1f}). Measure it again before cutting.",
            )


def diagnosis_findings(found: Sequence[Diagnosis]) -> Iterator[Finding]:
    """What may have gone wrong with the tape figures, likeliest first."""
    for each in found:
        if not each.explanations:
            text = "None of the usual mistakes with a tape explains why tape and photo disagree here: measure again."
            yield Finding("tape_diagnosis", Severity.NOTE, each.subject, text)
            continue
        first, *others = each.explanations
        instead = "; or ".join(s.text for s in others[:2] if s.score < first.score + RIVAL)
        less_likely = f" Less likely: {instead}." if instead else ""
        if each.agrees:
            text = (
                "Tape and photo agree within their uncertainty, but this would explain the tape better: "
                f"{first.text} ({first.mistake}).{less_likely} Read it again."
            )
            yield Finding("tape_suspicion", Severity.NOTE, each.subject, text)
            continue
        text = f"What would explain the tape: {first.text} ({first.mistake}).{less_likely}"
        yield Finding("tape_diagnosis", Severity.WARNING, each.subject, text)


def unknown_figures(job: Job, known: Container[str]) -> Iterator[Finding]:
    """Tape figures that the photo has nothing to compare with."""
    for f in job.tape_figures:
        if f.active and f.measure not in known:
            text = f"The tape figure {f.id} can't be compared: the photo gives no {f.measure.replace('_', ' ')}."
            yield Finding("left_out", Severity.WARNING, f.id, text)


def advice_finding(ranked: Sequence[Advice]) -> Iterator[Finding]:
    """The one further observation that would help most."""
    for a in ranked[:1]:
        unit = UNIT[a.dimension.quantity]
        digits = 2 if a.dimension.quantity is Quantity.ANGLE else 1
        yield Finding(
            "advice",
            Severity.NOTE,
            a.dimension.code,
            f"What would help most: {a.text}. It would bring {a.dimension.label} from "
            f"± {a.dimension.U:.{digits}f}{unit} to about ± {a.U_after:.{digits}f}{unit}.",
        )


def kept_out_findings(t: Transom) -> Iterator[Finding]:
    """Check lengths whose ends are not marked."""
    for k in t.network.job.lengths:
        if k.active and k.role is Role.CHECK and not {k.from_point, k.to_point} <= set(t.places):
            yield Finding(
                "left_out", Severity.WARNING, k.id, f"Left out: one end of {k.id} is not marked on a photo in use."
            )


def fitting_findings(t: Transom, fittings: Sequence[FittingResult]) -> Iterator[Finding]:
    """Fittings that are listed but not placed."""
    placed = {f.id for f in fittings}
    for f in t.network.job.fittings:
        if f.active and f.id not in placed:
            yield Finding(
                "not_marked",
                Severity.WARNING,
                f.id,
                f"{f.name or f.id} is listed but not placed: mark its rim in three or more places, its four corners "
                "or its centre.",
            )


def shape_findings(beside_flat: Bow | None, bow: Dimension | None) -> Iterator[Finding]:
    """Whether the face's shape was taken rightly."""
    if beside_flat is not None:
        rise, U = f"{beside_flat.sagitta:+.0f} mm ± {2.0 * beside_flat.u:.0f} mm", 2.0 * beside_flat.u
        over, size = f"over {beside_flat.chord:.0f} mm", abs(beside_flat.sagitta)
        if beside_flat.significant:
            yield Finding(
                "face_bowed",
                Severity.SERIOUS,
                "face",
                f"A bowed face fits much better than the flat one that was assumed (sagitta {rise} {over}): every "
                "dimension here is suspect. Set the face's kind to bowed and measure again.",
            )
        elif beside_flat.negligible:
            text = f"Flat is good enough: what the marks show of a bow is {rise} {over}."
            yield Finding("face_flat_enough", Severity.NOTE, "face", text)
        else:
            yield Finding(
                "face_untested",
                Severity.NOTE,
                "face",
                f"The face was taken as flat, and nothing here tells it from a bow of up to {size + U:.0f} mm {over}: "
                "hold a straightedge across it, and enter the gap or say that there is none.",
            )
    if bow is not None and abs(bow.value) < bow.U:
        yield Finding(
            "face_flat_enough",
            Severity.NOTE,
            "face",
            f"The bow is not told from none ({bow.value:+.1f} mm ± {bow.U:.1f} mm): flat would do.",
        )


def pad_findings(t: Transom, dimensions: Sequence[Dimension]) -> Iterator[Finding]:
    """Where the planned flange sits on each pad."""
    if t.network.job.flange is not None:
        return  # the whole flange is laid on the pads then
    flange = t.network.job.settings.flange_width_mm
    values = {d.code: d for d in dimensions}
    for pad in (p for p in t.network.job.pads if p.active):
        width, offset = values.get(f"pad_{pad.id}_width"), values.get(f"pad_{pad.id}_offset")
        if flange is None or width is None or offset is None:
            continue
        narrower = width.value / 2.0 - abs(offset.value)
        wider = width.value / 2.0 + abs(offset.value)
        U = math.hypot(width.U / 2.0, offset.U)
        yield Finding("flange_on_pad", *_flange_on_pad(pad.id, flange / 2.0, narrower, wider, U))


def _flange_on_pad(pad: str, half: float, narrower: float, wider: float, U: float) -> tuple[Severity, str, str]:
    """Severity, subject and text for a flange of half a width on a pad with its nearer and farther edge, mm."""
    if half < narrower - U:
        text = f"The flange sits inside {pad}, {narrower - half:.0f} mm ± {U:.0f} mm from its nearer edge."
        return Severity.NOTE, pad, text
    if half > wider + U:
        text = f"The flange is wider than {pad}: make the pad flush, or build the flange around it."
        return Severity.WARNING, pad, text
    text = (
        f"An edge of the flange falls on the edge of {pad} (within {U:.0f} mm): choose another width, or make it flush."
    )
    return Severity.WARNING, pad, text
