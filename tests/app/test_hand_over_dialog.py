"""The hand-over dialog: what it shows before, while and after files are written."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QSize, Qt
from pytestqt.qtbot import QtBot

from digitizer.app.dialogs.hand_over import HandOverDialog
from digitizer.app.handing_over import Planned, Product, Written, planned
from digitizer.app.workers import Task


@pytest.fixture
def dialog(qtbot: QtBot, tmp_path: Path) -> HandOverDialog:
    (tmp_path / "boat.pdf").write_bytes(b"%PDF-1.4 older")
    dialog = HandOverDialog(tmp_path, "boat", planned, ("A serious finding is open.",))
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog


def row(dialog: HandOverDialog, product: Product) -> list[str]:
    item = dict(dialog._items())[product]
    return [item.text(column) for column in range(3)]


def test_fates_are_shown_before_anything_is_written(dialog: HandOverDialog, tmp_path: Path) -> None:
    """Every file with its name and what would become of an older one; the sum in a sentence."""
    assert row(dialog, Product.REPORT)[1].startswith("boat.pdf\nreplaces the one of")
    assert row(dialog, Product.DXF)[1] == "boat.dxf\nnew file"
    assert dialog._told.text() == "1 new file, 1 file is replaced."
    assert [path.name for path in tmp_path.iterdir()] == ["boat.pdf"]


def test_order_names_what_is_ticked(qtbot: QtBot, dialog: HandOverDialog) -> None:
    """Space ticks a file; the order holds the ticked ones, refused ones left out."""
    dialog.files.setFocus()
    dialog.files.setCurrentItem(dict(dialog._items())[Product.SVG])
    qtbot.keyClick(dialog.files, Qt.Key.Key_Space)
    with qtbot.waitSignal(dialog.ordered) as caught:
        dialog.write.click()
    (plan,) = caught.args
    assert [each.product for each in plan] == [Product.REPORT, Product.DIMENSIONS, Product.SVG]


def test_refused_file_is_told_in_full(dialog: HandOverDialog, tmp_path: Path) -> None:
    """Why a file is left alone is a whole sentence, not cut off by a column."""
    (tmp_path / "other-dimensions.csv").write_bytes(b"my notes")
    dialog.name.setText("other")
    assert "other-dimensions.csv: a file of that name exists and is not a table of dimensions" in dialog._told.text()
    assert dialog.write.isEnabled()


@pytest.mark.parametrize("name", ["", "a/b"], ids=["empty", "leads-elsewhere"])
def test_unusable_name_bars_the_button(dialog: HandOverDialog, name: str) -> None:
    """Nothing is written under a name that is none."""
    dialog.name.setText(name)
    assert not dialog.write.isEnabled()
    assert dialog._told.text().startswith("The name:")


def test_nothing_ticked_bars_the_button(dialog: HandOverDialog) -> None:
    """There is nothing to write."""
    for _, item in dialog._items():
        item.setCheckState(0, Qt.CheckState.Unchecked)
    assert not dialog.write.isEnabled()


def test_progress_and_sizes_are_shown(dialog: HandOverDialog, tmp_path: Path) -> None:
    """While files are written, which one; afterwards size and pages, and failures in full."""
    dialog.write.click()
    dialog.watcher.working("Report (PDF)", 0, 2)
    assert dialog._told.text() == "Report (PDF) (1 of 2) …"
    assert (dialog.progress.isVisible(), dialog.write.isEnabled(), dialog.leave.text()) == (True, False, "Stop")
    dialog.watcher.wrote(Written(Product.REPORT, tmp_path / "boat.pdf", 482_133, 6))
    dialog.watcher.wrote(Written(Product.DIMENSIONS, tmp_path / "boat-dimensions.csv", problem="the disk is full"))
    dialog.end()
    assert row(dialog, Product.REPORT)[2] == "482 kB, 6 pages"
    assert row(dialog, Product.DIMENSIONS)[2] == "not written"
    assert "the disk is full" in dialog._told.text()
    assert (dialog.progress.isVisible(), dialog.leave.text()) == (False, "Close")


def test_escape_stops_before_it_closes(qtbot: QtBot, dialog: HandOverDialog) -> None:
    """While files are written Escape asks the writer to stop; the dialog stays until it has."""
    dialog.write.click()
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert dialog.isVisible()
    with pytest.raises(InterruptedError):
        dialog.watcher.working("Next", 1, 2)
    dialog.end()
    assert "Stopped" in dialog._told.text()
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()


def test_written_on_a_thread_of_its_own(qtbot: QtBot, dialog: HandOverDialog, tmp_path: Path) -> None:
    """The way the window does it: a task writes, the dialog follows, and is usable again afterwards."""

    def write(plan: tuple[Planned, ...]) -> None:
        for done, each in enumerate(plan):
            dialog.watcher.working("File", done, len(plan))
            each.path.write_bytes(b"%PDF" * 300)
            dialog.watcher.wrote(Written(each.product, each.path, 1200, 1))

    def start(plan: tuple[Planned, ...]) -> None:
        task = Task(lambda _: write(plan), dialog)
        task.done.connect(lambda _: dialog.end())
        task.start()

    dialog.ordered.connect(start)
    dialog.write.click()
    qtbot.waitUntil(lambda: dialog.write.isEnabled())
    assert row(dialog, Product.DIMENSIONS)[2] == "1 kB, 1 page"
    assert (tmp_path / "boat-dimensions.csv").exists()


def test_fits_the_smallest_screen(dialog: HandOverDialog) -> None:
    """At 200 % on 1366 × 768 its buttons stay in sight."""
    dialog.resize(QSize(635, 336))
    assert (dialog.width(), dialog.height()) == (635, 336)
    place = dialog.write.mapTo(dialog, dialog.write.rect().bottomRight())
    assert (place.x() < 635, place.y() < 336) == (True, True)
