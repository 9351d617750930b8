"""What reaches the user: version, samples, licences, and the two lines of the README."""

import re
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import requires, version
from pathlib import Path

import pytest

import digitizer
from digitizer.app.help_pages import DRAWINGS, page_names
from digitizer.samples import sample_job

TREE = Path(__file__).parents[1]
SAMPLES = (
    "flat_square_on",
    "flat_oblique_wide",
    "flat_profile",
    "tape_only",
    "bowed_three",
    "padded_two",
    "damaged_two",
)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Names inside a freshly built wheel."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=TREE, check=True, capture_output=True, timeout=120)
    with zipfile.ZipFile(next(folder.glob("digitizer-*.whl"))) as archive:
        return set(archive.namelist())


def test_installed_version_is_the_one_in_the_source() -> None:
    """The version that pip knows and the one that reports print are one."""
    assert version("digitizer") == digitizer.__version__


@pytest.mark.parametrize("name", SAMPLES)
def test_sample_is_found_with_its_photos(name: str) -> None:
    """Each sample has its job and every photo the job names."""
    job = sample_job(name)
    assert re.findall(r'"file": "([^"]+)"', job.read_text(encoding="utf-8"))
    for photo in re.findall(r'"file": "([^"]+)"', job.read_text(encoding="utf-8")):
        assert (job.parent / photo).is_file()


def test_unknown_sample_is_a_programming_mistake() -> None:
    """A sample that doesn't exist is named in a ValueError."""
    with pytest.raises(ValueError, match="no sample named 'paper_boat'"):
        sample_job("paper_boat")


@pytest.mark.parametrize("name", SAMPLES)
def test_wheel_carries_the_samples(wheel: set[str], name: str) -> None:
    """A plain installation can measure every sample."""
    assert {f"digitizer/sample_images/{name}/job.json", f"digitizer/sample_images/{name}/photo_1.jpg"} <= wheel


def test_wheel_carries_the_help(wheel: set[str]) -> None:
    """A plain installation can explain itself: every page and every drawing is inside."""
    pages = {f"digitizer/app/help/{name}.md" for name in page_names()}
    drawings = {f"digitizer/app/drawings/{path.name}" for path in DRAWINGS.glob("*.svg")}
    assert len(drawings) > 30
    assert pages | drawings <= wheel


def test_wheel_carries_fonts_and_licences(wheel: set[str]) -> None:
    """The report's fonts come with the program, and so do both licences."""
    assert any(name.startswith("digitizer/reports/fonts/") and name.endswith(".ttf") for name in wheel)
    licences = {Path(name).name for name in wheel if "/licenses/" in name}
    assert "LICENSE" in licences
    assert any("DejaVu" in name for name in licences)


def test_wheel_holds_no_tests(wheel: set[str]) -> None:
    """Nothing of the test suite is installed."""
    assert not [name for name in wheel if name.startswith("tests/")]


def test_one_window_toolkit_is_asked_for() -> None:
    """The window needs PySide6 without its add-ons, and nothing else asks for another toolkit."""
    names = {re.split(r"[<>=;\[ ]", line)[0].lower() for line in requires("digitizer") or []}
    assert {"pyside6", "pyqt5", "pyqt6", "pyside6-essentials"} & names == {"pyside6-essentials"}


@pytest.mark.parametrize(
    "line",
    [
        pytest.param("python3 -m pip install . && digitizer demo", id="demo"),
        pytest.param('python3 -m pip install -e ".[test]" && python3 -m pytest', id="tests"),
    ],
)
def test_readme_gives_the_line_once(line: str) -> None:
    """A newcomer, and CI, find each of the two lines exactly once."""
    lines = (TREE / "README.md").read_text(encoding="utf-8").splitlines()
    assert lines.count(line) == 1


def test_entry_point_is_the_command() -> None:
    """The installed command leads to the command line's front door."""
    project = tomllib.loads((TREE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["scripts"] == {"digitizer": "digitizer.cli.main:run"}
