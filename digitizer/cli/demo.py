"""``digitizer demo``: the whole way on a sample, from photo to report."""

from __future__ import annotations

import argparse
from pathlib import Path

from digitizer.cli.console import progress, standard_output
from digitizer.errors import ReportError
from digitizer.reports.destinations import Kind, check_destination
from digitizer.samples import sample_job

_SAMPLE = "flat_square_on"
_RESULTS = {"report.pdf": Kind.PDF, "survey.json": Kind.SURVEY, "dimensions.csv": Kind.DIMENSIONS}
_DESCRIPTION = """\
Measure the sample that comes with the program and leave its report: once with the marks as they were clicked,
and once with the marks moved onto the edges they mean, which is what the report shows.

The sample picture is a render of an invented boat, not a photograph: its true dimensions are known exactly,
so you can see how near the program comes and whether it is honest about the rest.
"""
_EPILOG = """\
example:
  digitizer demo --out try-it
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Teach the command line this verb."""
    parser = commands.add_parser(
        "demo",
        help="measure a sample picture and leave its report",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--out", type=Path, metavar="DIR", default=Path("transom-demo"), help="folder for the results (transom-demo)"
    )
    parser.set_defaults(verb=run)


def run(arguments: argparse.Namespace) -> None:
    """Measure the sample, leave report, survey and table in the folder, and compare with the truth."""
    with progress() as tell:
        from digitizer.cli.work import measured, opened, pictures
        from digitizer.reports.pdf import write_report
        from digitizer.reports.table import write_dimensions_csv, write_survey_json

        folder = _folder(arguments.out)
        job_file = opened(sample_job(_SAMPLE), tell)
        clicked = measured(job_file, tell).survey
        found = measured(job_file, tell, snap=True)
        survey = found.survey
        photos = pictures(job_file, tell)
        tell("Writing the report …")
        write_report(survey, found.job_file.job, photos, folder / "report.pdf")
        write_survey_json(survey, folder / "survey.json")
        write_dimensions_csv(survey, folder / "dimensions.csv")
    with standard_output():
        from digitizer.cli.comparison import show_comparison

        show_comparison(clicked, survey, job_file.path.with_name("truth.json"))
        print(f"\nIn {folder}: {', '.join(_RESULTS)}. Open {folder / 'report.pdf'} first.")


def _folder(path: Path) -> Path:
    """The folder for the results, made if need be, and nothing in it that they would wrongly replace."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise ReportError(str(path), f"this folder can't be made ({problem.strerror}): choose another") from problem
    for name, kind in _RESULTS.items():
        check_destination(path / name, kind)
    return path
