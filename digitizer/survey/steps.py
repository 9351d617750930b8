"""
The work as a yard would write it on a card: for each step what the job holds, what is missing, and what comes next.

Nothing is adjusted here. A finished survey, where there is one, only tells which step deserves another look.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from digitizer.job.model import FaceKind, Fitting, Job, MarkKind, Role, Side
from digitizer.survey.marked import MARKS_OF_A_FITTING, Marked
from digitizer.survey.model import Finding, Severity, Survey

LINE_MARKS = 3
"""Marks on the reference line from which on a stray one shows."""
EDGE_MARKS = 3
"""Marks on each bottom edge from which on a stray one shows."""
TYING_PLACES = 4
"""Places in common from which on a photo can be tied to the others."""


class StepName(StrEnum):
    """The lines of the card, in the order of the work."""

    PHOTOS = "photos"
    KNOWN_LENGTHS = "known lengths"
    REFERENCE_LINE = "reference line"
    BOTTOM = "bottom"
    OUTLINE = "outline"
    FITTINGS = "fittings"
    TAPE = "tape figures"
    FINDINGS = "findings"
    HAND_OVER = "hand over"


class StepState(StrEnum):
    """How a step stands."""

    NOTHING = "nothing yet"
    ENOUGH = "enough"
    LOOK = "worth another look"


@dataclass(frozen=True)
class Expected:
    """The mark that is expected next."""

    kind: MarkKind
    side: Side | None = None
    of: str | None = None
    """The fitting it belongs to."""
    point: str | None = None
    """The place it has to name, where a record waits for that place."""
    photo: str | None = None
    """The photo it is wanted in; none where any will do."""


@dataclass(frozen=True)
class Step:
    """One line of the card."""

    name: StepName
    state: StepState
    holds: str
    """What is there: "2 photos", "keel, both chines"; empty where nothing is."""
    missing: str
    """One sentence: what is missing, or would help further, and why it matters; empty where nothing is."""
    next: Expected | None = None
    """None where no mark is missing."""


def steps(job: Job, survey: Survey | None = None) -> tuple[Step, ...]:
    """
    The nine steps of a job, in the order of the work.

    Parameters
    ----------
    job
    survey
        The survey of this job, where there is one: a step that one of its warnings speaks of is worth another look,
        and the warning takes the place of the sentence.
    """
    marked = Marked(job)
    card = [f(marked) for f in (_photos, _known_lengths, _reference_line, _bottom, _outline, _fittings, _tape)]
    if survey is not None:
        card = [_warned(step, survey.findings, job) for step in card]
    return (*card, _findings(survey), _hand_over(job, survey))


def step_of(subject: str, job: Job) -> StepName:
    """
    The step that a finding's subject, or any record's id, belongs to; `FINDINGS` where it belongs to none.

    >>> step_of("reference line", Job())
    <StepName.REFERENCE_LINE: 'reference line'>
    """
    for step, names in _subjects(job):
        if subject in names:
            return step
    return next((step for stem, step in STEMS.items() if subject.startswith(stem)), StepName.FINDINGS)


STEP_OF_KIND = {
    MarkKind.REFERENCE_LINE: StepName.REFERENCE_LINE,
    MarkKind.KEEL: StepName.BOTTOM,
    MarkKind.CHINE: StepName.BOTTOM,
    MarkKind.CHINE_INNER: StepName.BOTTOM,
    MarkKind.BOTTOM_EDGE: StepName.BOTTOM,
    MarkKind.OUTLINE: StepName.OUTLINE,
    MarkKind.TOP_EDGE: StepName.OUTLINE,
    MarkKind.TOP_CORNER: StepName.OUTLINE,
    MarkKind.RIM: StepName.FITTINGS,
    MarkKind.FITTING_CENTRE: StepName.FITTINGS,
    MarkKind.FITTING_CORNER: StepName.FITTINGS,
    MarkKind.LENGTH_END: StepName.KNOWN_LENGTHS,
    MarkKind.RECTANGLE_CORNER: StepName.KNOWN_LENGTHS,
}
"""Step that a mark belongs to, by its kind; the others belong to none."""

STEMS = {"reference line": StepName.REFERENCE_LINE, "keel": StepName.BOTTOM, "chine": StepName.BOTTOM}
STEMS |= {"deadrise": StepName.BOTTOM, "bottom": StepName.BOTTOM, "pose": StepName.PHOTOS}


def _subjects(job: Job) -> Iterator[tuple[StepName, set[str]]]:
    """Ids of the job's records by the step they belong to."""
    yield StepName.PHOTOS, {p.id for p in job.photos} | {c.id for c in job.cameras}
    kept_out = {k.id for k in job.lengths if k.role is Role.CHECK}
    parts = ("A", "B", "deadrise")
    yield StepName.TAPE, kept_out | {f"{r.id}: {part}" for r in job.deadrise_readings for part in parts}
    yield StepName.TAPE, {r.id for r in job.deadrise_readings} | {f.id for f in job.tape_figures}
    yield StepName.KNOWN_LENGTHS, {k.id for k in job.lengths} | {r.id for r in job.rectangles}
    yield StepName.KNOWN_LENGTHS, {t.id for t in job.targets} | {i.id for i in job.instruments}
    yield StepName.REFERENCE_LINE, {line.id for line in job.lines if line.reference}
    yield StepName.FITTINGS, {f.id for f in job.fittings}
    for kind, step in STEP_OF_KIND.items():
        yield step, {m.id for m in job.marks if m.kind is kind}


def _warned(step: Step, findings: Sequence[Finding], job: Job) -> Step:
    """The step as the first of the warnings that speak of it leaves it; findings come with the loudest first."""
    if step.next is not None and step.state is not StepState.ENOUGH:
        return step
    heard = (f for f in findings if f.severity is not Severity.NOTE and step_of(f.subject, job) is step.name)
    loudest = next(heard, None)
    return step if loudest is None else replace(step, state=StepState.LOOK, missing=loudest.text)


# --- the steps, one by one --------------------------------------------------------------------------------------


def _photos(m: Marked) -> Step:
    name = StepName.PHOTOS
    if not m.photos:
        why = "Put in a photo of the transom, taken from straight astern: everything else is marked on it."
        return Step(name, StepState.NOTHING, "", why)
    holds = _counted(len(m.photos), "photo")
    if m.job.face.kind is FaceKind.FREE and len(m.photos) == 1:
        why = "A face of free shape needs a second photo, from further to one side, or nothing shows its depth."
        return Step(name, StepState.LOOK, holds, why)
    loose = _loose(m)
    if loose is not None:
        why = (
            f"Photo {loose.photo} shows fewer than {TYING_PLACES} places that another photo shows too, "
            "so it can't be tied to the others: mark more of them in it."
        )
        return Step(name, StepState.LOOK, holds, why, loose)
    return Step(name, StepState.ENOUGH, holds, "")


def _loose(m: Marked) -> Expected | None:
    """A place to be marked in the first photo that nothing ties to the others; targets tie photos by themselves."""
    if len(m.photos) < 2 or not m.marks or m.targets:
        return None
    photo = min(m.photos, key=lambda p: (m.shared(p.id), len(m.seen_in(p.id))))
    if m.shared(photo.id) >= TYING_PLACES:
        return None
    there = m.seen_in(photo.id)
    for place, mark in m.places.items():
        if place not in there:
            return Expected(mark.kind, _side(mark.side), mark.of, place, photo.id)
    return Expected(MarkKind.KEEL, Side.CENTRE, None, None, photo.id)


def _known_lengths(m: Marked) -> Step:
    name, known = StepName.KNOWN_LENGTHS, m.known_lengths()
    if not known:
        why = (
            "Nothing has a known length yet, so nothing has a size: put a printed target on the transom, or mark both "
            "ends of a length taken by tape."
        )
        return Step(name, StepState.NOTHING, "", why, Expected(MarkKind.LENGTH_END))
    holds = _listed([k.name for k in known])
    waiting = next((k for k in known if k.missing), None)
    if waiting is not None:
        kind = MarkKind.RECTANGLE_CORNER if waiting.name.startswith("rectangle ") else MarkKind.LENGTH_END
        why = f"{_capital(waiting.name)} takes no part until {waiting.missing[0]} is marked."
        return Step(name, StepState.LOOK, holds, why, Expected(kind, point=waiting.missing[0]))
    if len(known) == 1:
        why = (
            "Only one thing has a known length, so an error in it would not show: add one tape figure across the boat."
        )
        return Step(name, StepState.ENOUGH, holds, why)
    return Step(name, StepState.ENOUGH, holds, "")


def _reference_line(m: Marked) -> Step:
    name, marks = StepName.REFERENCE_LINE, m.on_reference_line()
    sides = [_side(mark.side) for mark in marks]
    line = next((line.id for line in m.job.lines if line.active and line.reference), None)
    holds = _counted(len(marks), "mark")
    side = next((s for s in (Side.PORT, Side.STARBOARD) if s not in sides), None) if len(marks) < 2 else Side.CENTRE
    next_mark = Expected(MarkKind.REFERENCE_LINE, side, line)
    if not marks:
        why = (
            "Mark the string stretched across the transom, its ends first: deadrise and heights are measured from it, "
            "and without it only the mean deadrise of the two sides means anything."
        )
        return Step(name, StepState.NOTHING, "", why, next_mark)
    if len(marks) == 1:
        why = "One mark gives no direction: mark the other end of the string."
        return Step(name, StepState.LOOK, holds, why, next_mark)
    if len(marks) < LINE_MARKS:
        why = "Two marks always lie on a straight line: mark the string once more between them, so that a slip shows."
        return Step(name, StepState.LOOK, holds, why, next_mark)
    return Step(name, StepState.ENOUGH, holds, "")


def _bottom(m: Marked) -> Step:
    name = StepName.BOTTOM
    keel = m.count(MarkKind.KEEL)
    ends = {s: m.count(MarkKind.CHINE, s) + m.count(MarkKind.CHINE_INNER, s) for s in (Side.PORT, Side.STARBOARD)}
    edges = {s: m.count(MarkKind.BOTTOM_EDGE, s) for s in ends}
    holds = _bottom_holds(keel, ends, edges)
    state = StepState.LOOK if holds else StepState.NOTHING
    if not keel and min(edges.values()) < 2:
        why = "Mark the keel point, where the two bottoms meet: everything is measured from it."
        return Step(name, state, holds, why, Expected(MarkKind.KEEL, Side.CENTRE))
    for side, count in ends.items():
        if not count:
            why = f"Mark the chine to {side}: it gives that side's deadrise and the chine beam."
            return Step(name, state, holds, why, Expected(MarkKind.CHINE, side))
    for kind, what in ((MarkKind.CHINE_INNER, "the chine flat's inner edge"), (MarkKind.CHINE, "the chine")):
        for side, other in ((Side.PORT, Side.STARBOARD), (Side.STARBOARD, Side.PORT)):
            if m.count(kind, other) and not m.count(kind, side):
                why = f"Mark {what} to {side} as well: one side alone gives no beam and no likeness of the two."
                return Step(name, StepState.LOOK, holds, why, Expected(kind, side))
    for side, count in edges.items():
        if count < EDGE_MARKS:
            why = (
                f"Mark the bottom edge to {side} in {EDGE_MARKS} places or more: it confirms the deadrise from keel to "
                "chine, and shows a hook or a rounded keel that the two ends hide."
            )
            return Step(name, StepState.ENOUGH, holds, why, Expected(MarkKind.BOTTOM_EDGE, side))
    return Step(name, StepState.ENOUGH, holds, "")


def _bottom_holds(keel: int, ends: dict[Side, int], edges: dict[Side, int]) -> str:
    parts = ["keel"] if keel else []
    there = [side for side, count in ends.items() if count]
    parts += ["both chines"] if len(there) == 2 else [f"chine to {side}" for side in there]
    parts += [f"{_counted(sum(edges.values()), 'mark')} on the bottom edges"] if any(edges.values()) else []
    return ", ".join(parts)


def _outline(m: Marked) -> Step:
    name = StepName.OUTLINE
    corners = {side: m.count(MarkKind.TOP_CORNER, side) for side in (Side.PORT, Side.STARBOARD)}
    edge, around = m.count(MarkKind.TOP_EDGE), m.count(MarkKind.OUTLINE)
    parts = [(sum(corners.values()), "top corner"), (edge, "mark of the top edge"), (around, "mark of the outline")]
    holds = ", ".join(_counted(count, word) for count, word in parts if count)
    for side, count in corners.items():
        if not count:
            why = f"Mark the top corner to {side}: the two give the top width, and each its height over the keel."
            state = StepState.LOOK if holds else StepState.NOTHING
            return Step(name, state, holds, why, Expected(MarkKind.TOP_CORNER, side))
    if not edge:
        why = "Mark the top edge between its corners too: it gives the crown and the height on the centreline."
        return Step(name, StepState.ENOUGH, holds, why, Expected(MarkKind.TOP_EDGE, Side.CENTRE))
    return Step(name, StepState.ENOUGH, holds, "")


def _fittings(m: Marked) -> Step:
    name, listed = StepName.FITTINGS, [f for f in m.job.fittings if f.active]
    if not listed:
        why = "List each fitting and mark its rim: what is not listed can't be kept clear of."
        return Step(name, StepState.NOTHING, "", why, Expected(MarkKind.RIM))
    waiting = [(f, *wanted) for f in listed if (wanted := _wanted(m, f)) is not None]
    if waiting:
        fitting, kind, count = waiting[0]
        holds = f"{len(listed) - len(waiting)} of {_counted(len(listed), 'fitting')} placed"
        what = {MarkKind.RIM: "of its rim", MarkKind.FITTING_CORNER: "at its corners"}.get(kind, "at its centre")
        why = f"{fitting.name or fitting.id} is not placed yet: it wants {_counted(count, 'more mark')} {what}."
        return Step(name, StepState.LOOK, holds, why, Expected(kind, of=fitting.id))
    return Step(name, StepState.ENOUGH, _counted(len(listed), "fitting"), "")


def _wanted(m: Marked, f: Fitting) -> tuple[MarkKind, int] | None:
    """Marks that still have to place a fitting; none where it is placed."""
    kind, count = MARKS_OF_A_FITTING[f.shape]
    have = m.of(f.id, kind)
    if have >= count or (not have and m.of(f.id, MarkKind.FITTING_CENTRE)):
        return None
    return kind, count - have


def _tape(m: Marked) -> Step:
    name = StepName.TAPE
    lengths = [k for k in m.job.lengths if k.active and k.role is Role.CHECK]
    readings = [r for r in m.job.deadrise_readings if r.active]
    figures = [f for f in m.job.tape_figures if f.active]
    if not (lengths or readings or figures):
        why = (
            "Take A and B on each side by tape, or a width, and enter them here: kept out of the measurement, they are "
            "the one check that owes nothing to the photo."
        )
        return Step(name, StepState.NOTHING, "", why)
    parts = [(len(lengths), "length"), (len(readings), "reading of A and B"), (len(figures), "tape figure")]
    holds = ", ".join(_counted(count, word) for count, word in parts if count)
    for length in lengths:
        unmarked = m.unmarked((length.from_point, length.to_point))
        if unmarked:
            why = f"{_capital(length.note or length.id)} can't be compared until {unmarked[0]} is marked."
            return Step(name, StepState.LOOK, holds, why, Expected(MarkKind.LENGTH_END, point=unmarked[0]))
    for side in (Side.PORT, Side.STARBOARD):
        if readings and side not in {_side(r.side) for r in readings}:
            why = f"A and B to {side} are not entered: a reading on one side says nothing of the other."
            return Step(name, StepState.ENOUGH, holds, why)
    return Step(name, StepState.ENOUGH, holds, "")


def _findings(survey: Survey | None) -> Step:
    name = StepName.FINDINGS
    if survey is None:
        why = "Nothing is measured yet: findings come with the first figures."
        return Step(name, StepState.NOTHING, "", why)
    counts = [(sum(f.severity is s for f in survey.findings), str(s)) for s in Severity]
    holds = ", ".join(
        f"{count} {word}" if word == "serious" else _counted(count, word) for count, word in counts if count
    )
    loud = next((f for f in survey.findings if f.severity is not Severity.NOTE), None)
    if loud is not None:
        return Step(name, StepState.LOOK, holds, loud.text)
    return Step(name, StepState.ENOUGH, holds, "")


def _hand_over(job: Job, survey: Survey | None) -> Step:
    name = StepName.HAND_OVER
    if survey is None:
        return Step(name, StepState.NOTHING, "", "Nothing can be handed over before the first figures are there.")
    holds = _counted(len(survey.dimensions), "dimension")
    if any(f.severity is Severity.SERIOUS for f in survey.findings):
        why = "A serious finding is open: settle it before anybody cuts from these figures."
        return Step(name, StepState.LOOK, holds, why)
    boat = job.boat
    if not any((job.title, boat.name, boat.hull_number, boat.owner)):
        why = "The sheet names no boat: give a title, or the boat's name or hull number, so that it can't be mixed up."
        return Step(name, StepState.LOOK, holds, why)
    return Step(name, StepState.ENOUGH, holds, "")


# --- words ------------------------------------------------------------------------------------------------------


def _counted(count: int, word: str) -> str:
    if count == 1:
        return f"{count} {word}"
    head, _, tail = word.partition(" of ")
    return f"{count} {head}s of {tail}" if tail else f"{count} {head}s"


def _listed(names: Iterable[str], most: int = 3) -> str:
    every = list(names)
    rest = len(every) - most
    return ", ".join(every[:most]) + (f" and {rest} more" if rest > 0 else "")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _side(side: str | None) -> Side | None:
    return None if side is None else Side(side)
