"""The keys of every command as they are on this computer, with a field to search them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialogButtonBox,
    QHeaderView,
    QLineEdit,
    QMenu,
    QMenuBar,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from digitizer.app.dialogs.frame import Frame
from digitizer.app.words import tr


@dataclass(frozen=True)
class Shortcut:
    """A command or gesture and its keys, as text."""

    group: str
    name: str
    keys: str


def menu_shortcuts(bar: QMenuBar) -> tuple[Shortcut, ...]:
    """The commands of the menus that have keys, by menu."""
    return tuple(
        each
        for top in bar.actions()
        if isinstance(menu := top.menu(), QMenu)
        for each in _shortcuts(_plain(top.text()), menu.actions())
    )


def _shortcuts(group: str, actions: Sequence[QAction]) -> Iterator[Shortcut]:
    for action in actions:
        below = action.menu()
        if isinstance(below, QMenu):
            yield from _shortcuts(group, below.actions())
        elif action.shortcuts():
            keys = (key.toString(QKeySequence.SequenceFormat.NativeText) for key in action.shortcuts())
            yield Shortcut(group, _plain(action.text()), tr(" or ").join(keys))


def _plain(words: str) -> str:
    """A menu's words without the signs that serve the menu."""
    return words.replace("&&", "\0").replace("&", "").replace("\0", "&").removesuffix("…").strip()


class KeyboardDialog(Frame):
    """
    All keys in a table.

    Parameters
    ----------
    shortcuts
        Of the menus, and of gestures that have none.
    """

    def __init__(self, shortcuts: Sequence[Shortcut], parent: QWidget | None = None) -> None:
        super().__init__(tr("Keyboard"), QSize(560, 560), parent)
        self.search = QLineEdit()
        self.search.setPlaceholderText(tr("Search"))
        self.search.setAccessibleName(tr("Search the commands"))
        self.search.setClearButtonEnabled(True)
        self.search.textChanged.connect(self._filter)
        self.table = self._table(shortcuts)
        body = QWidget()
        layout = QVBoxLayout(body)
        layout.addWidget(self.search)
        layout.addWidget(self.table, 1)
        self.set_body(body)
        self.add_button(tr("Close"), QDialogButtonBox.ButtonRole.RejectRole).clicked.connect(self.reject)
        self.search.setFocus()

    def shown(self) -> tuple[str, ...]:
        """Names of the commands that the search leaves."""
        rows = (row for row in range(self.table.rowCount()) if not self.table.isRowHidden(row))
        return tuple(item.text() for row in rows if (item := self.table.item(row, 1)) is not None)

    def _table(self, shortcuts: Sequence[Shortcut]) -> QTableWidget:
        table = QTableWidget(len(shortcuts), 3)
        table.setAccessibleName(tr("Commands and their keys"))
        table.setHorizontalHeaderLabels([tr("Menu"), tr("Command"), tr("Keys")])
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setTabKeyNavigation(False)
        table.verticalHeader().hide()
        table.setMinimumHeight(120)
        for row, each in enumerate(shortcuts):
            for column, words in enumerate((each.group, each.name, each.keys)):
                table.setItem(row, column, QTableWidgetItem(words))
        header = table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        return table

    def _filter(self, words: str) -> None:
        wanted = words.casefold().split()
        for row in range(self.table.rowCount()):
            cells = (self.table.item(row, column) for column in range(3))
            text = " ".join(cell.text() for cell in cells if cell is not None).casefold()
            self.table.setRowHidden(row, not all(word in text for word in wanted))
