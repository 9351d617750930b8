"""The one place that turns refusals into a line and an exit status."""

import subprocess
import sys

import pytest

from digitizer.cli.refusals import exit_status, missing_library, sentence
from digitizer.errors import DigitizerError, JobFileError, NewerJobFileError, PhotoError, RankDeficientError


def raising(error: BaseException) -> None:
    raise error


@pytest.mark.parametrize(
    "error",
    [
        pytest.param(PhotoError("a.jpg", "the file is empty: copy it again"), id="photo"),
        pytest.param(NewerJobFileError(3, 1), id="newer-job"),
        pytest.param(RankDeficientError(("the scale",), "add one known length."), id="no-scale"),
    ],
)
def test_refusal_is_one_line_on_stderr(error: DigitizerError, capsys: pytest.CaptureFixture[str]) -> None:
    """A refusal ends with status 1 and exactly one line, which is its own words."""
    assert exit_status(lambda: raising(error)) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == f"digitizer: {error}\n"


def test_places_in_the_job_are_said() -> None:
    """Where in the file is added when the words leave it out, and not said twice."""
    assert sentence(JobFileError("a mark is wrong", ("marks[3].x_px",))) == "a mark is wrong (at marks[3].x_px)"
    assert sentence(JobFileError("marks[3].x_px is wrong", ("marks[3].x_px",))) == "marks[3].x_px is wrong"


def test_refusal_cannot_steer_the_terminal() -> None:
    """Escape sequences in a stranger's file name are shown as harmless signs."""
    assert sentence(PhotoError("a\x1b[2J.jpg", "no photo")) == "a\N{REPLACEMENT CHARACTER}[2J.jpg: no photo"


def test_several_mistakes_are_listed_line_by_line() -> None:
    """A job with several mistakes keeps one line for each."""
    assert sentence(JobFileError("two things:\n  a: wrong\n  b: wrong", ("a", "b"))).count("\n") == 2


@pytest.mark.parametrize(
    ("library", "package"),
    [
        pytest.param("libGL.so.1", "libgl1", id="opengl"),
        pytest.param("libgthread-2.0.so.0", "libglib2.0-0", id="gthread"),
        pytest.param("libglib-2.0.so.0", "libglib2.0-0t64", id="glib-new-name"),
        pytest.param("libstdc++.so.6", "libstdc++6", id="c++"),
        pytest.param("libXyz.so.9", "apt-file search libXyz.so.9", id="unknown"),
    ],
)
def test_missing_system_library_names_the_debian_package(
    library: str, package: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a bare Linux the message names what to install, without a traceback."""
    error = ImportError(f"{library}: cannot open shared object file: No such file or directory")
    assert exit_status(lambda: raising(error)) == 1
    said = capsys.readouterr().err
    assert library in said
    assert package in said
    assert said.count("\n") == 1


def test_missing_system_library_is_told_by_the_real_command() -> None:
    """The whole command refuses in one line when importing the picture library fails."""
    script = (
        "import sys, importlib.abc\n"
        "class Bare(importlib.abc.MetaPathFinder):\n"
        "    def find_spec(self, name, path, target=None):\n"
        "        if name == 'cv2':\n"
        "            raise ImportError('libGL.so.1: cannot open shared object file: No such file or directory')\n"
        "sys.meta_path.insert(0, Bare())\n"
        "from digitizer.cli.main import run\n"
        "sys.argv = ['digitizer', 'demo', '--out', sys.argv[1]]\n"
        "run()\n"
    )
    done = subprocess.run([sys.executable, "-c", script, "never-made"], capture_output=True, text=True, timeout=60)
    assert done.returncode == 1
    assert "sudo apt-get install libgl1 libglib2.0-0" in done.stderr
    assert done.stderr.count("\n") == 1


def test_other_import_errors_are_not_explained_away() -> None:
    """A module that can't be imported for another reason is a bug and stays one."""
    assert missing_library(ImportError("cannot import name 'x' from 'y'")) is None
    with pytest.raises(ModuleNotFoundError):
        exit_status(lambda: raising(ModuleNotFoundError("No module named 'nowhere'")))


def test_bug_keeps_its_traceback() -> None:
    """What is no refusal rises untouched."""
    with pytest.raises(ZeroDivisionError):
        exit_status(lambda: raising(ZeroDivisionError()))


def test_ctrl_c_is_quiet(capsys: pytest.CaptureFixture[str]) -> None:
    """Interrupting ends with 130 and one line."""
    assert exit_status(lambda: raising(KeyboardInterrupt())) == 130
    assert capsys.readouterr().err.count("\n") == 1


def test_reader_that_goes_away_is_no_failure_worth_words() -> None:
    """A broken pipe ends with 141 and says nothing."""
    script = (
        "import sys\n"
        "from digitizer.cli.refusals import exit_status\n"
        "sys.exit(exit_status(lambda: [print('x' * 1000) for _ in range(10_000)] and None))"
    )
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.readline()
        running.stdout.close()
        said = running.stderr.read()
        assert running.wait(timeout=60) == 141
    assert said == b""


@pytest.mark.skipif(sys.platform != "linux", reason="/dev/full is a device of Linux")
def test_full_disk_behind_stdout_is_one_sentence() -> None:
    """Output sent to a full disk ends with status 1 and one line, not a traceback."""
    script = (
        "import sys\n"
        "from digitizer.cli.console import standard_output\n"
        "from digitizer.cli.refusals import exit_status\n"
        "def say():\n"
        "    with standard_output():\n"
        "        print('dimensions')\n"
        "sys.exit(exit_status(say))"
    )
    with open("/dev/full", "w") as full:  # noqa: PTH123 - a device, not a file
        done = subprocess.run(
            [sys.executable, "-c", script], stdout=full, stderr=subprocess.PIPE, text=True, timeout=60
        )
    assert done.returncode == 1
    assert done.stderr.startswith("digitizer: standard output: ")
    assert done.stderr.count("\n") == 1
