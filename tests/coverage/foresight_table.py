"""
What was foretold of the sample photos before they were marked, beside what their marked jobs reached.

`python -m tests.coverage.foresight_table` prints the table of docs/explanation/foresight.md.
"""

from __future__ import annotations

from dataclasses import replace

from digitizer.job.model import Job, MarkKind
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.evidence import gather
from digitizer.survey.foresight import Reach, foresee
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey

SAMPLES = ("flat_square_on", "flat_oblique_wide", "bowed_three", "padded_two", "damaged_two")


def bare(job: Job) -> Job:
    """The job before the transom was marked: photos, board, and a rule where there is one."""
    ends = tuple(mark for mark in job.marks if mark.kind is MarkKind.LENGTH_END)
    return replace(job, marks=ends, fittings=(), lines=(), tape_figures=(), pads=())


def reached(survey: Survey) -> Reach:
    """What a marked job came to: U of the chines' places, and of the deadrise from keel to chine."""
    chines = [2.0 * max(p.u_x, p.u_y) for p in survey.points if p.kind == MarkKind.CHINE]
    return Reach(max(chines), max(d.U for d in survey.dimensions if d.code.startswith("deadrise_chord_")))


def main() -> None:
    """One line per sample, the clicks foreseen as good as they then were."""
    print("| sample | chines foretold | reached | deadrise foretold | reached |\n|---|---|---|---|---|")
    for name in SAMPLES:
        job_file = read_job(sample_job(name))
        job, evidence = job_file.job, gather(job_file)
        u_px = next(mark.u_px for mark in job.marks if mark.kind is MarkKind.CHINE)
        real = reached(measure(job, evidence.facts, evidence.sightings))
        found = foresee(bare(job), evidence.facts, evidence.sightings, u_px)
        assert found is not None
        print(
            f"| `{name}` | ± {found.reach.U_chine_mm:.1f} mm | ± {real.U_chine_mm:.1f} mm "
            f"| ± {found.reach.U_deadrise_deg:.2f}° | ± {real.U_deadrise_deg:.2f}° |"
        )


if __name__ == "__main__":
    main()
