"""
The real program, with an ear for questions from a test: where is this button, this menu, this place of the photo?

It answers on stdout, one line of JSON each; whatever is done to the window comes from outside, by pointer and keys.
"""

from __future__ import annotations

import json
import sys
import threading
from pathlib import Path

from PySide6.QtCore import QObject, QPoint, Signal
from PySide6.QtWidgets import QAbstractButton, QApplication, QWidget

from digitizer.app.desk import Folders
from digitizer.app.platform import application
from digitizer.app.window import Window


class Ear(QObject):
    """Questions read on a thread, answered on the interface thread."""

    asked = Signal(str)

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window = window
        self.asked.connect(self._answer)
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        for line in sys.stdin:
            self.asked.emit(line.strip())

    def _answer(self, line: str) -> None:
        verb, _, rest = line.partition(" ")
        answers = {"where": self._where, "photo": self._photo, "state": self._state}
        print(json.dumps(answers[verb](rest)), flush=True)

    def _where(self, words: str) -> list[int] | None:
        """Middle of the visible widget with this text or accessible name, on the screen."""
        for top in QApplication.topLevelWidgets():
            for widget in (top, *top.findChildren(QWidget)):
                if widget.isVisible() and words in _names(widget):
                    return _xy(widget.mapToGlobal(widget.rect().center()))
        return None

    def _photo(self, place: str) -> list[int]:
        """Where a pixel of the photo is on the screen."""
        x, y = map(float, place.split())
        canvas = self._window.canvas
        return _xy(canvas.mapToGlobal(canvas.viewport.screen(x, y).toPoint()))

    def _state(self, _: str) -> dict[str, object]:
        document = self._window.document
        return {
            "photos": len(document.photos),
            "marks": len(document.job.marks),
            "fittings": len(document.job.fittings),
            "measured": document.is_measured and not self._window.desk.is_reading,
            "problem": document.answer.problem,
            "saved": document.is_saved,
            "path": str(document.path or ""),
            "message": self._window.message.words(),
            "undo": document.undo_stack.undoText(),
            "tool": self._window.canvas.tool.key if self._window.canvas.tool else "",
            "dimensions": {d.code: d.value for d in document.survey.dimensions} if document.survey else {},
        }


def _names(widget: QWidget) -> tuple[str, ...]:
    text = widget.text().replace("&", "") if isinstance(widget, QAbstractButton) else ""
    return text, widget.accessibleName(), widget.windowTitle() if widget.isWindow() else ""


def _xy(point: QPoint) -> list[int]:
    return [point.x(), point.y()]


def main() -> int:
    """Open the window with whatever files are named, its folders in the place named first."""
    place = Path(sys.argv[1])
    width, height = map(int, sys.argv[2].split("x"))
    app = application()
    window = Window(Folders(place / "state", place / "settings"))
    window.setGeometry(0, 0, width, height)
    window.show()
    Ear(window)
    for name in sys.argv[3:]:
        window.desk.open(Path(name))
    print(json.dumps("ready"), flush=True)
    return app.exec()


if __name__ == "__main__":
    sys.exit(main())
