"""The settings: a form over `Preferences`, and their place among the platform's own settings."""

from __future__ import annotations

from enum import StrEnum

from PySide6.QtCore import QSettings, QSize
from PySide6.QtWidgets import QComboBox, QDialogButtonBox, QFormLayout, QGroupBox, QSpinBox, QVBoxLayout, QWidget

from digitizer.app.dialogs.figures import (
    FigureField,
    add_row,
    angle_field,
    length_field,
    small_length,
    small_length_field,
)
from digitizer.app.dialogs.frame import Frame
from digitizer.app.words import tr
from digitizer.job.model import LengthUnit, PaperSize
from digitizer.job.preferences import COVERAGE_FACTORS, LANGUAGES, LIMITS, Preferences, Theme, as_texts, from_texts
from digitizer.units import format_length, parse_length

_GROUP = "preferences"


def kept_preferences(settings: QSettings | None = None) -> tuple[Preferences, tuple[str, ...]]:
    """The user's preferences, and the names of those that were spoilt and have their usual value."""
    store = settings or QSettings()
    store.beginGroup(_GROUP)
    texts = {name: store.value(name) for name in store.childKeys()}
    store.endGroup()
    return from_texts(texts)


def keep_preferences(preferences: Preferences, settings: QSettings | None = None) -> None:
    """Keep them where the platform keeps settings."""
    store = settings or QSettings()
    store.beginGroup(_GROUP)
    for name, text in as_texts(preferences).items():
        store.setValue(name, text)
    store.endGroup()
    store.sync()


class PreferencesDialog(Frame):
    """
    Units, usual uncertainties, paper and looks.

    Parameters
    ----------
    preferences
        As they are; `preferences()` gives them as the person left them.
    """

    def __init__(self, preferences: Preferences, parent: QWidget | None = None) -> None:
        super().__init__(tr("Settings"), QSize(560, 640), parent)
        self._build()
        self.show_preferences(preferences)
        self.unit.currentIndexChanged.connect(lambda _: self._change_unit())
        ok = self.add_button(tr("Keep"), QDialogButtonBox.ButtonRole.AcceptRole)
        ok.setDefault(True)
        self.add_button(tr("Cancel"), QDialogButtonBox.ButtonRole.RejectRole)
        usual = self.add_button(tr("Usual values"), QDialogButtonBox.ButtonRole.ResetRole)
        usual.clicked.connect(lambda: self.show_preferences(Preferences()))
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        self.unit.setFocus()

    def preferences(self) -> Preferences:
        """What the form says; a field that can't be read counts with its usual value."""
        usual = Preferences()
        return Preferences(
            unit=LengthUnit(self.unit.currentData()),
            b_offset_mm=_value(self.b_offset, usual.b_offset_mm),
            u_tape_mm=_value(self.u_tape, usual.u_tape_mm),
            u_level_deg=_value(self.u_level, usual.u_level_deg),
            coverage=float(self.coverage.currentData()),
            paper=PaperSize(self.paper.currentData()),
            language=str(self.language.currentData()),
            theme=Theme(self.theme.currentData()),
            ellipse_magnification=float(self.magnification.value()),
        )

    def show_preferences(self, preferences: Preferences) -> None:
        """Fill the form."""
        _choose(self.unit, preferences.unit)
        self._change_unit()
        self.b_offset.set_value(preferences.b_offset_mm)
        self.u_tape.set_value(preferences.u_tape_mm)
        self.u_level.set_value(preferences.u_level_deg)
        _choose(self.coverage, preferences.coverage)
        _choose(self.paper, preferences.paper)
        _choose(self.language, preferences.language)
        _choose(self.theme, preferences.theme)
        self.magnification.setValue(round(preferences.ellipse_magnification))

    def accept(self) -> None:
        """Close, unless a figure can't be read; the first such field then has the focus."""
        faults = [
            field.insist() for field in (self.u_level, self.u_tape, self.b_offset)
        ]  # the last asked has the focus
        if not any(faults):
            super().accept()

    def _build(self) -> None:
        unit = LengthUnit.MILLIMETRE.value
        self.unit = _choices(
            (tr("millimetres"), LengthUnit.MILLIMETRE),
            (tr("inches, decimal"), LengthUnit.INCH_DECIMAL),
            (tr("inches, in sixteenths"), LengthUnit.INCH_SIXTEENTHS),
        )
        self.b_offset = length_field(tr("Distance out for B"), unit, LIMITS["b_offset_mm"])
        self.u_tape = small_length_field(tr("u of a tape figure"), unit, LIMITS["u_tape_mm"])
        self.u_level = angle_field(tr("u of a level"), LIMITS["u_level_deg"])
        self.coverage = _choices(*((tr("U = {k:g} u", k=k), k) for k in COVERAGE_FACTORS))
        self.paper = _choices(*((size.value, size) for size in PaperSize))
        names = {"system": tr("as the computer"), "en": "English"}
        self.language = _choices(*((names[name], name) for name in LANGUAGES))
        themes = {Theme.SYSTEM: tr("as the computer"), Theme.LIGHT: tr("light"), Theme.DARK: tr("dark")}
        self.theme = _choices(*((words, theme) for theme, words in themes.items()))
        least, most = LIMITS["ellipse_magnification"]
        self.magnification = QSpinBox(minimum=round(least), maximum=round(most))
        self.magnification.setSuffix(" ×")
        body = QWidget()
        layout = QVBoxLayout(body)
        for title, rows in self._groups():
            layout.addWidget(_group(title, rows))
        layout.addStretch(1)
        self.set_body(body)

    def _groups(self) -> tuple[tuple[str, tuple[tuple[str, QWidget, str], ...]], ...]:
        new_jobs = tr("In new jobs; a job keeps its own.")
        return (
            (
                tr("Figures"),
                (
                    (tr("&Lengths in"), self.unit, new_jobs),
                    (tr("&B is taken"), self.b_offset, tr("out from the centreline. In new jobs.")),
                    (tr("u of a &tape figure"), self.u_tape, tr("What each new tape figure starts with.")),
                    (tr("u of a le&vel"), self.u_level, tr("What each new reading of a level starts with.")),
                    (tr("&Coverage"), self.coverage, tr("On screen. Reports and files always give U = 2 u.")),
                ),
            ),
            (tr("Paper"), ((tr("&Paper"), self.paper, new_jobs),)),
            (
                tr("Looks"),
                (
                    (tr("C&olours"), self.theme, ""),
                    (tr("L&anguage"), self.language, tr("Takes effect at the next start.")),
                    (tr("&Error ellipses"), self.magnification, tr("How much larger than life they are drawn.")),
                ),
            ),
        )

    def _change_unit(self) -> None:
        unit = str(LengthUnit(self.unit.currentData()).value)
        self.b_offset.set_form(lambda text: parse_length(text, unit), lambda mm: format_length(mm, unit))
        self.u_tape.set_form(lambda text: parse_length(text, unit), lambda mm: small_length(mm, unit))


def _group(title: str, rows: tuple[tuple[str, QWidget, str], ...]) -> QGroupBox:
    box = QGroupBox(title)
    form = QFormLayout(box)
    form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
    form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
    for words, field, explained in rows:
        if not isinstance(field, FigureField):
            field.setAccessibleName(words.replace("&", ""))
        add_row(form, words, field, explained)
    return box


def _choices(*pairs: tuple[str, StrEnum | str | float]) -> QComboBox:
    box = QComboBox()
    for words, value in pairs:
        box.addItem(words, value)
    return box


def _choose(box: QComboBox, value: StrEnum | str | float) -> None:
    box.setCurrentIndex(next((i for i in range(box.count()) if box.itemData(i) == value), 0))


def _value(field: FigureField, usual: float) -> float:
    value = field.value()
    return usual if value is None else value
