"""``digitizer lens``: kept calibrations, and putting them into a job."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from digitizer.cli.console import harmless, progress, standard_output

if TYPE_CHECKING:
    from digitizer.job.model import Job
    from digitizer.job.reading import JobFile

_DESCRIPTION = """\
Show the calibrations that are kept, or put those that fit the photos of a job into it.

The job then holds the values themselves, so that it measures the same on any computer.
"""
_EPILOG = """\
examples:
  digitizer lens                                             what is kept
  digitizer lens my-boat/job.json --out my-boat/lens.json    beside the same photos
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "lens",
        help="put a kept calibration into a job",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("job", type=Path, nargs="?", metavar="JOB", help="a .transom file, or a job.json")
    parser.add_argument("--out", type=Path, metavar="NEWJOB", help="the job to write")
    parser.set_defaults(verb=run, parser=parser)


def run(arguments: argparse.Namespace) -> None:
    """List what is kept, or write the job with it."""
    if (arguments.job is None) != (arguments.out is None):
        arguments.parser.error("JOB and --out go together")
    if arguments.job is None:
        with standard_output():
            _list()
        return
    with progress() as tell:
        from digitizer.cli.new_job import check_new_job, write_new_job
        from digitizer.cli.work import opened

        job_file = opened(arguments.job, tell)
        check_new_job(job_file, arguments.out)
        job, said = _with_lenses(job_file)
        write_new_job(job_file, job, arguments.out)
    with standard_output():
        print("\n".join([*map(harmless, said), f"{arguments.out} written."]))


def _list() -> None:
    from digitizer.job.lenses import kept_lenses, lens_file

    kept = kept_lenses()
    for k in kept:
        focal = f", {k.lens.focal_mm:g} mm" if k.lens.focal_mm else ""
        c = k.calibration
        print(harmless(f"{k.lens.device}{focal}, {c.width_px} × {c.height_px}: f = {c.f_px:.1f} px ({c.source})"))
    print(f"{len(kept)} kept in {lens_file()}." if kept else "None is kept: 'digitizer calibrate' makes one.")


def _with_lenses(job_file: JobFile) -> tuple[Job, list[str]]:
    """The job with what is kept for its cameras, and that in words."""
    from digitizer.errors import JobFileError
    from digitizer.imaging.photo import photo_facts
    from digitizer.job.lenses import kept_lenses
    from digitizer.job.reading import photo_bytes
    from digitizer.survey.lens_offers import offers, with_offers

    job = job_file.job
    facts = {p.id: photo_facts(photo_bytes(job_file, p), p.file) for p in job.photos if p.active}
    found = offers(job, facts, kept_lenses())
    if not found:
        raise JobFileError(
            f"{job_file.path}: no calibration is kept for the cameras of this job that have none yet: 'digitizer lens' "
            "lists what is kept, 'digitizer calibrate' makes one from photos of the printed board"
        )
    return with_offers(job, found), [f"{camera}: f = {c.f_px:.1f} px, {c.source}" for camera, c in found.items()]
