"""The menus: every command of the window with its key."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from digitizer.app.tools import TOOLS
from digitizer.app.words import tr
from digitizer.job.recent import recent_jobs

if TYPE_CHECKING:
    from digitizer.app.window import Window

_KEYS = QKeySequence.StandardKey
_LAYERS = (
    ("names", "&Names"),
    ("residuals", "&Residuals"),
    ("ellipses", "&Error ellipses"),
    ("expected", "E&xpected uncertainty, on the flattened view"),
)

_TIMES = (1.0, 10.0, 100.0)


def fill_menus(window: Window) -> None:
    """Job, Edit, Mark, View, Help."""
    bar = window.menuBar()
    _fill_job(bar.addMenu(tr("&Job")), window)
    _fill_edit(bar.addMenu(tr("&Edit")), window)
    _fill_mark(bar.addMenu(tr("&Mark")), window)
    _fill_view(bar.addMenu(tr("&View")), window)
    _fill_help(bar.addMenu(tr("&Help")), window)


def _fill_job(menu: QMenu, window: Window) -> None:
    desk, dialogs = window.desk, window.dialogs
    _add(menu, tr("&New"), desk.new, _KEYS.New)
    _add(menu, tr("&Open …"), window.ask_job, _KEYS.Open)
    recent = menu.addMenu(tr("Open &recent"))
    recent.aboutToShow.connect(lambda: _fill_recent(recent, window))
    _add(menu, tr("Open the sa&mple"), window.open_sample)
    menu.addSeparator()
    _add(menu, tr("Add &photos …"), window.ask_photos, "Ctrl+P")
    _add(menu, tr("Printed &board …"), dialogs.ask_board, "Ctrl+B")
    _add(menu, tr("&Tape figures …"), dialogs.show_tape_form, "Ctrl+T")
    _add(menu, tr("S&hape and angle …"), dialogs.show_shape)
    _add(menu, tr("Patt&erns …"), dialogs.show_patterns)
    _add(menu, tr("Calibrate a &camera …"), window.ask_board_photos)
    _add(menu, tr("&Kept calibration …"), lambda: desk.offer_lenses(say_none=True))
    _add(menu, tr("Condition s&urvey …"), dialogs.show_condition)
    _add(menu, tr("&Flange and engines …"), dialogs.show_planning)
    _add(menu, tr("Job &details …"), dialogs.show_details, "Ctrl+D")
    menu.addSeparator()
    _add(menu, tr("&Save"), desk.save, _KEYS.Save)
    _add(menu, tr("Save &as …"), desk.save_as, _KEYS.SaveAs)
    _add(menu, tr("Hand o&ver …"), dialogs.hand_over, "Ctrl+E")
    menu.addSeparator()
    _add(menu, tr("&Quit"), window.close, _KEYS.Quit)


def _fill_recent(menu: QMenu, window: Window) -> None:
    menu.clear()
    jobs = recent_jobs(window.desk.folders.recent)
    for job in jobs:
        words = f"{job.title or job.path.stem}   {job.path}".replace("&", "&&")
        words += tr("  (not there)") if job.missing else ""
        action = _add(menu, words, partial(window.desk.open, job.path))
        action.setEnabled(not job.missing)
    if not jobs:
        menu.addAction(tr("None yet")).setEnabled(False)


def _fill_edit(menu: QMenu, window: Window) -> None:
    undo = window.document.undo_stack.createUndoAction(window, tr("&Undo"))
    undo.setShortcuts(_KEYS.Undo)
    redo = window.document.undo_stack.createRedoAction(window, tr("&Redo"))
    redo.setShortcuts(_KEYS.Redo)
    menu.addActions([undo, redo])
    menu.addSeparator()
    _add(menu, tr("&Delete"), window.delete_chosen, _KEYS.Delete)
    menu.addSeparator()
    _add(menu, tr("&Settings …"), window.dialogs.show_settings, _KEYS.Preferences)


def _fill_mark(menu: QMenu, window: Window) -> None:
    for tool in TOOLS:
        _add(menu, tr(tool.label), partial(window.choose_tool, tool))
    menu.addSeparator()
    _add(menu, tr("&Next mark that is missing"), lambda: window.arm_next(False), "F6")
    snap = _add(menu, tr("Marks find the &edge"), window.swap_snapping, "F7")
    snap.setCheckable(True)
    snap.setChecked(window.canvas.snaps)


def _fill_view(menu: QMenu, window: Window) -> None:
    _add(menu, tr("&Photo or flattened view"), window.swap_view, "F8")
    _add(menu, tr("&Whole photo"), lambda: window.table.current.fit(), "Ctrl+0")
    _add(menu, tr("&Larger"), lambda: window.table.current.zoom(1.25), _KEYS.ZoomIn)
    _add(menu, tr("&Smaller"), lambda: window.table.current.zoom(0.8), _KEYS.ZoomOut)
    menu.addSeparator()
    for name, words in _LAYERS:
        layer = _add(menu, tr(words), partial(window.swap_layer, name))
        layer.setCheckable(True)
        layer.setChecked(getattr(window.canvas.layers, name))
    sizes = menu.addMenu(tr("Residuals and ellipses lar&ger than life"))
    sizes.aboutToShow.connect(lambda: _fill_sizes(sizes, window))


def _fill_sizes(menu: QMenu, window: Window) -> None:
    """How much they are enlarged, the size in use among them."""
    menu.clear()
    now = window.canvas.layers.magnification
    for times in sorted({*_TIMES, now}):
        action = _add(menu, tr("{times:g} ×", times=times), partial(window.enlarge, times))
        action.setCheckable(True)
        action.setChecked(times == now)


def _fill_help(menu: QMenu, window: Window) -> None:
    _add(menu, tr("&How it is done"), window.dialogs.show_help, _KEYS.HelpContents)
    _add(menu, tr("&Photograph guide"), lambda: window.dialogs.show_help("photograph-a-transom"))
    _add(menu, tr("&Words"), lambda: window.dialogs.show_help("words"))
    _add(menu, tr("&Keyboard"), window.dialogs.show_keys)


def _add(
    menu: QMenu, words: str, slot: Callable[[], object], keys: QKeySequence.StandardKey | str | None = None
) -> QAction:
    action = QAction(words, menu)
    if isinstance(keys, str):
        action.setShortcut(keys)
    elif keys is not None:
        action.setShortcuts(keys)
    action.triggered.connect(lambda _=False: slot())
    menu.addAction(action)
    return action
