"""
The dialogs that the window opens: given plain data, their answers put into the document.

Each is imported when it is first asked for, so that the window itself opens sooner.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QStandardPaths
from PySide6.QtWidgets import QDialog

from digitizer.app.dialogs.preferences import kept_preferences
from digitizer.app.help_pages import page_of_step
from digitizer.app.theme import apply_theme
from digitizer.app.words import tr
from digitizer.app.workers import Task
from digitizer.job import edits
from digitizer.job.preferences import Preferences
from digitizer.job.recovery import discard, recoverable
from digitizer.survey.steps import StepName, steps

if TYPE_CHECKING:
    from digitizer.app.dialogs.hand_over import HandOverDialog
    from digitizer.app.handing_over import Material, Planned
    from digitizer.app.tape_records import ListedRecord, SingleRecord
    from digitizer.app.window import Window

GESTURES = (
    ("arrows", "Move the chosen mark by 0.1 px"),
    ("Shift + arrows", "Move the chosen mark by 1 px"),
    ("Tab", "Take the next missing mark in hand"),
    ("Return", "Place the mark at the pointer"),
    ("Ctrl + click", "Place the mark as clicked, without finding the edge"),
    ("Esc", "Lay the tool down, or begin another fitting"),
    ("Space", "Swap photo and flattened view"),
    ("Space + drag, middle drag", "Move the photo"),
    ("wheel, + and -", "Zoom at the pointer"),
    ("0", "Show the whole photo"),
    ("Delete", "Remove what is chosen"),
)


class Dialogs(QObject):
    """One method for each dialog."""

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window = window
        self._open: dict[type[QDialog], QDialog] = {}

    def ask_board(self) -> None:
        """Which printed target is on the transom."""
        from digitizer.app.dialogs.board import BoardDialog

        document = self._window.document
        settings = document.job.settings
        dialog = BoardDialog(settings.paper, settings.unit.value, self._window)
        if dialog.exec() and dialog.targets:
            job = document.job
            for target in dialog.targets:
                job = edits.with_record(job, "targets", target)
            document.edit(tr("Add the printed board"), job)

    def show_details(self) -> None:
        """Whose transom, and how the answers are given."""
        from digitizer.app.dialogs.records import JobDetails

        self._show(JobDetails, lambda: JobDetails(self._window.document, self._window))

    def show_shape(self) -> None:
        """The face's shape and the transom angle."""
        from digitizer.app.dialogs.records import ShapeAndAngle

        self._show(ShapeAndAngle, lambda: ShapeAndAngle(self._window.document, self._window))

    def show_patterns(self) -> None:
        """Patterns cut to the transom, each with its photo."""
        from digitizer.app.dialogs.patterns import Patterns

        self._show(Patterns, lambda: Patterns(self._window.document, self._window))

    def show_condition(self) -> None:
        """Damage, meter readings and soundings."""
        from digitizer.app.dialogs.condition import ConditionSurvey

        def make() -> QDialog:
            dialog = ConditionSurvey(self._window.document, self._window)
            dialog.tool_chosen.connect(self._window.choose_tool)
            return dialog

        self._show(ConditionSurvey, make)

    def show_planning(self) -> None:
        """The planned flange, the engines and the bracket."""
        from digitizer.app.dialogs.planning import FlangeAndEngines

        self._show(FlangeAndEngines, lambda: FlangeAndEngines(self._window.document, self._window))

    def show_tape_form(self) -> None:
        """Figures taken by hand, one after the other."""
        from digitizer.app.dialogs.tape_form import TapeForm
        from digitizer.app.tape_records import with_tape_record

        document = self._window.document

        def make() -> QDialog:
            form = TapeForm(document.job, self._window.desk.preferences, self._window)

            def enter(record: ListedRecord | SingleRecord) -> None:
                document.edit(tr("Enter a figure taken by hand"), with_tape_record(document.job, record))
                form.show_job(document.job)

            form.entered.connect(enter)
            return form

        self._show(TapeForm, make)

    def show_settings(self) -> None:
        """The user's preferences."""
        from digitizer.app.dialogs.preferences import PreferencesDialog

        dialog = PreferencesDialog(self._window.desk.preferences, self._window)
        if dialog.exec():
            self.change_preferences(dialog.preferences())

    def change_preferences(self, preferences: Preferences) -> None:
        """Let the window follow them now and the next time it opens."""
        from digitizer.app.dialogs.preferences import keep_preferences

        self.take_preferences(preferences)
        keep_preferences(preferences)

    def take_preferences(self, preferences: Preferences) -> None:
        """Let the window follow them."""
        self._window.desk.preferences = preferences
        self._window.canvas.layers.magnification = preferences.ellipse_magnification
        self._window.sheet.set_coverage(preferences.coverage)
        apply_theme(preferences.theme)

    def recall_preferences(self) -> None:
        """Those that the platform kept; spoilt ones are told."""
        preferences, spoilt = kept_preferences()
        self.take_preferences(preferences)
        if spoilt:
            self._window.tell(
                tr("Settings that could not be read have their usual value: {names}.", names=", ".join(spoilt))
            )

    def show_help(self, page: str = "index") -> None:
        """The help, at a page."""
        from digitizer.app.dialogs.help_viewer import HelpViewer

        viewer = self._show(HelpViewer, lambda: HelpViewer(self._window))
        if isinstance(viewer, HelpViewer):
            viewer.show_page(page)

    def show_step_help(self, step: str) -> None:
        """The help's page of a step of the card."""
        self.show_help(page_of_step(StepName(step)))

    def show_keys(self) -> None:
        """Every key."""
        from digitizer.app.dialogs.keyboard import KeyboardDialog, Shortcut, menu_shortcuts

        gestures = tuple(Shortcut(tr("On the photo"), tr(words), tr(keys)) for keys, words in GESTURES)
        KeyboardDialog((*menu_shortcuts(self._window.menuBar()), *gestures), self._window).exec()

    def offer_recovery(self) -> None:
        """Work that a window did not live to save, if there is any."""
        there = recoverable(self._window.desk.folders.recovery)
        if not there.found and not there.damaged:
            return
        from digitizer.app.dialogs.recovery import RecoveryDialog

        dialog = RecoveryDialog(there, datetime.now(), self._window)
        dialog.taken.connect(self._window.desk.recover)
        dialog.declined.connect(lambda recovery: recovery.discard())
        dialog.damage_dismissed.connect(discard)
        dialog.exec()

    def hand_over(self) -> None:
        """What is written where; the writing itself goes on beside the interface."""
        from digitizer.app.dialogs.hand_over import HandOverDialog
        from digitizer.app.handing_over import Material, file_stem, planned, sources_of

        document = self._window.document
        survey = document.survey
        if survey is None or not document.is_measured:
            self._window.tell(tr("The figures are not ready: hand over once they stand on the sheet."))
            return
        material = Material(survey, document.job, document.shelf)
        folder = document.path.parent if document.path else Path(_documents())
        plan = partial(planned, sources=sources_of(document.job, document.shelf))
        caution = steps(document.job, survey)[-1].missing
        cautions = (caution,) if caution else ()
        dialog = HandOverDialog(folder, file_stem(document.title), plan, cautions, self._window)
        dialog.ordered.connect(lambda order: self._write(order, material, dialog))
        dialog.exec()

    def _write(self, order: Sequence[Planned], material: Material, dialog: HandOverDialog) -> None:
        from digitizer.app.handing_over import hand_over

        task = Task(lambda _: hand_over(order, material, dialog.watcher), dialog)

        def end(problem: str = "") -> None:
            task.wait()
            dialog.end(problem)

        task.done.connect(lambda _: end())
        task.cancelled.connect(end)
        task.failed.connect(end)
        task.start()

    def _show(self, kind: type[QDialog], make: Callable[[], QDialog]) -> QDialog:
        """Open a dialog that stays beside the work, or bring the open one to the front."""
        dialog = self._open.get(kind)
        if dialog is None or not dialog.isVisible():
            dialog = self._open[kind] = make()
        dialog.show()
        dialog.raise_()
        return dialog


def _documents() -> str:
    """Where the platform keeps documents."""
    return QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
