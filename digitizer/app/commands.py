"""
One command for every edit: the job before, the job after, and the words for the menu.

The verbs themselves are functions of `job.edits`; because records are frozen, undo is putting the old job back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtGui import QUndoCommand

from digitizer.job.model import Job

if TYPE_CHECKING:
    from digitizer.app.document import Document

_NEVER_MERGED = -1


class Edit(QUndoCommand):
    """Puts one job in the place of another; edits with the same `joins` that follow each other become one."""

    def __init__(self, document: Document, words: str, job: Job, joins: str | None = None) -> None:
        super().__init__(words)
        self._document = document
        self._before = document.job
        self._after = job
        self._joins = joins

    def redo(self) -> None:
        """Show the job after the edit."""
        self._document.show_job(self._after)

    def undo(self) -> None:
        """Show the job before the edit, the very same object."""
        self._document.show_job(self._before)

    def id(self) -> int:
        """Qt asks only commands with the same number whether they merge."""
        return _NEVER_MERGED if self._joins is None else hash(self._joins) & 0x7FFFFFFF

    def mergeWith(self, other: QUndoCommand) -> bool:
        """Swallow the next nudge of the same mark."""
        if not isinstance(other, Edit) or other._joins != self._joins:
            return False
        self._after = other._after
        self.setObsolete(self._after == self._before)
        return True
