"""
The open points of a job: what is missing, weak or contradictory, in words for whoever has the boat.

Each point says what to photograph or measure next. Their order is that of what would help most: first what keeps
anything from being measured, then contradictions, then what single additions would do for the figures, then the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from digitizer.job.model import Job, MarkKind
from digitizer.survey.foresight import Foresight, reach_words
from digitizer.survey.marked import Marked
from digitizer.survey.model import Finding, Improvement, Quantity, Severity, Survey
from digitizer.survey.point_words import ASKED, FLANGE, INTERNAL, SHOWN, Said
from digitizer.survey.steps import StepName, StepState, steps
from digitizer.units import value_and_uncertainty


class PointKind(StrEnum):
    """What is the matter with a point."""

    MISSING = "missing"
    WEAK = "weak"
    CONTRADICTORY = "contradictory"


@dataclass(frozen=True)
class OpenPoint:
    """One open point."""

    kind: PointKind
    weight: float
    """How much settling it would help, 0 to 100."""
    what: str
    ask: str


_IMPROVEMENTS = (66.0, 46.0, 32.0)
"""Weights of the most helpful addition, the second and the third."""
_UNKNOWN_WEIGHT = {Severity.SERIOUS: 75.0, Severity.WARNING: 44.0}


def open_points(
    job: Job, survey: Survey | None, refusal: str = "", foresight: Foresight | None = None
) -> tuple[OpenPoint, ...]:
    """
    The open points, those that would help most first.

    Parameters
    ----------
    job
    survey
        Its survey; none where it can't be measured yet.
    refusal
        Why it can't be measured.
    foresight
        What its photos can reach all the same.
    """
    if foresight is not None and survey is None:
        found = [*_unmarked(job, survey), *_foreseen(foresight, job.settings.unit.value)]
    else:
        found = [*_unmarked(job, survey), *_from_refusal(survey, refusal)]
    if survey is not None:
        found += [*_from_findings(job, survey), *_improvements(job, survey), *_unchecked(job)]
    by_request: dict[str, OpenPoint] = {}
    for point in sorted(found, key=lambda p: -p.weight):
        by_request.setdefault(point.ask, point)
    return tuple(by_request.values())


def _unmarked(job: Job, survey: Survey | None) -> Iterator[OpenPoint]:
    """Steps of the card of which the job holds nothing."""
    for step in steps(job, survey):
        said = SHOWN.get(step.name)
        if said is not None and step.state is StepState.NOTHING:
            yield _point(PointKind.MISSING, said)
    if survey is not None and not any(d.code == "crown" for d in survey.dimensions):
        yield _point(PointKind.MISSING, SHOWN[StepName.OUTLINE])


def _from_refusal(survey: Survey | None, refusal: str) -> Iterator[OpenPoint]:
    if survey is None and refusal:
        text = "With what we have, the transom can't be measured yet."
        ask = (
            "A photo from straight behind that shows the whole transom, a straight string stretched across it, "
            "and one long thing of known length, such as a rule or two tape marks."
        )
        yield OpenPoint(PointKind.MISSING, 99.0, text, ask)


def _foreseen(f: Foresight, unit: str) -> Iterator[OpenPoint]:
    """What would improve photos that are good enough to begin with."""
    if f.better:
        best = f.better[0]
        what = f"From the photos so far, chines and deadrise can be known to {reach_words(f.reach, unit)} only."
        ask = f"Please see to {best.text}. That would make it {reach_words(best.reach, unit)}."
        yield OpenPoint(PointKind.WEAK, _IMPROVEMENTS[0], what, ask)


def _from_findings(job: Job, survey: Survey) -> Iterator[OpenPoint]:
    names = _names(job)
    for finding in survey.findings:
        if finding.code in INTERNAL or finding.code == "advice" or finding.code.startswith(FLANGE):
            continue
        said = ASKED.get(finding.code)
        name = names.get(finding.subject, finding.subject.replace("_", " "))
        if said is not None:
            yield _point(PointKind(said.kind), said, _called(name))
        elif finding.severity in _UNKNOWN_WEIGHT:
            yield _unknown(finding, name)


def _unknown(finding: Finding, name: str) -> OpenPoint:
    """A finding without words of its own: what it is about, and a request that always helps."""
    what = f"Something about {_called(name)} does not look right."
    ask = f"Please look at {_called(name)} again with us, and send a photo of it from nearer."
    return OpenPoint(PointKind.CONTRADICTORY, _UNKNOWN_WEIGHT[finding.severity], what, ask)


def _improvements(job: Job, survey: Survey) -> Iterator[OpenPoint]:
    """What further observations would do, most helpful first; marks put again are our own work."""
    asked = [each for each in survey.improvements if not each.text.startswith("placing the marks")]
    for weight, each in zip(_IMPROVEMENTS, asked, strict=False):
        now, after = (_figure(U, each, job.settings.unit) for U in (each.U, each.U_after))
        yield OpenPoint(
            PointKind.WEAK,
            weight,
            f"{each.label}: known to {now} only.",
            f"Please add {_asked(each.text)}. That would make it {after}.",
        )


def _asked(text: str) -> str:
    return text.removesuffix(" (± 2 mm)").replace("a tape figure", "a length by tape")


def _figure(U: float, each: Improvement, unit: str) -> str:
    shown = "deg" if each.quantity is Quantity.ANGLE else unit
    sign = {"deg": "°", "mm": " mm"}.get(shown, " in")
    return f"± {value_and_uncertainty(0.0, U, shown)[1]}{sign}"


def _unchecked(job: Job) -> Iterator[OpenPoint]:
    """Bottom edges seen in few places."""
    marked = Marked(job)
    if marked.count(MarkKind.KEEL) and not marked.count(MarkKind.BOTTOM_EDGE):
        yield _point(PointKind.WEAK, SHOWN[StepName.BOTTOM], weight=36.0)


def _point(kind: PointKind, said: Said, name: str = "", weight: float | None = None) -> OpenPoint:
    return OpenPoint(
        kind, said.weight if weight is None else weight, _capital(said.what.format(name)), said.ask.format(name)
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _names(job: Job) -> dict[str, str]:
    """What people call the records that a finding may speak of."""
    named = {f.id: f.name or f.id for f in job.fittings} | {k.id: k.note or k.id for k in job.lengths}
    named |= {p.id: f"the photo {p.file}" for p in job.photos} | {t.id: "the printed target" for t in job.targets}
    named |= {m.id: _KINDS.get(m.kind, str(m.kind).replace("_", " ")) for m in job.marks}
    return named | {"reference line": "the string", "face": "the face of the transom", "rake": "the transom angle"}


_KINDS = {
    MarkKind.REFERENCE_LINE: "the string",
    MarkKind.KEEL: "the keel point",
    MarkKind.CHINE: "the chine",
    MarkKind.CHINE_INNER: "the inner edge of the chine flat",
    MarkKind.BOTTOM_EDGE: "the bottom edge",
    MarkKind.OUTLINE: "the side of the transom",
    MarkKind.TOP_EDGE: "the top edge",
    MarkKind.TOP_CORNER: "the top corner",
    MarkKind.RIM: "the rim of a fitting",
    MarkKind.LENGTH_END: "the end of a measured length",
}


def _called(name: str) -> str:
    """What to call a thing, which may have no name at all."""
    return name.strip() or "it"
