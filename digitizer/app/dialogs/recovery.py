"""Work that was found after a crash: take it back, decline it, or leave it for later."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QDialogButtonBox,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from digitizer.app.dialogs.frame import Frame, wrapped
from digitizer.app.words import tr
from digitizer.job.recovery import Recoverable, Recovery

_HELD = Qt.ItemDataRole.UserRole


class RecoveryDialog(Frame):
    """
    Offers unsaved work.

    Parameters
    ----------
    there
        What `job.recovery.recoverable` found.
    now
        To tell today's work from older.
    """

    taken = Signal(object)
    """A `Recovery` to go on with; the dialog closes."""
    declined = Signal(object)
    """A `Recovery` that is not wanted, after being asked."""
    damage_dismissed = Signal(object)
    """The `Path` of a damaged file that may go."""

    def __init__(self, there: Recoverable, now: datetime, parent: QWidget | None = None) -> None:
        super().__init__(tr("Unsaved work"), QSize(620, 420), parent)
        self._now = now
        self.list = QListWidget()
        self.list.setAccessibleName(tr("Unsaved work"))
        self.list.setWordWrap(True)
        self.list.setSpacing(4)
        self.list.setAlternatingRowColors(True)
        self.list.setMinimumHeight(90)
        for recovery in there.found:
            self._add(recovery, self._words(recovery))
        for file, sentence in there.damaged:
            self._add(file, sentence)
        self.list.currentItemChanged.connect(lambda *_: self._show_choices())
        self.list.itemActivated.connect(lambda _: self._take())
        self._asked = wrapped()
        body = QWidget()
        layout = QVBoxLayout(body)
        layout.addWidget(wrapped(_opening(len(there.found), len(there.damaged))))
        layout.addWidget(self.list, 1)
        layout.addWidget(self._asked)
        layout.addWidget(self._question())
        self.set_body(body)
        self.take = self.add_button(tr("&Go on with it"), QDialogButtonBox.ButtonRole.AcceptRole)
        self.take.setDefault(True)
        self.take.clicked.connect(self._take)
        self.decline = self.add_button(tr("&Remove …"), QDialogButtonBox.ButtonRole.ActionRole)
        self.decline.clicked.connect(self._ask)
        self.add_button(tr("&Later"), QDialogButtonBox.ButtonRole.RejectRole).clicked.connect(self.reject)
        self.list.setCurrentRow(0)
        self.list.setFocus()

    def _add(self, held: Recovery | Path, words: str) -> None:
        item = QListWidgetItem(words, self.list)
        item.setData(_HELD, held)

    def _question(self) -> QWidget:
        """Asks before work is lost, in the dialog itself."""
        self.sure = QPushButton(tr("Remove for good"))
        self.keep = QPushButton(tr("Keep it"))
        self.sure.clicked.connect(self._remove)
        self.keep.clicked.connect(lambda: self._show_question(False))
        self._choice = QWidget()
        layout = QHBoxLayout(self._choice)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.sure)
        layout.addWidget(self.keep)
        layout.addStretch(1)
        self._show_question(False)
        return self._choice

    def _held(self) -> Recovery | Path | None:
        item = self.list.currentItem()
        held = item.data(_HELD) if item else None
        return held if isinstance(held, Recovery | Path) else None

    def _show_choices(self) -> None:
        held = self._held()
        self.take.setEnabled(isinstance(held, Recovery))
        self.decline.setEnabled(held is not None)
        self._show_question(False)

    def _take(self) -> None:
        held = self._held()
        if isinstance(held, Recovery):
            self.taken.emit(held)
            self.accept()

    def _ask(self) -> None:
        self._asked.setText(tr("It can't be had back afterwards. The job as it was last saved stays."))
        self._show_question(True)
        self.keep.setFocus()

    def _show_question(self, asked: bool) -> None:
        self._choice.setVisible(asked)
        self._asked.setVisible(asked)

    def _remove(self) -> None:
        held = self._held()
        if held is not None:
            (self.declined if isinstance(held, Recovery) else self.damage_dismissed).emit(held)
            self.list.takeItem(self.list.currentRow())
        self._show_question(False)
        if self.list.count():
            self.list.setFocus()
        else:
            self.reject()

    def _words(self, recovery: Recovery) -> str:
        title = recovery.job.title or recovery.job.boat.name or tr("A job without a title")
        if recovery.job_path is None:
            where = tr("never saved")
        else:
            where = str(recovery.job_path) + ("" if recovery.job_path.exists() else tr(" (no longer there)"))
        lines = [f"{title}, {_when(recovery.when, self._now)}", f"{_size(recovery)}; {where}"]
        if recovery.host:
            lines.append(tr("Kept on {host}: its window may still be open there.", host=recovery.host))
        return "\n".join(lines)


def _opening(found: int, damaged: int) -> str:
    if not found and damaged:
        return tr("Unsaved work was found, but it can't be read. The jobs as last saved are untouched.")
    return tr("The program ended without closing. This work was not saved yet; nothing has been written over.")


def _size(recovery: Recovery) -> str:
    marks, photos = len(recovery.job.marks), len(recovery.job.photos)
    told = tr("1 mark") if marks == 1 else tr("{count} marks", count=marks)
    return f"{told}, {tr('1 photo') if photos == 1 else tr('{count} photos', count=photos)}"


def _when(when: datetime, now: datetime) -> str:
    """Today by the hour, older work with its day."""
    if when.date() == now.date():
        return tr("today {when:%H:%M}", when=when)
    return tr("{when:%Y-%m-%d %H:%M}", when=when)
