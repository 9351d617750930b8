"""Which marks lie along a pattern's edge."""

from __future__ import annotations

from digitizer.job.model import Job, Mark, Pattern


def edge_marks(job: Job, pattern: Pattern) -> list[Mark]:
    """Marks along a pattern's edge, in order; those of points that its record names, or those that name it in `of`."""
    own = [m for m in job.marks if m.active and m.photo == pattern.photo]
    if pattern.edge:
        by_id = {m.id: m for m in own}
        return [by_id[i] for i in pattern.edge if i in by_id]
    return [m for m in own if m.of == pattern.id]
