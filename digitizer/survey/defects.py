"""Damage among the marks: which marks belong to which crack or area, and how well its edge is defined."""

from __future__ import annotations

import math

from digitizer.adjustment.observations import Row
from digitizer.job.model import Defect, DefectKind, Job, MarkKind
from digitizer.survey.network import DEFINITION, Network

MARKS_OF_DEFECTS = (MarkKind.CRACK, MarkKind.AREA)
_BOTH_ENDS = math.sqrt(2.0)


def defects_of(job: Job) -> dict[str, Defect]:
    """The active defects by id: those that the job lists, and those that only share a name among their marks."""
    listed = {defect.id: defect for defect in job.defects}
    for mark in job.marks:
        if mark.active and mark.kind in MARKS_OF_DEFECTS and mark.of is not None:
            kind = DefectKind.CRACK if mark.kind is MarkKind.CRACK else DefectKind.OTHER
            listed.setdefault(mark.of, Defect(mark.of, kind))
    return {name: defect for name, defect in listed.items() if defect.active}


def is_area(n: Network, defect: str) -> bool:
    """Whether a defect's marks go round it."""
    return any(info.of == defect and info.kind is MarkKind.AREA for info in n.infos)


def add_defects(n: Network) -> None:
    """
    One unknown for each defect: how far its edge as marked lies from its edge as defined, mm.

    An eye that takes an outline too far out does so all round, so this is common to all marks of an outline and changes
    its area by perimeter × shift, however many marks there are. Of a crack it is what its two ends add to its length.
    """
    for name, defect in defects_of(n.job).items():
        closed = is_area(n, name)
        what, u = ("edge", defect.u_edge_mm) if closed else ("ends", defect.u_edge_mm * _BOTH_ENDS)
        row = Row(f"{name}: {what} of the damage", name, "defect edge", DEFINITION, "mm", u, 0.0)
        n.defect_edges[name] = n.layout.known(row.label, 0.0, row)
