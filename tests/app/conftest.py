"""Windows without a screen, and folders of their own for whatever they keep."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication

from digitizer.app.desk import Folders
from digitizer.app.platform import application
from digitizer.app.window import Window


@pytest.fixture(scope="session")
def qapp() -> object:
    """The program's own way of making the application."""
    return application()


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    return Folders(tmp_path / "state", tmp_path / "settings")


def wait_for(done: Callable[[], bool], seconds: float = 20.0) -> None:
    """Let the window work until something is so."""
    end = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < end, "waited in vain"
        QApplication.processEvents()
        time.sleep(0.005)


class Answers:
    """A person who answers from a list and remembers what was said."""

    def __init__(self, place: Path | None = None, *choices: int) -> None:
        self.place, self.choices = place, list(choices)
        self.told: list[str] = []
        self.asked: list[str] = []

    def tell(self, words: str) -> None:
        self.told.append(words)

    def choose(self, question: str, options: tuple[str, ...]) -> int:
        self.asked.append(question)
        return self.choices.pop(0)

    def place_to_save(self, suggestion: str) -> Path | None:
        self.asked.append(suggestion)
        return self.place


@pytest.fixture
def window(qapp: object, folders: Folders, tmp_path: Path) -> Iterator[Window]:
    """A window as it opens for the first time."""
    yield from _shown(folders, tmp_path)


@pytest.fixture(scope="module")
def sample_window(qapp: object, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Window]:
    """A window on the measured sample, shared by the tests of a module; see `opened`."""
    place = tmp_path_factory.mktemp("window")
    for window in _shown(Folders(place / "state", place / "settings"), place):
        window.open_sample()
        wait_for(lambda w=window: w.document.survey is not None)
        yield window


@pytest.fixture
def opened(sample_window: Window) -> Iterator[Window]:
    """The sample as it was opened; what a test does to it is undone afterwards."""
    window = sample_window
    yield window
    window.document.undo_stack.setIndex(0)
    window.figure_bar.give_up()
    window.canvas.arm(None)
    window.canvas.fit()
    window.document.select()
    wait_for(lambda: window.document.is_current)


def _shown(folders: Folders, place: Path) -> Iterator[Window]:
    QSettings.setPath(QSettings.Format.NativeFormat, QSettings.Scope.UserScope, str(place / "qsettings"))
    window = Window(folders)
    window.resize(1366, 768)
    window.show()
    yield window
    window.choose = lambda question, options: 1  # type: ignore[method-assign]
    window.close()
