"""One dimension opened: its interval, its budget, and the observations it rests on with their shares."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea

from digitizer.app.document import Document
from digitizer.app.words import tr
from digitizer.survey.model import Dimension, Quantity
from digitizer.units import format_angle, format_length

if TYPE_CHECKING:
    from digitizer.survey.live import Live
    from digitizer.survey.mark_records import Influence


class MadeFrom(QScrollArea):
    """What the chosen dimension was made from."""

    subject_asked = Signal(str)
    """An observation's name was clicked: show its mark."""

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        self._dimension: Dimension | None = None
        self.live: Callable[[], Live | None] = lambda: None
        """Where the state of the last whole measurement is had from."""
        self._found: tuple[Live | None, str, tuple[Influence, ...]] = (None, "", ())
        self._text = QLabel(tr("Choose a dimension to see what it was made from."))
        self._text.setWordWrap(True)
        self._text.setTextFormat(Qt.TextFormat.RichText)
        self._text.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._text.setMargin(8)
        self._text.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse
            | Qt.TextInteractionFlag.LinksAccessibleByMouse
            | Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        )
        self._text.linkActivated.connect(self.subject_asked)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidget(self._text)
        self.setAccessibleName(tr("What the chosen dimension was made from"))

    def show_dimension(self, dimension: Dimension | None) -> None:
        """Open a dimension."""
        self._dimension = dimension
        if dimension is None:
            self._text.setText("")
            return
        unit = self._document.job.settings.unit.value
        self._text.setText(
            _head(dimension, unit) + _rests_on(dimension, self._carrying(), unit) + _budget(dimension, unit)
        )

    def words(self) -> str:
        """What is shown, as HTML."""
        return self._text.text()

    def ids(self) -> tuple[str, ...]:
        """Marks of the points that the dimension was made from."""
        if self._dimension is None:
            return ()
        made = set(self._dimension.made_from)
        job = self._document.job
        return tuple(mark.id for mark in job.marks if (mark.point or mark.id) in made) or tuple(made)

    def lit(self) -> dict[str, float]:
        """Marks among the observations that hold most of the variance, each with its share."""
        return {each.subject: each.share for each in self._carrying() if each.kind == "mark"}

    def _carrying(self) -> tuple[Influence, ...]:
        """The observations that hold most of the variance, as last measured in full."""
        from digitizer.survey.influence import carrying, influences  # brings what the window's start need not

        live, code = self.live(), self._dimension.code if self._dimension else ""
        if live is None:
            return ()
        if self._found[0] is not live or self._found[1] != code:
            self._found = live, code, carrying(influences(live, code))
        return self._found[2]


def _shown(value: float, dimension: Dimension, unit: str) -> str:
    return format_length(value, unit) if dimension.quantity is Quantity.LENGTH else format_angle(value)


def _head(dimension: Dimension, unit: str) -> str:
    """HTML of our own making, here and below; texts that a user typed are escaped."""
    low, high = (_shown(value, dimension, unit) for value in (dimension.lower, dimension.upper))
    interval = tr("95 % interval: {low} to {high}", low=low, high=high)
    note = f"<p>{escape(dimension.note)}</p>" if dimension.note else ""
    return f"<b>{escape(dimension.label)}</b><br>{interval}{note}"


def _rests_on(dimension: Dimension, found: tuple[Influence, ...], unit: str) -> str:
    """The observations that hold most of the variance; a mark's name leads to it."""
    if not found:
        return ""
    lines = [
        f"<tr><td>{_name(each)}&nbsp;&nbsp;</td><td align=right>{each.share:.0%}&nbsp;&nbsp;</td>"
        f"<td align=right>{_moves(each, dimension, unit)}</td></tr>"
        for each in found
    ]
    rest = 1.0 - sum(each.share for each in found)
    if rest > 0.0005:
        lines.append(
            f"<tr><td>{tr('everything else')}&nbsp;&nbsp;</td><td align=right>{rest:.0%}&nbsp;&nbsp;</td></tr>"
        )
    return _table((tr("rests on"), tr("share"), tr("one unit moves it by")), lines)


def _name(each: Influence) -> str:
    name = escape(each.label)
    return f'<a href="{escape(each.subject)}">{name}</a>' if each.kind == "mark" else name


def _moves(each: Influence, dimension: Dimension, unit: str) -> str:
    if not each.sensitivity or each.unit not in ("px", "mm", "°"):
        return ""
    return tr("{much} per {unit}", much=_shown(each.moves, dimension, unit), unit=each.unit)


def _budget(dimension: Dimension, unit: str) -> str:
    lines = [
        f"<tr><td>{escape(line.source)}&nbsp;&nbsp;</td><td align=right>{_shown(line.u, dimension, unit)}&nbsp;&nbsp;"
        f"</td><td align=right>{line.share:.0%}</td></tr>"
        for line in sorted(dimension.budget, key=lambda each: -each.share)
    ]
    return _table((tr("source"), "u", tr("share")), lines)


def _table(headings: tuple[str, str, str], lines: list[str]) -> str:
    first, *others = (f"<i>{heading}</i>" for heading in headings)
    head = f"<td>{first}</td>" + "".join(f"<td align=right>{other}&nbsp;&nbsp;</td>" for other in others)
    return f"<table cellspacing=2><tr>{head}</tr>{''.join(lines)}</table>"
