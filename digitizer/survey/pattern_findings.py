"""What there is to say of a pattern: where it stands off, which face was up, how it was taken, what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from digitizer.job.model import Pattern, PatternFace, ScaleLies
from digitizer.survey.dimensions import Transom
from digitizer.survey.model import Finding, PatternResult, PatternStation, Severity
from digitizer.survey.pattern_photo import Laid
from digitizer.survey.pattern_placing import Fitted, unplaced

APART_MM = 400.0
"""Places of the edge nearer to each other than this are told of once, by the worst."""
MOST_PLACES = 4
WORSE = 2.0
"""Fitting this many times worse, and by `CLEARLY_MM`, one way is clearly not the right one."""
CLEARLY_MM = 3.0
LITTLE = 0.8
"""Ways whose misfits are in this ratio or nearer fit alike."""


def failed(pattern: Pattern, why: str) -> Finding:
    """A pattern that could not be measured; the transom could."""
    return Finding("pattern_not_measured", Severity.SERIOUS, pattern.id, why)


def pattern_findings(
    pattern: Pattern,
    result: PatternResult,
    laid: Laid,
    t: Transom,
    options: Mapping[bool, Fitted],
    f: Fitted,
    otherwise: float | None,
) -> Iterator[Finding]:
    """
    Everything worth knowing of one pattern.

    `otherwise` is its misfit (mm) taken the other way, girth or chord, where the job doesn't say.
    """
    yield from _photo(pattern, laid)
    facing = list(_facing(pattern, result, options, f))
    yield from facing
    if any(finding.severity is Severity.SERIOUS for finding in facing):
        return  # nothing that its edge says means anything before it lies the right way round
    yield from _side_seen(pattern, result, laid, f)
    yield from _taken(pattern, result, otherwise)
    yield from _placed(pattern, result, t, f)
    yield from _too_long(pattern, result)
    yield from _off(pattern, result)
    yield from _missed(pattern, result)


def _photo(pattern: Pattern, laid: Laid) -> Iterator[Finding]:
    if laid.set_aside:
        yield Finding(
            "pattern_contradicts",
            Severity.SERIOUS,
            pattern.id,
            f"In photo {pattern.photo} of pattern {pattern.id}, {', '.join(laid.set_aside[:3])} does not fit the rest "
            "and was left out: check that mark, or the length it is said to have.",
        )
    elif not laid.accepted:
        yield Finding(
            "pattern_contradicts",
            Severity.SERIOUS,
            pattern.id,
            f"What gives photo {pattern.photo} of pattern {pattern.id} its scale ({laid.scale}) contradicts itself, "
            "and which is wrong can't be told: check the lengths and the print's check bar.",
        )
    if pattern.scale_lies is ScaleLies.FLOOR and pattern.thickness_mm == 0.0:
        yield Finding(
            "pattern_thickness",
            Severity.NOTE,
            pattern.id,
            f"Pattern {pattern.id} is taken for thin card, as no thickness is given: a thicker board's upper edge is "
            "nearer to the camera than the scale on the floor, and looks larger. Write down its thickness.",
        )
    if laid.other is not None:
        yield Finding(
            "pattern_two_poses",
            Severity.WARNING,
            pattern.id,
            f"Photo {pattern.photo} of pattern {pattern.id} fits two camera positions alike; U holds both. Take it "
            "from nearer to straight above, or lay a second target beside the pattern's other end.",
        )
    if laid.at_border:
        yield Finding(
            "pattern_beyond_frame",
            Severity.WARNING,
            pattern.id,
            f"The edge of pattern {pattern.id} is traced up to the border of photo {pattern.photo} at "
            f"{', '.join(laid.at_border[:4])}: what lies beyond is not in the picture. Photograph the whole pattern, "
            "or take these marks away.",
        )


def _facing(pattern: Pattern, result: PatternResult, options: Mapping[bool, Fitted], f: Fitted) -> Iterator[Finding]:
    other = options.get(not f.placing.mirrored)
    here = f.misfit
    there = math.inf if other is None else other.misfit
    if pattern.face_up is not None:
        if here > WORSE * there and here > there + CLEARLY_MM:
            instead = PatternFace.AFT if f.placing.mirrored else PatternFace.FORWARD
            yield Finding(
                "pattern_mirrored",
                Severity.SERIOUS,
                pattern.id,
                f"Pattern {pattern.id} fits far better turned over: the photo seems to show its {instead} face, so "
                f"that port and starboard are exchanged. See which face was up, and set face_up to {instead}.",
            )
    elif min(here, there) > LITTLE * max(here, there):
        yield Finding(
            "pattern_face_unknown",
            Severity.WARNING,
            pattern.id,
            f"Which face of pattern {pattern.id} was up can't be told, for it fits alike either way. If it was the "
            "face that lay against the transom, port and starboard are exchanged: write on the pattern which face "
            "looked aft, and set face_up.",
        )
    elif result.mirrored:
        yield Finding(
            "pattern_turned_over",
            Severity.WARNING,
            pattern.id,
            f"Pattern {pattern.id} was turned over, because it fits so: the photo seems to show the face that lay "
            "against the transom. If that is right, set face_up to forward.",
        )


def _side_seen(pattern: Pattern, result: PatternResult, laid: Laid, f: Fitted) -> Iterator[Finding]:
    """Where the camera looked at the board's sawn side: its lower edge can be taken for the upper one."""
    if pattern.thickness_mm <= 0.0:
        return
    across, up = f.placing.of(laid.camera[None, :2])[0].tolist()
    widths = [
        (pattern.thickness_mm * ((across - s.x) * s.outward[0] + (up - s.y) * s.outward[1]) / laid.camera[2], s)
        for s in result.stations
    ]
    widest, where = max(widths, key=lambda each: each[0])
    if widest > pattern.u_cut_mm:
        yield Finding(
            "pattern_side_seen",
            Severity.WARNING,
            pattern.id,
            f"Photo {pattern.photo} looks at the sawn side of pattern {pattern.id}: {widest:.1f} mm of it at the "
            f"{where.place}. An edge traced or snapped there may be its lower one, which then stands out by as much, "
            "and U does not hold that. Mark the edge of the upper face, or stand over the pattern's other side.",
        )


def _taken(pattern: Pattern, result: PatternResult, otherwise: float | None) -> Iterator[Finding]:
    if result.taken == "flat" or pattern.taken is not None:
        return
    better = ""
    if otherwise is not None and otherwise < LITTLE * result.rms_fit_mm and otherwise < result.rms_fit_mm - 1.0:
        better = (
            f" Compared with the chord it fits better ({otherwise:.1f} mm against {result.rms_fit_mm:.1f} mm root mean "
            "square)."
        )
    yield Finding(
        "pattern_bent_or_stiff",
        Severity.WARNING if better else Severity.NOTE,
        pattern.id,
        f"The face is bowed, and pattern {pattern.id} is compared with its girth, as if it had been bent round the "
        f"face.{better} Was it bent, or held flat? Set taken to bent or stiff.",
    )


def _placed(pattern: Pattern, result: PatternResult, t: Transom, f: Fitted) -> Iterator[Finding]:
    missing = unplaced(t, pattern)
    if missing:
        yield Finding(
            "pattern_mark_unplaced",
            Severity.WARNING,
            pattern.id,
            f"Pattern {pattern.id} has a mark made at {', '.join(missing)}, which the photos of the boat don't place: "
            "mark it there too.",
        )
    if result.aligned_by == "best fit":
        yield Finding(
            "pattern_best_fit",
            Severity.NOTE,
            pattern.id,
            f"Pattern {pattern.id} was laid on the outline by best fit, for it has fewer than two alignment marks that "
            "hold it: its shape is compared, and not whether it sits too high, too far to one side, or turned.",
        )
    elif result.rms_mm > WORSE * result.rms_fit_mm and result.rms_mm > result.rms_fit_mm + CLEARLY_MM:
        yield Finding(
            "pattern_marks_off",
            Severity.WARNING,
            pattern.id,
            f"Pattern {pattern.id} has the transom's shape ({result.rms_fit_mm:.1f} mm root mean square by best fit) "
            f"but not by its marks ({result.rms_mm:.1f} mm): an alignment mark seems to be misplaced. Mark "
            f"{f.strays[0][0]} lies {f.strays[0][1]:.0f} mm from where the shape puts it: check it on the pattern, in "
            "its photo and on the boat.",
        )


def _too_long(pattern: Pattern, result: PatternResult) -> Iterator[Finding]:
    """Marks that are not as far apart on the pattern as their places on the transom."""
    span = result.span
    if span is None or abs(span.difference.value) <= span.difference.U:
        return
    bowed = {
        "girth": " If it was held flat against the bowed face, it shows the chord: set taken to stiff.",
        "chord": " If it was bent round the bowed face, it shows the girth: set taken to bent.",
    }
    yield Finding(
        "pattern_span",
        Severity.WARNING,
        pattern.id,
        f"From {span.ends[0]} to {span.ends[1]} pattern {pattern.id} measures {span.on_pattern:.1f} mm, and the "
        f"transom {span.on_transom:.1f} mm: {span.difference.value:+.1f} ± {span.difference.U:.1f} mm. A mark is off, "
        f"or one of the two scales is wrong.{bowed.get(result.taken, '')}",
    )


def _off(pattern: Pattern, result: PatternResult) -> Iterator[Finding]:
    told = worst_places(result)
    for s in told:
        side = "outside" if s.difference.value > 0.0 else "inside"
        yield Finding(
            "pattern_off",
            Severity.WARNING,
            pattern.id,
            f"Pattern {pattern.id} stands {abs(s.difference.value):.1f} ± {s.difference.U:.1f} mm {side} the measured "
            f"edge at the {s.place}: measure there by tape before cutting.",
        )
    if not told:
        worst = max(result.stations, key=lambda s: abs(s.difference.value))
        yield Finding(
            "pattern_agrees",
            Severity.NOTE,
            pattern.id,
            f"Pattern {pattern.id} agrees with the measured outline at all {len(result.stations)} places compared; "
            f"most off is the {worst.place}, by {worst.difference.value:+.1f} ± {worst.difference.U:.1f} mm.",
        )


def worst_places(result: PatternResult) -> Sequence[PatternStation]:
    """Places where the pattern is off by more than chance gives anywhere along the edge, the clearest first."""
    beyond = [s for s in result.stations if abs(s.difference.value) > result.beyond_chance * s.difference.u]
    told: list[PatternStation] = []
    for s in sorted(beyond, key=lambda s: -abs(s.difference.value)):
        if len(told) < MOST_PLACES and all(math.dist((s.x, s.y), (o.x, o.y)) > APART_MM for o in told):
            told.append(s)
    return told


def _missed(pattern: Pattern, result: PatternResult) -> Iterator[Finding]:
    if len(result.stations) < 5:
        yield Finding(
            "pattern_few_stations",
            Severity.WARNING,
            pattern.id,
            f"Pattern {pattern.id} meets the measured outline at {len(result.stations)} places only: see that its "
            "part is named rightly and its edge is traced to both ends.",
        )
