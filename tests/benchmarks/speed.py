"""
How long things take, beside what they may take: ``python -m tests.benchmarks.speed``.

Every figure is the shortest of several runs, because whatever else the machine does can only add to it.
It exits with 1 when a limit is missed.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import cycle
from pathlib import Path

from digitizer.adjustment.solve import adjust
from digitizer.cli.work import measured, opened, pictures
from digitizer.job.model import Job, MarkKind, PaperSize, Sighting
from digitizer.job.reading import JobFile
from digitizer.reports.cutting import Drawing, cutting_drawing
from digitizer.reports.dxf import write_dxf
from digitizer.reports.pdf import write_report
from digitizer.reports.plates import Picture
from digitizer.reports.svg import write_svg
from digitizer.reports.template import roll_paper, sheet_paper, write_template
from digitizer.samples import sample_job
from digitizer.survey.build import build
from digitizer.survey.evidence import Evidence, gather
from digitizer.survey.live import quick, started
from digitizer.survey.model import Survey
from digitizer.survey.start import start_values

MARKS = 60
FITTINGS, PHOTOS = 40, 12
CORNERS = 24
JOB = sample_job("flat_square_on")
PHOTO = JOB.with_name("photo_1.jpg")
BARE = f"""
import annotated_types, cv2, numpy, PIL.Image, pydantic, rich.console, rich.table, scipy.linalg, scipy.special
PIL.Image.open({str(PHOTO)!r}).load()
"""


@dataclass(frozen=True)
class Timing:
    """One line of the table; seconds, or a ratio where `unit` is empty."""

    what: str
    value: float
    limit: float
    unit: str

    @property
    def held(self) -> bool:
        return self.value <= self.limit

    def row(self) -> str:
        """The line in Markdown."""
        value, limit = (_shown(number, self.unit) for number in (self.value, self.limit))
        return f"| {self.what} | {value} | {limit} | {'yes' if self.held else '**no**'} |"


def main() -> int:
    """Print the table; 1 when a limit is missed."""
    job_file = opened(JOB, _silent)
    evidence = gather(job_file)
    timings = [
        _help(),
        _adjustment(job_file.job, evidence),
        *_live(job_file.job, evidence),
        *_demo(),
        *_report(job_file),
        *_cutting(job_file),
    ]
    print("| what | measured | limit | held |\n|---|---|---|---|")
    print("\n".join(timing.row() for timing in timings))
    return 0 if all(timing.held for timing in timings) else 1


def shortest(*actions: Callable[[], object], runs: int, clock: Callable[[], float] = time.perf_counter) -> list[float]:
    """Shortest time in seconds of each action, run in turn after one round that does not count."""
    times: list[list[float]] = [[] for _ in actions]
    for _ in range(1 + runs):
        for action, taken in zip(actions, times, strict=True):
            start = clock()
            action()
            taken.append(clock() - start)
    return [min(taken[1:]) for taken in times]


def smaller(job: Job, evidence: Evidence) -> tuple[Job, tuple[Sighting, ...]]:
    """The job with exactly 60 marks and its board with 24 corners spread over it."""
    seen = evidence.sightings[0]
    chosen = [round(i * (len(seen.corner_ids) - 1) / (CORNERS - 1)) for i in range(CORNERS)]
    fields = {name: tuple(getattr(seen, name)[i] for i in chosen) for name in ("corner_ids", "x_px", "y_px", "u_px")}
    return with_fewer_marks(job, MARKS), (replace(seen, **fields),)


def with_fewer_marks(job: Job, count: int) -> Job:
    """The job with its first marks, rims last, and the fittings that still have marks."""
    wanted = [mark for mark in job.marks if mark.kind is not MarkKind.RIM]
    rims = [mark for mark in job.marks if mark.kind is MarkKind.RIM]
    marks = (wanted + rims)[:count]
    named = {mark.of for mark in marks}
    fittings = tuple(fitting for fitting in job.fittings if fitting.id in named)
    return replace(job, marks=tuple(marks), fittings=fittings)


def _help() -> Timing:
    """The time until help is on the screen."""
    (taken,) = shortest(lambda: _command("--help"), runs=9)
    return Timing("`digitizer --help`", taken, 0.3, "ms")


def _adjustment(job: Job, evidence: Evidence) -> Timing:
    """One adjustment from its start to the covariance of every unknown."""
    job, sightings = smaller(job, evidence)
    network = build(job, evidence.facts, sightings)
    system = network.system
    start = start_values(network, system).x
    corners = sum(len(sighting.corner_ids) for sighting in sightings)
    what = f"adjustment, {len(job.marks)} marks and {corners} board corners, covariance of all unknowns included"
    (taken,) = shortest(lambda: adjust(system, start, network.layout.free).covariance, runs=25)
    return Timing(what, taken, 0.015, "ms")


def _live(job: Job, evidence: Evidence) -> list[Timing]:
    """Figures that follow a dragged mark, in time of the processor: on a flat job of 60 marks and on a bowed one."""
    flat, sightings = smaller(job, evidence)
    bowed = opened(sample_job("bowed_three"), _silent)
    seen = gather(bowed)
    cases = [
        (f"a flat job of {len(flat.marks)} marks", 0.012, flat, evidence.facts, sightings),
        (f"a bowed job of {len(bowed.job.marks)} marks in three photos", 0.025, bowed.job, seen.facts, seen.sightings),
    ]
    out = []
    for what, limit, whole, facts, corners in cases:
        _, live = started(whole, facts, corners)
        assert live is not None
        for kind in (MarkKind.CHINE, MarkKind.KEEL):
            dragged = _dragged(whole, kind)
            (taken,) = shortest(lambda: quick(live, dragged), runs=40, clock=time.process_time)  # noqa: B023
            bound = limit if kind is MarkKind.CHINE else float("inf")
            out.append(Timing(f"figures following a {kind} mark, {what}", taken, bound, "ms"))
    return out


def _dragged(job: Job, kind: MarkKind) -> Job:
    """The job with its first mark of a kind three pixels further."""
    number = next(i for i, mark in enumerate(job.marks) if mark.kind is kind)
    mark = job.marks[number]
    return replace(job, marks=(*job.marks[:number], replace(mark, x_px=mark.x_px + 3.0), *job.marks[number + 1 :]))


def _demo() -> list[Timing]:
    """The demo's job measured from the terminal, against merely decoding its photo and importing libraries."""
    bare, whole = shortest(
        lambda: subprocess.run([sys.executable, "-c", BARE], check=True), lambda: _command("measure", str(JOB)), runs=8
    )
    return [
        Timing("decoding the demo's photo and importing the libraries", bare, float("inf"), "s"),
        Timing("`digitizer measure` on the demo's job", whole, 2 * bare, "s"),
        Timing("the second divided by the first", whole / bare, 2.0, ""),
    ]


def _report(job_file: JobFile) -> list[Timing]:
    """The report: written from a finished survey, and by the whole command."""
    survey = measured(job_file, _silent).survey
    photos = pictures(job_file, _silent)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "report.pdf"
        (written,) = shortest(lambda: write_report(survey, job_file.job, photos, out), runs=4)
        large, large_job, many = crowded(survey, job_file.job, next(iter(photos.values())))
        (long,) = shortest(lambda: write_report(large, large_job, many, out), runs=4)
        (whole,) = shortest(lambda: _command("report", str(JOB), "--out", str(out)), runs=3)
    return [
        Timing("writing the report from a finished survey", written, 2.0, "s"),
        Timing(f"the same with {FITTINGS} fittings and {PHOTOS} photos of 12 megapixels, all marked", long, 3.0, "s"),
        Timing("`digitizer report`, photo to PDF", whole, float("inf"), "s"),
    ]


def _cutting(job_file: JobFile) -> list[Timing]:
    """Cutting files of a transom of 2.6 m: the sample's, drawn so much larger."""
    survey = measured(job_file, _silent).survey
    widest = max(x for edge in survey.edges for x, _ in edge.points)
    drawing = enlarged(cutting_drawing(survey, job_file.job, "mm"), 1300.0 / widest)
    timings = []
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        for what, action in (
            ("template of a transom of 2.6 m on A4", lambda: write_template(drawing, out, sheet_paper(PaperSize.A4))),
            ("the same on a roll of 914 mm", lambda: write_template(drawing, out, roll_paper(914.0))),
            ("DXF of the same transom", lambda: write_dxf(drawing, out)),
            ("SVG of the same transom", lambda: write_svg(drawing, out)),
        ):
            (taken,) = shortest(action, runs=4)
            timings.append(Timing(what, taken, 3.0, "s"))
    return timings


def enlarged(drawing: Drawing, by: float) -> Drawing:
    """A drawing with its lines and the places of its fittings further apart."""
    lines = tuple(replace(line, points=tuple((by * x, by * y) for x, y in line.points)) for line in drawing.lines)
    fittings = tuple(replace(each, at=(by * each.at[0], by * each.at[1])) for each in drawing.fittings)
    left, bottom, right, top = (by * side for side in drawing.extent)
    return replace(drawing, lines=lines, fittings=fittings, extent=(left, bottom, right, top))


def crowded(survey: Survey, job: Job, picture: Picture) -> tuple[Survey, Job, dict[str, Picture]]:
    """The survey and job with many fittings, and the same photo many times over, each with all its marks."""
    names = [f"p{n}" for n in range(PHOTOS)]
    files = {name: f"{name}.jpg" for name in names}
    taken = tuple(replace(survey.photos[0], id=name, file=files[name]) for name in names)
    fittings = tuple(
        replace(each, id=f"f{n}", x=replace(each.x, value=-900.0 + 1800.0 * n / FITTINGS))
        for n, each in zip(range(FITTINGS), cycle(survey.fittings), strict=False)
    )
    photos = tuple(replace(job.photos[0], id=name, file=files[name]) for name in names)
    marks = tuple(replace(m, id=f"{name} {m.id}", photo=name) for name in names for m in job.marks)
    large = replace(survey, photos=taken, fittings=fittings)
    return large, replace(job, photos=photos, marks=marks), dict.fromkeys(names, picture)


def _command(*words: str) -> None:
    """Run the program in a process of its own, its output thrown away."""
    subprocess.run([sys.executable, "-m", "digitizer", *words], check=True, stdout=subprocess.DEVNULL)


def _shown(value: float, unit: str) -> str:
    """A time or ratio as printed; no limit is a dash."""
    if value == float("inf"):
        return "–"
    return f"{value * 1000:.1f} ms" if unit == "ms" else f"{value:.2f} {unit}".rstrip()


def _silent(_words: str) -> None:
    """Hear nothing."""


if __name__ == "__main__":
    sys.exit(main())
