"""The front door: help, version, exit statuses of what is not understood."""

import subprocess
import sys

import pytest

import digitizer
from digitizer.cli.main import main
from digitizer.cli.report import READERS
from digitizer.job.model import Reader

VERBS = ("demo", "measure", "report", "target")


def test_version_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """--version says the program's version and is a success."""
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"digitizer {digitizer.__version__}\n"


@pytest.mark.parametrize("verb", VERBS)
def test_help_of_each_verb_has_an_example(verb: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A verb's help shows a command that can be typed."""
    with pytest.raises(SystemExit) as ended:
        main([verb, "--help"])
    assert ended.value.code == 0
    shown = capsys.readouterr().out
    assert "example" in shown
    assert f"  digitizer {verb}" in shown


def test_help_names_every_verb(capsys: pytest.CaptureFixture[str]) -> None:
    """The first help lists all there is to do."""
    with pytest.raises(SystemExit):
        main(["--help"])
    shown = capsys.readouterr().out
    assert all(f"\n    {verb} " in shown for verb in VERBS)


def test_no_verb_opens_the_window(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bare command opens the window, empty."""
    opened: list[tuple[object, ...]] = []
    monkeypatch.setattr("digitizer.cli.open.show_window", lambda *files: opened.append(files))
    assert main([]) == 0
    assert opened == [()]


def test_report_is_for_every_reader_there_is() -> None:
    """The choices that the front door lists are the readers of the job's settings."""
    assert list(READERS) == [reader.value for reader in Reader]


def test_window_without_its_toolkit_is_refused_in_words(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where PySide6 can't be loaded, the sentence says so and what still works."""
    monkeypatch.setitem(sys.modules, "digitizer.app.main", None)
    assert main([]) == 1
    assert "PySide6" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [
        pytest.param(["report", "job.json"], id="report-without-out"),
        pytest.param(["measure"], id="measure-without-job"),
        pytest.param(["target", "--out", "t.pdf", "--paper", "A0"], id="unknown-paper"),
        pytest.param(["sing"], id="unknown-verb"),
        pytest.param(["measure", "job.json", "--json", "-", "--csv", "-"], id="two-files-to-stdout"),
    ],
)
def test_what_is_not_understood_ends_with_two(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong command line says so on stderr with status 2."""
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 2
    assert "error:" in capsys.readouterr().err


def test_module_runs_like_the_command() -> None:
    """`python -m digitizer` is the same program."""
    done = subprocess.run([sys.executable, "-m", "digitizer", "--version"], capture_output=True, text=True, timeout=60)
    assert done.stdout == f"digitizer {digitizer.__version__}\n"
