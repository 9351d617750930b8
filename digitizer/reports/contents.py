"""
What a report says, in words and figures, before anybody thinks of paper.

Built from a finished survey and its job; rounds and sorts, computes nothing. Writers put it on paper or on a screen.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from digitizer.job.model import Job, Reader
from digitizer.reports.condition import ConditionContents, LogRow, close_up_log, condition_contents
from digitizer.reports.schedule import FittingRow, fitting_rows, unbroken, words
from digitizer.reports.table import DimensionRow, dimension_table, printed_value
from digitizer.survey.model import (
    Adjustment,
    Dimension,
    Finding,
    ObservationResult,
    ObservationState,
    PhotoResult,
    Quantity,
    Severity,
    Survey,
    TapeCheck,
)
from digitizer.units import format_length, format_with_uncertainty

CHECK_FIRST = "Check the dimensions on the boat before cutting."
CAUTIONS = (
    CHECK_FIRST,
    "Whatever is printed to scale is true only at the size it was made for: print without fitting to the page and "
    "measure the printed check bar or scale bar with a rule before using a drawing, a target or a template.",
    "The boat must be properly supported while it is measured: a hull on stands or on a trailer can bend and lean, and "
    "a level then reads the support as much as the boat.",
    "What was not measured is listed under the dimensions. The uncertainties cover what was observed and assumed; "
    "they can't cover a mark put on the wrong thing that nothing else checks, nor what the photos do not show.",
    "Whether a transom is strong enough, how much weight and power it may carry, the boat's stability, and any "
    "hole below the waterline are decided by the rules that apply where the boat is used (for example 33 CFR 183, "
    "ISO 12217 or ISO 11592) and by a licensed surveyor, a naval architect or the engine's maker. This report decides "
    "none of them.",
    "Local rules and licensed practice come before anything written here.",
)
COVERAGE = (
    "Every figure stands as value ± U, where U = 2u is the expanded uncertainty (coverage factor 2): the true value is "
    "expected within these limits in about 95 of 100 cases. Port and starboard are as seen from astern."
)
MAIN_CODES = (
    "deadrise_chord_port",
    "deadrise_chord_starboard",
    "a_centre",
    "b_port",
    "b_starboard",
    "chine_beam",
    "top_width",
    "height_centre",
    "sagitta",
    "rake",
)
_WANTED = {
    "deadrise_chord_port": "deadrise port",
    "deadrise_chord_starboard": "deadrise starboard",
    "section_deadrise_port": "deadrise in the section square to the keel (needs the transom angle)",
    "a_centre": "A, reference line to keel",
    "b_port": "B port",
    "b_starboard": "B starboard",
    "chine_beam": "chine beam",
    "top_width": "width at the top",
    "height_centre": "height on the centreline",
    "height_port": "height at the port side",
    "height_starboard": "height at the starboard side",
    "crown": "crown of the top edge",
}
_FLAT_NOTES = (
    "Widths are parallel to the reference line and heights square to it, along the face of the transom.",
    "Deadrise in the face of a raked transom is steeper than in a section square to the keel: mind which is which.",
)
_BOWED_NOTES = (
    "The face is bowed. Widths go straight through (chord) unless they say girth, which goes along the surface; "
    "a tape laid on the face reads girth. Heights are square to the reference line, along the face.",
    "Deadrise keel to chine, at the bottom edge and in the section square to the keel are three different angles on a "
    "bowed and raked face: mind which is which.",
)
_LOUDEST_FIRST = (Severity.SERIOUS, Severity.WARNING, Severity.NOTE)
_UNCHECKED_BELOW = 1e-3
"""Redundancy number under which an observation has practically no say against an error of its own."""


@dataclass(frozen=True)
class PhotoRow:
    """One photo and how it was taken."""

    file: str
    facts: tuple[str, ...]
    sha256: str


@dataclass(frozen=True)
class BudgetLine:
    """One source of a dimension's uncertainty."""

    source: str
    U: str
    share: float


@dataclass(frozen=True)
class Budget:
    """Where a dimension's uncertainty comes from, largest first."""

    label: str
    result: str
    lines: tuple[BudgetLine, ...]


@dataclass(frozen=True)
class ObservationRow:
    """One observation after the adjustment."""

    label: str
    residual: str
    u: str
    redundancy: str
    w: str
    detectable: str


@dataclass(frozen=True)
class CheckRow:
    """A tape figure that was kept out, against the photo."""

    label: str
    tape: str
    photo: str
    en: str
    verdict: str


KINDS = {Reader.SHOP: "Shop sheet", Reader.OWNER: "Owner's check", Reader.SURVEY: "Survey record"}
"""What a report is called, by its reader."""
SIGNED = {
    Reader.SHOP: ("Dimensions checked on the boat by", "Released for cutting by"),
    Reader.OWNER: ("Measured and photographed by", "Checked with the shop by"),
    Reader.SURVEY: ("Surveyed by", "Received by"),
}
"""What people sign for, by the report's reader; the first is the signatory of the job."""


@dataclass(frozen=True)
class Contents:
    """Everything a report says."""

    title: str
    reader: Reader
    document: str
    """Kind, number and revision, as they stand on every page."""
    signatory: str
    program: str
    facts: tuple[tuple[str, str], ...]
    photos: tuple[PhotoRow, ...]
    main: tuple[DimensionRow, ...]
    dimensions: tuple[DimensionRow, ...]
    notes: tuple[str, ...]
    not_measured: tuple[str, ...]
    fittings: tuple[FittingRow, ...]
    budgets: tuple[Budget, ...]
    adjustment: tuple[str, ...]
    counts: tuple[tuple[str, int, int, int], ...]
    """Kind of observation; how many were used, rejected, kept out."""
    rejected: tuple[ObservationRow, ...]
    unchecked: tuple[str, ...]
    largest: tuple[ObservationRow, ...]
    checks: tuple[CheckRow, ...]
    findings: tuple[Finding, ...]
    job_note: str
    bowed: bool = False
    """Whether the face was taken as bowed, so that girth and chord differ."""
    condition: ConditionContents | None = None
    """Only in a survey record."""
    log: tuple[LogRow, ...] = ()


def contents(survey: Survey, job: Job, printed: str, reader: Reader | None = None) -> Contents:
    """
    What the report of this survey says.

    Parameters
    ----------
    survey, job
        The finished survey and the job it was measured from.
    printed
        Date of the report, as text.
    reader
        Whom the report is for; left out, as the job says.
    """
    unit = job.settings.unit
    reader = reader or job.settings.report_for
    rows = dimension_table(survey, unit)
    photos = tuple(_photo_row(photo, unit) for photo in survey.photos)
    states = {state: [o for o in survey.observations if o.state is state] for state in ObservationState}
    return Contents(
        title=survey.title or job.title or "Transom survey",
        reader=reader,
        document=_document(job, reader),
        signatory=job.document.signatory or job.surveyor,
        program=f"digitizer {survey.program_version}",
        facts=_facts(job, survey, printed),
        photos=photos,
        main=tuple(row for code in MAIN_CODES for row in rows if row.code == code),
        dimensions=rows,
        notes=_notes(survey, job),
        not_measured=_not_measured(survey),
        fittings=fitting_rows(survey.fittings, unit),
        budgets=tuple(
            _budget(d, unit) for code in MAIN_CODES for d in survey.dimensions if d.code == code and d.budget
        ),
        adjustment=_adjustment_words(survey.adjustment),
        counts=_counts(survey.observations),
        rejected=tuple(_observation_row(each) for each in _by_weight(states[ObservationState.REJECTED])),
        unchecked=_unchecked(states[ObservationState.USED]),
        largest=tuple(_observation_row(o) for o in _by_weight(states[ObservationState.USED])[:8] if o.w is not None),
        checks=tuple(_check_row(each, unit) for each in survey.checks),
        findings=tuple(sorted(survey.findings, key=lambda finding: _LOUDEST_FIRST.index(finding.severity))),
        job_note=job.note,
        bowed=bool(survey.curvature_per_mm),
        condition=condition_contents(survey, job) if reader is Reader.SURVEY else None,
        log=(*(LogRow(p.file, "; ".join(p.facts), p.sha256) for p in photos), *close_up_log(survey.close_ups)),
    )


def _document(job: Job, reader: Reader) -> str:
    number = f" {job.document.number}" if job.document.number else ""
    revision = f", revision {job.document.revision}" if job.document.revision else ""
    return f"{KINDS[reader]}{number}{revision}"


def _facts(job: Job, survey: Survey, printed: str) -> tuple[tuple[str, str], ...]:
    pairs = (
        ("Boat", job.boat.name),
        ("Builder", job.boat.builder),
        ("Hull number", job.boat.hull_number),
        ("Owner", job.boat.owner),
        ("Place", job.boat.place),
        ("Measured", job.date),
        ("Surveyor", job.surveyor),
        ("Document", job.document.number),
        ("Revision", job.document.revision),
        ("Report made", printed),
        ("Made with", f"digitizer {survey.program_version}"),
    )
    return tuple((name, value) for name, value in pairs if value)


def _photo_row(photo: PhotoResult, unit: str) -> PhotoRow:
    facts = (
        f"taken {photo.captured.replace('T', ' ')}" if photo.captured else "time of capture unknown",
        photo.device or "device unknown",
        f"{photo.width_px} × {photo.height_px} px",
        f"{format_length(photo.distance_mm, unit)} from the keel point, {photo.off_square_deg:.0f}° off square",
        f"{photo.sample_distance_mm:.2f} mm per pixel on the transom",
        f"lens: {photo.lens_source}",
    )
    return PhotoRow(photo.file, facts, photo.sha256)


def _notes(survey: Survey, job: Job) -> tuple[str, ...]:
    offset = format_length(job.settings.b_offset_mm, job.settings.unit)
    notes = [
        f"A goes down from the reference line on the centreline, B at {offset} out from it; both to the bottom edge.",
        *(_BOWED_NOTES if survey.curvature_per_mm else _FLAT_NOTES),
    ]
    if job.settings.unit == "in/16":
        notes.append("Lengths are in inches to the nearest 1/16; U is in decimal inches.")
    return tuple(notes)


def _not_measured(survey: Survey) -> tuple[str, ...]:
    measured = {dimension.code for dimension in survey.dimensions}
    return tuple(label for code, label in _WANTED.items() if code not in measured)


def _budget(dimension: Dimension, unit: str) -> Budget:
    value, expanded, name = printed_value(dimension, unit)
    largest = sorted(dimension.budget, key=lambda part: -part.share)
    places = 2 if name in ("°", "in") else 1
    size = 25.4 if name == "in" else 1.0
    lines = tuple(BudgetLine(part.source, f"{2 * part.u / size:.{places}f}", part.share) for part in largest[:4])
    rest = sum(part.share for part in largest[4:])
    if rest > 0.005:
        lines += (BudgetLine("everything else", "", rest),)
    result = f"{value}° ± {expanded}°" if name == "°" else f"{value} ± {expanded} {name}"
    return Budget(dimension.label, unbroken(result), lines)


def _adjustment_words(adjustment: Adjustment) -> tuple[str, ...]:
    size = (
        f"{adjustment.observations} observations determine {adjustment.parameters} unknowns; "
        f"redundancy {adjustment.redundancy:.0f}. Settled after {adjustment.iterations} steps."
    )
    band = (
        f"Weighted square sum of the residuals {adjustment.weighted_square_sum:.1f}; it lies between "
        f"{adjustment.test_lower:.1f} and {adjustment.test_upper:.1f} in 95 of 100 cases when the stated "
        "uncertainties are right"
    )
    if adjustment.weighted_square_sum < adjustment.test_lower:
        return (
            size,
            f"{band}. It is smaller: the observations agree better than promised. No uncertainty was reduced for that.",
        )
    if adjustment.accepted:
        return size, f"{band}. It does: the observations agree with each other as well as their uncertainties promise."
    return size, f"{band}. It does not, so every uncertainty here was multiplied by {adjustment.scaled_by:.2f}."


def _counts(observations: tuple[ObservationResult, ...]) -> tuple[tuple[str, int, int, int], ...]:
    tally = Counter((each.kind, each.state) for each in observations)
    kinds = dict.fromkeys(each.kind for each in observations)
    return tuple((words(kind), *(tally[kind, state] for state in ObservationState)) for kind in kinds)  # type: ignore[misc]


def _by_weight(observations: list[ObservationResult]) -> list[ObservationResult]:
    return sorted(observations, key=lambda each: -abs(each.w or 0.0))


def _unchecked(used: list[ObservationResult]) -> tuple[str, ...]:
    """Names of what nothing checks, lengths and levels before marks; both ways of a mark count once."""
    alone = sorted((each for each in used if _is_unchecked(each)), key=lambda each: each.unit == "px")
    return tuple(dict.fromkeys(each.label.removesuffix(", x").removesuffix(", y") for each in alone))


def _is_unchecked(observation: ObservationResult) -> bool:
    return observation.kind != "defect edge" and (observation.w is None or observation.redundancy < _UNCHECKED_BELOW)


def _observation_row(each: ObservationResult) -> ObservationRow:
    error = each.minimal_detectable_error
    return ObservationRow(
        label=each.label,
        residual=f"{each.residual:+.2f} {each.unit}".replace("-", "−"),
        u=f"{each.u:.2f} {each.unit}",
        redundancy=f"{each.redundancy:.2f}",
        w="—" if each.w is None else f"{each.w:+.1f}".replace("-", "−"),
        detectable="—" if error is None else f"{error:.1f} {each.unit}",
    )


def _check_row(check: TapeCheck, unit: str) -> CheckRow:
    shown = unit if check.quantity is Quantity.LENGTH else "deg"
    return CheckRow(
        label=check.label,
        tape=format_with_uncertainty(check.tape, check.U_tape, shown),
        photo=format_with_uncertainty(check.photo, check.U_photo, shown),
        en=f"{check.en:+.2f}".replace("-", "−"),
        verdict="agrees" if check.agrees else "disagrees",
    )
