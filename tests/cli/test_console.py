"""Progress on stderr, and text that can't steer a terminal."""

import io

import pytest

from digitizer.cli.console import harmless, progress


class Terminal(io.StringIO):
    """A stderr that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_progress_is_silent_where_nobody_watches(capsys: pytest.CaptureFixture[str]) -> None:
    """A log file or pipe gets no progress."""
    with progress() as tell:
        tell("Reading …")
    assert capsys.readouterr() == ("", "")


def test_progress_takes_names_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """A photo whose name looks like markup or holds escape sequences is shown, not obeyed."""
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with progress() as tell:
        tell("Looking for targets in a[/b]\x1b[2J.jpg …")
    assert "a[/b]\N{REPLACEMENT CHARACTER}[2J.jpg" in terminal.getvalue()


def test_harmless_keeps_every_printable_letter() -> None:
    """Only control characters are replaced."""
    assert harmless("Ærø ± 3° ⌀\x07\x9b") == "Ærø ± 3° ⌀\N{REPLACEMENT CHARACTER}\N{REPLACEMENT CHARACTER}"
