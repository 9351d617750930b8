"""
What the photos can reach, before anything is marked.

A board or sheet in them gives the cameras; a typical transom is laid round it and marked in thought, and that job is
measured: its covariance is that of the real job, as far as the transom is the typical one. The same is done for what
would improve it. How well it foretells stands in docs/explanation/foresight.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job, KnownLength, MarkKind, Side, Sighting
from digitizer.survey.marked import Marked
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey
from digitizer.survey.thought import Thought, thought
from digitizer.units import unit_name, value_and_uncertainty

CLICK_PX = 1.0
"""Standard uncertainty of the clicks that are foreseen."""
FURTHER_ROUND = math.radians(35.0)
"""How far round the boat another photo is foreseen."""
U_TAPE_MM = 1.0
OFF_MIDDLE = 0.12
"""A board further from the middle than this part of the beam might be moved there."""
WORTHWHILE = 0.85
"""An improvement leaves at most this part of the uncertainty."""
_WORDS = {
    (MarkKind.CHINE, Side.PORT): "port chine",
    (MarkKind.CHINE, Side.STARBOARD): "starboard chine",
    (MarkKind.TOP_CORNER, Side.PORT): "port top corner",
    (MarkKind.TOP_CORNER, Side.STARBOARD): "starboard top corner",
}


@dataclass(frozen=True)
class Reach:
    """Expanded uncertainties, k = 2."""

    U_chine_mm: float
    """Of a chine's place, the larger of both sides and both coordinates."""
    U_deadrise_deg: float
    """From keel to chine, the larger of both sides."""


@dataclass(frozen=True)
class Better:
    """Something that would improve it, and what it would come to."""

    text: str
    reach: Reach


@dataclass(frozen=True)
class Foresight:
    """What the photos of a job can reach together."""

    photos: tuple[str, ...]
    """Those that show the known thing."""
    by: str
    """What gives them their size: "board" or "sheet"."""
    u_px: float
    """Of the clicks."""
    beam_mm: float
    """Width of the transom that was assumed."""
    reach: Reach
    weakest: str
    """The corner that would be placed worst."""
    U_weakest_mm: float
    better: tuple[Better, ...]
    """Improvements worth the effort, the most helpful first."""


def foresee(
    job: Job,
    facts: Mapping[str, PhotoFacts],
    sightings: Sequence[Sighting],
    u_px: float = CLICK_PX,
    cancelled: Callable[[], bool] | None = None,
) -> Foresight | None:
    """
    What the photos of a job can reach, by the board or sheet that is found in them.

    Parameters
    ----------
    job
        Corners that are marked already are taken where they are; the others are assumed.
    facts
        By photo id.
    sightings
        Corners of targets found in the photos.
    u_px
        Standard uncertainty of the clicks to come.
    cancelled
        Asked between steps; true ends the work with ``InterruptedError``.

    Returns
    -------
    Foresight or None
        None where no photo shows a board or sheet that lies on the face, or where it can't be foreseen from there.
    """
    scene = thought(job, facts, sightings, u_px)
    survey = None if scene is None else _measured(scene, cancelled)
    if scene is None or survey is None:
        return None
    now = _reach(survey)
    weakest, U = _weakest(survey)
    others = ((text, _measured(other, cancelled)) for text, other in _others(scene))
    tried = [Better(text, _reach(after)) for text, after in others if after is not None]
    better = sorted((b for b in tried if _part(b.reach, now) <= WORTHWHILE), key=lambda b: _part(b.reach, now))
    beam = scene.typical.beam_mm
    return Foresight(tuple(scene.views), scene.thing.word, u_px, beam, now, weakest, U, tuple(better))


def outlook(
    job: Job,
    facts: Mapping[str, PhotoFacts],
    sightings: Sequence[Sighting],
    cancelled: Callable[[], bool] | None = None,
) -> str:
    """What can be said of a job before it is measured, in a few sentences; empty where nothing has a known size."""
    foresight = foresee(job, facts, sightings, cancelled=cancelled)
    if foresight is not None:
        return sentences(foresight, job.settings.unit.value)
    boards = [t for t in job.targets if t.active]
    if boards and not any(s.target == t.id for s in sightings for t in boards):
        return (
            "The board is not found in the photo. Look at its kind and size, as entered; if they are right, "
            "take the photo again, sharp, with the whole board in it and no glare on it."
        )
    if any(t.flush for t in boards):
        return (
            "The board is found, but what this photo can reach can't be said from it: too little of the transom round "
            "it may be in the picture, or the board lies on a pad."
        )
    lengths = [k for k in Marked(job).known_lengths() if not k.missing and any(k.id == each.id for each in job.lengths)]
    if lengths and not boards and not job.rectangles:
        return (
            "A known length is marked. It gives the size, but not how the photo is tilted, so nothing can be foreseen "
            "from it alone: a printed board or a sheet flush on the transom would tell."
        )
    return ""


def sentences(f: Foresight, unit: str) -> str:
    """It in plain words, lengths in the unit of the job."""
    photos = "this photo" if len(f.photos) == 1 else f"these {len(f.photos)} photos together"
    text = (
        f"The {f.by} is found. From {photos} the chines can come to {_length(f.reach.U_chine_mm, unit)} and the "
        f"deadrise to {_angle(f.reach.U_deadrise_deg)}, if clicked to {f.u_px:g} px; "
        f"the {f.weakest} is weakest, {_length(f.U_weakest_mm, unit)}. "
        f"Assumed are a transom {f.beam_mm / 1000.0:.1f} m wide and a string across it."
    )
    return f"{text} With {f.better[0].text} it would be {reach_words(f.better[0].reach, unit)}." if f.better else text


def reach_words(reach: Reach, unit: str) -> str:
    """Chines and deadrise: "± 2.4 mm and ± 0.15°"."""
    return f"{_length(reach.U_chine_mm, unit)} and {_angle(reach.U_deadrise_deg)}"


def _measured(scene: Thought, cancelled: Callable[[], bool] | None) -> Survey | None:
    """The survey of the job that is marked in thought; none where it can't be measured."""
    if cancelled is not None and cancelled():
        raise InterruptedError
    try:
        survey = measure(*scene.job(), cancelled)
    except AdjustmentError:
        return None
    enough = {d.code for d in survey.dimensions} >= {"deadrise_chord_port", "deadrise_chord_starboard"}
    return survey if enough else None


def _others(scene: Thought) -> Iterator[tuple[str, Thought]]:
    """What would improve it, each by itself."""
    middle = scene.typical.middle
    stands = [view.stand for view in scene.views.values()]
    to_port = float(np.mean([stand.camera[0] for stand in stands])) >= middle[0]
    turned = stands[0].turned(FURTHER_ROUND if to_port else -FURTHER_ROUND, middle)
    which = "a second photo" if len(stands) == 1 else "another photo"
    yield (
        f"{which} from further round to {'port' if to_port else 'starboard'} that shows the {scene.thing.word} too",
        scene.with_another(turned),
    )
    port, starboard = (scene.typical.corners[MarkKind.CHINE, side] for side in (Side.PORT, Side.STARBOARD))
    tape = KnownLength("tape", "chine_port", "chine_starboard", float(np.linalg.norm(starboard - port)), U_TAPE_MM)
    yield "a tape figure across the chines (± 2 mm)", replace(scene, tape=tape)
    if np.linalg.norm(middle) > OFF_MIDDLE * scene.typical.beam_mm:
        yield f"the {scene.thing.word} in the middle of the transom", replace(scene, moved=tuple(middle.tolist()))
    yield f"a {scene.thing.word} twice as large", replace(scene, enlarged=2.0)


def _reach(survey: Survey) -> Reach:
    chines = [2.0 * max(p.u_x, p.u_y) for p in survey.points if p.kind == MarkKind.CHINE]
    deadrise = [d.U for d in survey.dimensions if d.code.startswith("deadrise_chord_")]
    return Reach(max(chines), max(deadrise))


def _weakest(survey: Survey) -> tuple[str, float]:
    corners = {
        words: 2.0 * max(p.u_x, p.u_y)
        for p in survey.points
        for (kind, side), words in _WORDS.items()
        if p.kind == kind and p.side == side
    }
    worst = max(corners, key=lambda words: corners[words])
    return worst, corners[worst]


def _part(after: Reach, now: Reach) -> float:
    """What is left of the uncertainty, both figures alike."""
    return math.sqrt(after.U_chine_mm / now.U_chine_mm * after.U_deadrise_deg / now.U_deadrise_deg)


def _length(U: float, unit: str) -> str:
    return f"± {value_and_uncertainty(0.0, U, unit)[1]} {unit_name(unit)}"


def _angle(U: float) -> str:
    return f"± {value_and_uncertainty(0.0, U, 'deg')[1]}°"
