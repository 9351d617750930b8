"""The help in its window: pages, links, search, drawings in the window's ink."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QColor, QImage
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.help_viewer import HelpViewer
from digitizer.app.help_pages import page_names
from digitizer.app.line_drawing import LineDrawing, drawn
from digitizer.app.theme import palette_of
from digitizer.job.preferences import Theme


@pytest.fixture
def viewer(qtbot: QtBot) -> HelpViewer:
    viewer = HelpViewer()
    qtbot.addWidget(viewer)
    viewer.show()
    return viewer


@pytest.mark.parametrize("name", page_names())
def test_every_page_is_shown_with_its_drawings(viewer: HelpViewer, name: str) -> None:
    """No drawing of any page is missing, and each page begins at its top."""
    missing = []
    load = viewer.page.loadResource

    def watched(kind: int, url: QUrl) -> object:
        found = load(kind, url)
        missing.extend([url.toString()] if found is None else [])
        return found

    viewer.page.loadResource = watched  # type: ignore[method-assign, assignment]
    viewer.show_page(name)
    viewer.page.grab()
    assert viewer.current() == name
    assert missing == []
    assert viewer.page.verticalScrollBar().value() == 0
    assert viewer.page.toPlainText().strip()


def test_link_leads_to_the_page_and_back_returns(viewer: HelpViewer) -> None:
    """A link within the help opens its page; Back goes where one came from."""
    viewer.page.anchorClicked.emit(QUrl("tape-figures.md"))
    assert viewer.current() == "tape-figures"
    viewer.page.anchorClicked.emit(QUrl("words.md#rake"))
    assert viewer.current() == "words"
    assert viewer.page.verticalScrollBar().value() > 0
    viewer.go_back()
    assert viewer.current() == "tape-figures"
    viewer.go_back()
    viewer.go_back()
    assert viewer.current() == "index"


def test_link_out_of_the_help_is_told(viewer: HelpViewer) -> None:
    """A page that the installed help doesn't have leaves the reader where they are, with a word."""
    viewer.page.anchorClicked.emit(QUrl("bibliography.md"))
    assert viewer.current() == "index"
    assert "bibliography" in viewer.told.text()


def test_search_by_keyboard(qtbot: QtBot, viewer: HelpViewer) -> None:
    """Typing lists the places, Return opens the first, clearing brings the contents back."""
    pages = viewer.contents.count()
    qtbot.keyClicks(viewer.search, "crowned")
    assert 0 < viewer.contents.count() < pages
    qtbot.keyClick(viewer.search, Qt.Key.Key_Return)
    assert viewer.current() in ("reference-line", "photograph-a-transom")
    viewer.search.clear()
    assert viewer.contents.count() == pages


def test_search_in_vain_says_so(qtbot: QtBot, viewer: HelpViewer) -> None:
    """Nothing found is said, not shown as emptiness alone."""
    qtbot.keyClicks(viewer.search, "zanzibar")
    assert viewer.contents.count() == 0
    assert "Nothing found" in viewer.told.text()


def test_contents_follow_the_arrow_keys(qtbot: QtBot, viewer: HelpViewer) -> None:
    """The pages can be leafed through from the keyboard."""
    viewer.activateWindow()
    viewer.contents.setFocus()
    qtbot.waitUntil(viewer.contents.hasFocus)
    qtbot.keyClick(viewer.contents, Qt.Key.Key_Down)
    assert viewer.current() == "photos"


def ink_share(image: QImage, colour: QColor) -> int:
    """Number of pixels of a colour, within 12 of 255 in each channel."""
    plain = image.convertToFormat(QImage.Format.Format_RGBA8888)
    pixels = np.frombuffer(plain.constBits(), dtype=np.uint8).reshape(-1, 4).astype(int)
    wanted = np.array([colour.red(), colour.green(), colour.blue(), 255])
    return int((abs(pixels - wanted) < 12).all(axis=1).sum())


@pytest.mark.parametrize("theme", [Theme.LIGHT, Theme.DARK])
def test_drawings_are_drawn_in_the_windows_ink(theme: Theme) -> None:
    """Dark on light ground, light on dark ground."""
    ink = palette_of(theme).text().color()
    image = drawn("step-bottom", ink.name(), 320, 2.0)
    assert (image.width(), image.height()) == (640, 360)
    assert ink_share(image, ink) > 200
    other = palette_of(Theme.DARK if theme is Theme.LIGHT else Theme.LIGHT).text().color()
    assert ink_share(image, other) == 0


def test_drawing_turns_with_the_palette(qtbot: QtBot) -> None:
    """A drawing in the window is drawn anew when the window turns dark."""
    drawing = LineDrawing(width_px=200)
    qtbot.addWidget(drawing)
    drawing.show_drawing("step-outline", "Top corners, top edge and outline")
    drawing.resize(drawing.sizeHint())
    shares = []
    for theme in (Theme.LIGHT, Theme.DARK):
        drawing.setPalette(palette_of(theme))
        ink = palette_of(theme).windowText().color()
        shares.append(ink_share(drawing.grab().toImage(), ink))
    assert min(shares) > 10  # pixels without any blending, of lines as thin as these
    assert drawing.accessibleName()
