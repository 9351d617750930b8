"""
What a click or a dragged mark may have meant, for a tool: the snapped marks, or the clicks as they are.

No Qt: pixels and clicks in, clicks out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from digitizer.app.tools import Tool
from digitizer.imaging.not_found import NotFound
from digitizer.job.edits import Click
from digitizer.job.model import Job, Mark, MarkKind

if TYPE_CHECKING:
    from digitizer.imaging.proposals import Proposal

_ALONG = {MarkKind.REFERENCE_LINE: "string", MarkKind.BOTTOM_EDGE: "edge", MarkKind.TOP_EDGE: "edge"}
"""Marks along something straight, and what `Sought` calls it."""
RAW_U_PX = 0.7
"""Standard uncertainty of a careful click by hand, one coordinate; see the explanation of snapping."""
RIM_MARKS = 24
"""Marks kept round a rim: more add nothing, since their errors go together."""


@dataclass(frozen=True)
class Proposed:
    """Clicks that would become marks, and what was found, to be drawn dashed."""

    clicks: tuple[Click, ...]
    course: tuple[tuple[float, float], ...] = ()
    advice: str = ""
    rivals: tuple[Proposed, ...] = ()
    """What else may have been meant, likeliest first."""

    @property
    def is_snapped(self) -> bool:
        """An edge was found; false: the clicks as they were made."""
        return bool(self.course)


def proposed(
    picture: NDArray[np.uint8] | None, job: Job, tool: Tool, click: Click, group: str | None = None
) -> Proposed:
    """
    The marks that a click with a tool would make.

    Parameters
    ----------
    picture : (rows, columns, 3) or None
        The photo; None takes the click as it is.
    group
        The fitting or pad that was begun.
    """
    if picture is None:
        return Proposed((click,))
    found = _sought(picture, job, tool, click, group)
    return found or Proposed((click,))


def _sought(picture: NDArray[np.uint8], job: Job, tool: Tool, click: Click, group: str | None) -> Proposed | None:
    from digitizer.imaging import proposals as p

    place = p.Click(click.x_px, click.y_px)
    if tool.kind is MarkKind.KEEL:
        return _told(p.propose(picture, place, p.Sought.CORNER), click, reach_px=25.0)
    if tool.kind is MarkKind.RIM and group is None:
        return _rim(p.propose(picture, place, p.Sought.RIM), click)
    previous = _previous(job, tool, click)
    if previous is None:
        return None
    stroke = p.Stroke(np.array([[previous.x_px, previous.y_px], [click.x_px, click.y_px]]))
    if tool.kind in _ALONG:
        return _told(p.propose(picture, stroke, p.Sought(_ALONG[tool.kind])), click, last=True)
    if tool.kind is MarkKind.OUTLINE:
        return _outline(p.propose(picture, stroke, p.Sought.OUTLINE), click)
    return None


def _previous(job: Job, tool: Tool, click: Click) -> Mark | None:
    """The mark that a stroke to this click would start from."""
    same = [m for m in job.marks if m.photo == click.photo and m.kind is tool.kind and m.side is tool.side]
    return same[-1] if same else None


def _told(found: Proposal | NotFound, click: Click, last: bool = False, reach_px: float = 12.0) -> Proposed | None:
    """One mark of a proposal: its only place, or the last of a stroke; nothing if it lies too far from the click."""
    if isinstance(found, NotFound):
        return None
    (mark,) = _clicks(found, click.photo, slice(-1, None) if last else slice(1))
    if _apart(mark, click) > reach_px:
        return None
    rivals = tuple(r for r in (_told(other, click, last, reach_px) for other in found.alternatives) if r is not None)
    return Proposed((mark,), _course(found.course), " ".join(found.advice), rivals)


def _rim(found: Proposal | NotFound, click: Click) -> Proposed | None:
    if isinstance(found, NotFound):
        return None
    marks = _clicks(found, click.photo, slice(None, None, max(1, len(found.places) // RIM_MARKS)))
    rivals = tuple(r for r in (_rim(other, click) for other in found.alternatives) if r is not None)
    return Proposed(marks, _course(found.course, closed=True), " ".join(found.advice), rivals)


def _outline(found: Proposal | NotFound, click: Click) -> Proposed | None:
    """The points of the traced edge after its first, which is the mark before."""
    if isinstance(found, NotFound):
        return None
    marks = _clicks(found, click.photo, slice(1, None))
    if not marks or _apart(marks[-1], click) > 20.0:
        return None
    return Proposed(marks, _course(found.course), " ".join(found.advice))


def _clicks(found: Proposal, photo: str, which: slice) -> tuple[Click, ...]:
    """Some of a proposal's places as clicks."""
    places, u = found.places[which], found.u[which]
    return tuple(
        Click(photo, float(x), float(y), max(float(each), 0.02)) for (x, y), each in zip(places, u, strict=True)
    )


def _apart(a: Click, b: Click) -> float:
    return math.hypot(a.x_px - b.x_px, a.y_px - b.y_px)


def snapped_at(picture: NDArray[np.uint8], mark: Mark, others: Sequence[Mark]) -> Click | None:
    """
    Where a dragged mark would come to lie on the edge it means; None keeps it where it was let go.

    Parameters
    ----------
    others
        The other marks of the same line in the same photo.
    """
    from digitizer.imaging import proposals as p

    click = Click(mark.photo, mark.x_px, mark.y_px, mark.u_px)
    if mark.kind is MarkKind.KEEL:
        found = _told(p.propose(picture, p.Click(mark.x_px, mark.y_px), p.Sought.CORNER), click)
    elif mark.kind in _ALONG and others:
        far = max(others, key=lambda o: math.hypot(o.x_px - mark.x_px, o.y_px - mark.y_px))
        stroke = p.Stroke(np.array([[far.x_px, far.y_px], [mark.x_px, mark.y_px]]))
        found = _told(p.propose(picture, stroke, p.Sought(_ALONG[mark.kind])), click, last=True)
    else:
        return None
    return found.clicks[0] if found else None


def _course(places: NDArray[np.float64], closed: bool = False) -> tuple[tuple[float, float], ...]:
    points = [(float(x), float(y)) for x, y in places]
    return (*points, points[0]) if closed and points else tuple(points)
