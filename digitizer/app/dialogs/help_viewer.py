"""The help: contents, search, pages with their drawings in the ink of the window."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from PySide6.QtCore import QEvent, QSize, Qt, QUrl, Signal
from PySide6.QtGui import (
    QDesktopServices,
    QKeySequence,
    QPalette,
    QShortcut,
    QShowEvent,
    QTextCursor,
    QTextDocument,
)
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSplitter,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from digitizer.app.help_pages import DRAWINGS, help_page, page_names, searched
from digitizer.app.line_drawing import drawn
from digitizer.app.words import tr

_PLACE = Qt.ItemDataRole.UserRole
_WIDEST_PX = 320


class HelpViewer(QDialog):
    """The help in a window of its own, which stays open beside the work."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Help"))
        self.setWindowFlag(Qt.WindowType.WindowMaximizeButtonHint)
        self._past: list[str] = []
        self.search = QLineEdit()
        self.search.setPlaceholderText(tr("Search the help"))
        self.search.setAccessibleName(tr("Search the help"))
        self.search.setClearButtonEnabled(True)
        self.contents = QListWidget()
        self.contents.setAccessibleName(tr("Contents"))
        self.contents.setWordWrap(True)
        self.contents.setSpacing(2)
        self.page = HelpPageView()
        self.back = QPushButton(tr("Back"))
        self.back.setAutoDefault(False)
        self.told = QLabel()
        self._arrange()
        self._connect()
        self._list_pages()
        self.show_page("index")
        self.resize(self.sizeHint())
        self.search.setFocus()

    def sizeHint(self) -> QSize:
        """Large enough to read, within the screen."""
        space = self.screen().availableGeometry().size()
        return QSize(900, 640).boundedTo(QSize(space.width() - 48, space.height() - 48))

    def minimumSizeHint(self) -> QSize:
        """Small enough for the smallest screen at twice the size."""
        return QSize(320, 240)

    def show_page(self, name: str, heading: str = "") -> None:
        """Show a page, at a heading if one is named; a page that isn't there is told."""
        if not self.page.show_page(name, heading):
            self.told.setText(tr("This is not part of the help: {name}", name=name))
            return
        self.told.clear()
        if not self._past or self._past[-1] != name:
            self._past.append(name)
        self.back.setEnabled(len(self._past) > 1)
        self._mark(name)

    def current(self) -> str:
        """Name of the page that is shown."""
        return self._past[-1]

    def go_back(self) -> None:
        """The page before."""
        if len(self._past) > 1:
            self._past.pop()
            self.show_page(self._past[-1])

    def _arrange(self) -> None:
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.search)
        column.addWidget(self.contents, 1)
        right = QWidget()
        reading = QVBoxLayout(right)
        reading.setContentsMargins(0, 0, 0, 0)
        top = QHBoxLayout()
        top.addWidget(self.back)
        top.addWidget(self.told, 1)
        reading.addLayout(top)
        reading.addWidget(self.page, 1)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(left)
        split.addWidget(right)
        split.setStretchFactor(1, 1)
        split.setSizes([220, 680])
        layout = QVBoxLayout(self)
        layout.addWidget(split)
        for first, second in ((self.search, self.contents), (self.contents, self.back), (self.back, self.page)):
            QWidget.setTabOrder(first, second)

    def _connect(self) -> None:
        self.search.textChanged.connect(self._search)
        self.search.returnPressed.connect(self._open_first)
        self.contents.itemActivated.connect(self._open)
        self.contents.currentItemChanged.connect(lambda item, _: self._open(item) if self.contents.hasFocus() else None)
        self.contents.itemClicked.connect(self._open)
        self.page.page_asked.connect(self.show_page)
        self.back.clicked.connect(self.go_back)
        QShortcut(QKeySequence.StandardKey.Back, self, self.go_back)
        QShortcut(QKeySequence.StandardKey.Find, self, self._to_search)
        QShortcut(QKeySequence.StandardKey.ZoomIn, self, self.page.zoomIn)
        QShortcut(QKeySequence.StandardKey.ZoomOut, self, self.page.zoomOut)

    def _to_search(self) -> None:
        self.search.setFocus()
        self.search.selectAll()

    def _list_pages(self) -> None:
        self.contents.clear()
        for name in page_names():
            page = help_page(name)
            if page is not None:
                self._list(page.title, name, "")

    def _list(self, words: str, name: str, heading: str) -> None:
        QListWidgetItem(words, self.contents).setData(_PLACE, (name, heading))

    def _mark(self, name: str) -> None:
        """Show in the contents which page is open."""
        if self.search.text().strip():
            return
        for row in range(self.contents.count()):
            if self.contents.item(row).data(_PLACE)[0] == name:
                self.contents.setCurrentRow(row)

    def _search(self, words: str) -> None:
        if not words.strip():
            self.told.clear()
            self._list_pages()
            self._mark(self.current())
            return
        hits = searched(words)
        self.contents.clear()
        for hit in hits:
            where = hit.title if hit.heading == hit.title else f"{hit.title}: {hit.heading}"
            self._list(f"{where}\n{hit.excerpt}", hit.page, hit.heading)
        found = tr("{count} places", count=len(hits)) if hits else tr("Nothing found. Try a single word.")
        self.told.setText(found)

    def _open_first(self) -> None:
        if self.search.text().strip() and self.contents.count():
            self._open(self.contents.item(0))

    def _open(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.show_page(*item.data(_PLACE))


class HelpPageView(QTextBrowser):
    """One page; its links to other pages are asked for, those to the web open in the browser."""

    page_asked = Signal(str, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setOpenLinks(False)
        self.setAccessibleName(tr("Help page"))
        self.document().setDocumentMargin(14)
        self._shown, self._heading = "", ""
        self.anchorClicked.connect(self._follow)

    def show_page(self, name: str, heading: str = "") -> bool:
        """Show a page at a heading or at its top; false where there is no such page."""
        page = help_page(name)
        if page is None:
            return False
        if name != self._shown:
            self._shown = name
            self.document().setMarkdown(page.text, QTextDocument.MarkdownFeature.MarkdownDialectGitHub)
        self.moveCursor(QTextCursor.MoveOperation.Start)
        self._heading = heading
        self._scroll()
        return True

    def loadResource(self, kind: int, name: QUrl | str) -> Any:
        """Drawings, by their file's name, in the ink of the window; nothing else is loaded."""
        file = DRAWINGS / Path(name if isinstance(name, str) else name.path()).name
        if kind == QTextDocument.ResourceType.ImageResource.value and file.suffix == ".svg" and file.is_file():
            ink = self.palette().color(QPalette.ColorRole.Text).name()
            return drawn(file.stem, ink, _WIDEST_PX, self.devicePixelRatioF())
        return None

    def changeEvent(self, event: QEvent) -> None:
        """Draw anew where light turned to dark."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and self._shown:
            name, self._shown = self._shown, ""
            self.show_page(name)

    def showEvent(self, event: QShowEvent) -> None:
        """Only now is the page laid out: go to the heading that was asked for."""
        super().showEvent(event)
        self._scroll()

    def _scroll(self) -> None:
        self.verticalScrollBar().setValue(self._top_of(self._heading) if self._heading else 0)

    def _follow(self, link: QUrl) -> None:
        if link.scheme() in ("http", "https"):
            QDesktopServices.openUrl(link)
            return
        name = Path(link.path()).stem or self._shown
        self.page_asked.emit(name, link.fragment())

    def _top_of(self, heading: str) -> int:
        """Where a heading, named in words or as a link names it, begins on the page; zero where it isn't there."""
        block = self.document().begin()
        while block.isValid():
            if block.blockFormat().headingLevel() and _slug(block.text()) == _slug(heading):
                return round(self.document().documentLayout().blockBoundingRect(block).top())
            block = block.next()
        return 0


def _slug(heading: str) -> str:
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")
