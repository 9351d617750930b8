"""What is planned: the mounting flange, the engines now and then, the bracket; and what the survey says of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from PySide6.QtWidgets import QVBoxLayout, QWidget

from digitizer.app.dialogs.frame import wrapped
from digitizer.app.dialogs.records import RecordsDialog
from digitizer.app.document import Document
from digitizer.app.words import tr
from digitizer.job.model import BoltPattern, Bracket, BracketBody, Engines, Flange, Job, Planning, PowerRule
from digitizer.job.plan_validation import check_flange
from digitizer.job.problems import Problem
from digitizer.survey.model import FlangeFit, Survey
from digitizer.units import format_with_uncertainty

_FLANGE = Flange(900.0, 450.0)
_BOLTS = BoltPattern(2, 150.0, 13.0)
_BODY = BracketBody(600.0, 700.0, 300.0)
_RULE = PowerRule(7000.0)
"""Sizes to begin with, to be replaced by the planned ones."""


class FlangeAndEngines(RecordsDialog):
    """Forms of the plan; how the flange lies among the fittings follows each change."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(document, tr("Flange and engines"), parent)
        self._fit = wrapped()
        self._fit.setAccessibleName(tr("How the plan fits"))
        self.add_foot(self._fit)
        self._show_fit()
        document.answered.connect(self._show_fit)
        document.job_changed.connect(self._show_fit)

    def fill(self, layout: QVBoxLayout, job: Job) -> None:
        """Flange, holes, engines, bracket, body, rule."""
        flange = self.group(layout, tr("Planned mounting flange"), tr("Sizes to begin with: put in those planned."))
        self._optional(flange, job.flange, _put_flange, _FLANGE, tr("Plan a flange"))
        if job.flange is not None:
            holes = self.group(layout, tr("Bolt pattern"))
            self._optional(holes, job.flange.bolts, _put_bolts, _BOLTS, tr("Plan the holes"))
        plan = job.planning or Planning()
        for name, title, usual, words in _PARTS:
            inside = self.group(layout, tr(title))
            self._optional(inside, getattr(plan, name), _putting(name), usual, tr(words))
        if plan.bracket is not None:
            body = self.group(layout, tr("Body of the bracket"), tr("Gives its buoyancy."))
            self._optional(body, plan.bracket.body, _put_body, _BODY, tr("Give its size"))
        water = self.group(layout, tr("Where she floats"))
        self.form(water, plan, lambda j, new: replace(j, planning=new), only=("water", "note"))

    def problems(self, job: Job) -> Iterator[Problem]:
        """Radii and holes without room."""
        return check_flange(job)

    def _optional(
        self, layout: QVBoxLayout, record: Any, put: Callable[[Job, Any], Job], usual: Any, words: str
    ) -> None:
        if record is None:
            self.button(layout, words, lambda j: put(j, usual))
        else:
            self.form(layout, record, put)
            self.button(layout, tr("Remove"), lambda j: put(j, None))

    def _show_fit(self) -> None:
        document = self._document
        if document.job.flange is None and document.job.planning is None:
            self._fit.setText(tr("Nothing is planned."))
        elif document.survey is None:
            self._fit.setText(tr("Once the transom is measured, it is said here how the plan fits."))
        else:
            self._fit.setText("\n".join(fit_words(document.survey, document.job.settings.unit.value)))
        self._fit.setEnabled(document.is_current)


def fit_words(survey: Survey, unit: str) -> Iterator[str]:
    """One line for each fitting beside the flange, then the cautions of the planning figures."""
    if survey.flange is not None:
        yield from _fittings(survey.flange, unit)
    for line in survey.planning:
        if line.caution:
            yield f"\N{WARNING SIGN} {tr(line.label)}: {line.value}. {line.note}".strip()


def _fittings(fit: FlangeFit, unit: str) -> Iterator[str]:
    for each in fit.fittings:
        clearance = format_with_uncertainty(each.clearance.value, each.clearance.U, unit)
        yield tr("{name}: {verdict}, {clearance}", name=each.name, verdict=tr(each.verdict.value), clearance=clearance)


_PARTS: tuple[tuple[str, str, Any, str], ...] = (
    ("engines_now", "Engines now", Engines(), "State the engines now"),
    ("engines_planned", "Engines planned", Engines(), "State the engines planned"),
    ("bracket", "Bracket, as its maker states it", Bracket(), "State the bracket"),
    ("power_rule", "Greatest power by 33 CFR 183.53", _RULE, "State what the rule asks for"),
)


def _put_flange(job: Job, flange: Flange | None) -> Job:
    return replace(job, flange=flange)


def _put_bolts(job: Job, bolts: BoltPattern | None) -> Job:
    return job if job.flange is None else replace(job, flange=replace(job.flange, bolts=bolts))


def _putting(name: str) -> Callable[[Job, Any], Job]:
    def put(job: Job, record: Any) -> Job:
        changed: dict[str, Any] = {name: record}
        return replace(job, planning=replace(job.planning or Planning(), **changed))

    return put


def _put_body(job: Job, body: BracketBody | None) -> Job:
    plan = job.planning
    if plan is None or plan.bracket is None:
        return job
    return replace(job, planning=replace(plan, bracket=replace(plan.bracket, body=body)))
