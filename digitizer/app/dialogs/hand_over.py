"""Hand over: which files, where, what each would replace; then their writing, with progress and a way to stop."""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Sequence
from pathlib import Path

from PySide6.QtCore import QObject, QSize, Qt, QUrl, Signal
from PySide6.QtGui import QCloseEvent, QDesktopServices
from PySide6.QtWidgets import (
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from digitizer.app.dialogs.figures import add_row
from digitizer.app.dialogs.frame import Frame, wrapped
from digitizer.app.handing_over import Fate, Planned, Product, Written, described, fault_of_stem
from digitizer.app.words import tip, tr

Plan = Callable[[Path, str, Collection[Product]], Sequence[Planned]]

_PRODUCT = Qt.ItemDataRole.UserRole
_WHAT, _FILE, _SIZE = range(3)
_USUAL = (Product.REPORT, Product.DIMENSIONS)


class HandOverDialog(Frame):
    """
    A list of files that can be written, each with its fate, before anything is.

    Parameters
    ----------
    folder, stem
        Where the files go and what their names begin with, to start with.
    plan
        Tells the files and their fates, such as ``partial(handing_over.planned, sources=…)`` does.
    cautions
        What should be settled before figures go out, as sentences.
    """

    ordered = Signal(object)
    """The plan to carry out, a tuple of `Planned`; `watcher` is to be told how it goes."""

    def __init__(
        self, folder: Path, stem: str, plan: Plan, cautions: Sequence[str] = (), parent: QWidget | None = None
    ) -> None:
        super().__init__(tr("Hand over"), QSize(720, 540), parent)
        self._plan, self._busy = plan, False
        self._problems: list[str] = []
        self.watcher = HandOverWatcher(self)
        self.watcher.told.connect(self._show_progress)
        self.watcher.written.connect(self._show_written)
        self.place = QLineEdit(str(folder))
        self.place.setAccessibleName(tr("Folder"))
        self.name = QLineEdit(stem)
        self.name.setAccessibleName(tr("Names begin with"))
        self.files = self._list()
        self._told = wrapped()
        self.progress = QProgressBar()
        self.progress.setAccessibleName(tr("Progress"))
        self.progress.hide()
        self._arrange(cautions)
        self._add_buttons()
        self.place.textChanged.connect(lambda _: self._show_plan())
        self.name.textChanged.connect(lambda _: self._show_plan())
        self.files.itemChanged.connect(lambda *_: self._show_plan())
        self._show_plan()
        self.files.setFocus()

    def folder(self) -> Path:
        """Where the files go."""
        return Path(self.place.text().strip() or ".").expanduser()

    def chosen(self) -> tuple[Product, ...]:
        """The products that are ticked."""
        items = (self.files.topLevelItem(row) for row in range(self.files.topLevelItemCount()))
        return tuple(
            Product(item.data(_WHAT, _PRODUCT))
            for item in items
            if item is not None and item.checkState(_WHAT) is Qt.CheckState.Checked
        )

    def order(self) -> None:
        """Ask for the files to be written."""
        plan = tuple(each for each in self._planned(self.chosen()) if each.fate is not Fate.REFUSED)
        if self._busy or not plan:
            return
        self.watcher.begin()
        self._problems.clear()
        self._set_busy(True)
        self.ordered.emit(plan)

    def end(self, problem: str = "") -> None:
        """Know that the writing has ended; `problem` says why, where it ended early."""
        self._set_busy(False)
        if problem:
            told = problem
        elif self.watcher.is_stopped():
            told = tr("Stopped. The files listed with a size are whole; the others were not touched.")
        else:
            told = tr("Done. The files are in {folder}.", folder=self.folder())
        self._told.setText("\n".join([told, *self._problems]))
        self.show_folder.setVisible(self.folder().is_dir())

    def reject(self) -> None:
        """While files are written: stop after the present one; otherwise close."""
        if self._busy:
            self._stop()
        else:
            super().reject()

    def closeEvent(self, event: QCloseEvent) -> None:
        """The window's own cross does the same."""
        if self._busy:
            self._stop()
            event.ignore()
        else:
            super().closeEvent(event)

    def _arrange(self, cautions: Sequence[str]) -> None:
        choose = QPushButton(tr("&Choose …"))
        choose.setAutoDefault(False)
        choose.clicked.connect(self._choose_folder)
        place = QWidget()
        row = QHBoxLayout(place)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.place, 1)
        row.addWidget(choose)
        place.setFocusProxy(self.place)
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        add_row(form, tr("&Folder"), place)
        add_row(form, tr("&Names begin with"), self.name)
        body = QWidget()
        layout = QVBoxLayout(body)
        for caution in cautions:
            layout.addWidget(wrapped(f"\N{WARNING SIGN} {caution}"))
        layout.addLayout(form)
        layout.addWidget(self.files, 1)
        layout.addWidget(self.progress)
        layout.addWidget(self._told)
        self.set_body(body)

    def _add_buttons(self) -> None:
        self.write = self.add_button(tr("&Write"), QDialogButtonBox.ButtonRole.AcceptRole)
        self.write.setDefault(True)
        self.write.clicked.connect(self.order)
        self.leave = self.add_button(tr("Close"), QDialogButtonBox.ButtonRole.RejectRole)
        self.leave.clicked.connect(self.reject)
        self.show_folder = self.add_button(tr("&Open the folder"), QDialogButtonBox.ButtonRole.ActionRole)
        self.show_folder.clicked.connect(lambda: QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.folder()))))
        self.show_folder.hide()

    def _list(self) -> QTreeWidget:
        files = QTreeWidget()
        files.setAccessibleName(tr("Files to write"))
        files.setHeaderLabels([tr("What"), tr("File"), tr("Size")])
        files.setRootIsDecorated(False)
        files.setUniformRowHeights(False)
        files.setAlternatingRowColors(True)
        files.setMinimumHeight(130)
        for product in Product:
            item = QTreeWidgetItem(files, [tr(described(product)), "", ""])
            item.setData(_WHAT, _PRODUCT, product.value)
            item.setCheckState(_WHAT, Qt.CheckState.Checked if product in _USUAL else Qt.CheckState.Unchecked)
        header = files.header()
        header.setStretchLastSection(False)
        header.setSectionResizeMode(_WHAT, QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(_FILE, QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(_SIZE, QHeaderView.ResizeMode.ResizeToContents)
        first = files.topLevelItem(0)
        if first is not None:
            files.setCurrentItem(first)
        return files

    def _planned(self, products: Collection[Product]) -> Sequence[Planned]:
        return self._plan(self.folder(), self.name.text(), products)

    def _show_plan(self) -> None:
        """Every file with its fate, ticked or not, so that nothing about it is a surprise."""
        fault = fault_of_stem(self.name.text())
        plan = {} if fault else {each.product: each for each in self._planned(tuple(Product))}
        self.files.blockSignals(True)
        for product, item in self._items():
            each = plan.get(product)
            item.setText(_FILE, f"{each.path.name}\n{tr(each.words)}" if each else "")
            item.setToolTip(_FILE, tip(str(each.path)) if each else "")
            item.setText(_SIZE, "")
        self.files.blockSignals(False)
        chosen = [plan[product] for product in self.chosen() if product in plan]
        refused = [f"{each.path.name}: {tr(each.words)}." for each in chosen if each.fate is Fate.REFUSED]
        summary = tr("The name: {fault}.", fault=tr(fault)) if fault else _summary(chosen)
        self._told.setText("\n".join([summary, *refused]))
        self.write.setEnabled(any(each.fate is not Fate.REFUSED for each in chosen))

    def _items(self) -> list[tuple[Product, QTreeWidgetItem]]:
        items = (self.files.topLevelItem(row) for row in range(self.files.topLevelItemCount()))
        return [(Product(item.data(_WHAT, _PRODUCT)), item) for item in items if item is not None]

    def _show_progress(self, words: str, done: int, total: int) -> None:
        self.progress.setRange(0, total)
        self.progress.setValue(done)
        self._told.setText(tr("{words} ({number} of {total}) …", words=tr(words), number=done + 1, total=total))

    def _show_written(self, file: Written) -> None:
        self.progress.setValue(self.progress.value() + 1)
        item = dict(self._items())[file.product]
        self.files.blockSignals(True)
        told = file.problem or tr("written")
        self._problems += [file.problem] if file.problem else []
        item.setText(_FILE, f"{file.path.name}\n{told}")
        item.setToolTip(_FILE, tip(f"{file.path}\n{file.problem}".strip()))
        item.setText(_SIZE, _size(file) if file.size_bytes else tr("not written"))
        self.files.blockSignals(False)

    def _set_busy(self, busy: bool) -> None:
        self._busy = busy
        self.progress.setVisible(busy)
        self.write.setEnabled(not busy)
        self.leave.setText(tr("Stop") if busy else tr("Close"))
        for part in (self.place, self.name, self.files):
            part.setEnabled(not busy)
        self.leave.setFocus()

    def _stop(self) -> None:
        self.watcher.stop()
        self._told.setText(tr("Stopping after the present file …"))

    def _choose_folder(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, tr("Folder for the files"), str(self.folder()))
        if folder:
            self.place.setText(folder)


class HandOverWatcher(QObject):
    """
    Carries what the writing thread tells to the dialog, and the wish to stop the other way.

    Its methods are those of `handing_over.Watcher`.
    """

    told = Signal(str, int, int)
    written = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._stop = threading.Event()

    def begin(self) -> None:
        """A new order."""
        self._stop.clear()

    def stop(self) -> None:
        """No further file."""
        self._stop.set()

    def is_stopped(self) -> bool:
        """Whether the person wished to stop."""
        return self._stop.is_set()

    def working(self, words: str, done: int, total: int) -> None:
        """Tell the next file, or stop."""
        if self._stop.is_set():
            raise InterruptedError
        self.told.emit(words, done, total)

    def wrote(self, file: Written) -> None:
        """Tell a file that is whole."""
        self.written.emit(file)


def _summary(plan: Sequence[Planned]) -> str:
    """What pressing the button would do, in a sentence."""
    counts = {fate: sum(each.fate is fate for each in plan) for fate in Fate}
    if not plan:
        return tr("Tick what is wanted.")
    parts = [
        (counts[Fate.NEW], tr("1 new file"), tr("{count} new files")),
        (counts[Fate.REPLACES], tr("1 file is replaced"), tr("{count} files are replaced")),
        (counts[Fate.REFUSED], tr("1 is left alone"), tr("{count} are left alone")),
    ]
    told = [one if count == 1 else many.format(count=count) for count, one, many in parts if count]
    return f"{', '.join(told)}."


def _size(file: Written) -> str:
    """Size, and pages where a file has some: "482 kB, 6 pages"."""
    size = f"{file.size_bytes / 1e6:.1f} MB" if file.size_bytes >= 1e6 else f"{max(1, round(file.size_bytes / 1e3))} kB"
    if file.pages is None:
        return size
    return f"{size}, {tr('1 page') if file.pages == 1 else tr('{count} pages', count=file.pages)}"
