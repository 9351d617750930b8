"""Documentation that can't rot unseen: links lead somewhere, and the command line is described in full."""

import re
from pathlib import Path

import pytest

from digitizer.cli.main import _parser
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.evidence import gather
from digitizer.survey.measure import measure

TREE = Path(__file__).parents[1]
PAGES = sorted([*TREE.glob("*.md"), *(TREE / "docs").rglob("*.md"), *(TREE / "sample_images").glob("*.md")])


def headings(page: Path) -> set[str]:
    """Anchors of a page's headings, as GitHub makes them."""
    titles = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(TREE)))
def test_links_lead_somewhere(page: Path) -> None:
    """Each relative link names a file that is there, and a heading in it if it names one."""
    for link in re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8")):
        if re.match(r"[a-z]+:", link):
            continue
        file, _, anchor = link.partition("#")
        goal = (page.parent / file).resolve() if file else page
        assert goal.exists(), link
        assert not anchor or anchor in headings(goal), link


def test_every_option_is_in_the_command_line_reference() -> None:
    """Each verb and each of its options stands in the reference."""
    page = (TREE / "docs/reference/command-line.md").read_text(encoding="utf-8")
    verbs = next(
        action for action in _parser()._actions if action.dest == "verb" or action.metavar == "COMMAND"
    ).choices
    for verb, parser in verbs.items():
        assert f"digitizer {verb}" in page
        options = {option for action in parser._actions for option in action.option_strings if option.startswith("--")}
        assert [option for option in options - {"--help"} if option not in page] == []


def test_every_code_of_the_sample_is_described() -> None:
    """Each dimension that the sample's survey holds stands in the reference of dimensions."""
    page = (TREE / "docs/reference/dimensions.md").read_text(encoding="utf-8")
    job_file = read_job(sample_job("flat_square_on"))
    evidence = gather(job_file)
    survey = measure(job_file.job, evidence.facts, evidence.sightings)
    assert [dimension.code for dimension in survey.dimensions if f"`{dimension.code}`" not in page] == []
