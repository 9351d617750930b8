"""Fields for lengths and angles as people write them: read at once, refused in a sentence under the field."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFormLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from digitizer.app.dialogs.frame import wrapped
from digitizer.app.words import tr
from digitizer.errors import ReadingError
from digitizer.units import MM_PER_INCH, format_length, parse_angle, parse_length


class FigureField(QWidget):
    """
    A line for one figure and, below it, what is wrong with it.

    Parameters
    ----------
    name
        For people who hear the screen instead of seeing it, and in sentences about the field.
    read
        Turns the text into the figure, or raises `ReadingError`.
    show
        Turns the figure into text.
    limits
        Least and most.
    needed
        Whether an empty field is a fault.
    """

    changed = Signal()

    def __init__(
        self,
        name: str,
        read: Callable[[str], float],
        show: Callable[[float], str],
        limits: tuple[float, float],
        needed: bool = True,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._read, self._show, self._limits, self._needed = read, show, limits, needed
        self._given: tuple[str, float] | None = None
        self.line = QLineEdit()
        self.line.setAccessibleName(name)
        self.line.setMinimumWidth(110)
        self.line.textEdited.connect(lambda _: self._edited())
        self.line.editingFinished.connect(self.show_fault)
        self._fault = wrapped(small=True)
        font = self._fault.font()
        font.setBold(True)
        self._fault.setFont(font)
        self._fault.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        layout.addWidget(self.line)
        layout.addWidget(self._fault)
        self.setFocusProxy(self.line)

    def set_value(self, value: float | None) -> None:
        """Show a figure; it comes back unrounded as long as nobody edits its text."""
        text = "" if value is None else self._show(value)
        self._given = None if value is None else (text, value)
        self.line.setText(text)
        self._fault.hide()

    def set_form(self, read: Callable[[str], float], show: Callable[[float], str]) -> None:
        """Read and show in another unit from now on; the figure stays."""
        value = self.value()
        self._read, self._show = read, show
        if value is not None:
            self.set_value(value)

    def value(self) -> float | None:
        """The figure; None where the field is empty or its text can't be used."""
        try:
            return self._figure()
        except ReadingError:
            return None

    def fault(self) -> str:
        """What is wrong, as a sentence; empty where nothing is."""
        try:
            figure = self._figure()
        except ReadingError as refused:
            return str(refused)
        return tr("A figure is needed here.") if figure is None and self._needed else ""

    def show_fault(self) -> bool:
        """Say what is wrong under the field; whether something is."""
        fault = self.fault() if self.line.text().strip() or self._fault.isVisible() else ""
        self._tell(fault)
        return bool(fault)

    def insist(self) -> bool:
        """As `show_fault`, also for an empty field; it takes the focus if something is wrong."""
        fault = self.fault()
        self._tell(fault)
        if fault:
            self.line.setFocus()
            self.line.selectAll()
        return bool(fault)

    def _figure(self) -> float | None:
        text = self.line.text()
        if not text.strip():
            return None
        figure = self._given[1] if self._given and self._given[0] == text else self._read(text)
        least, most = self._limits
        if not least <= figure <= most:
            reason = tr("it lies between {least} and {most}.", least=self._show(least), most=self._show(most))
            raise ReadingError(text, reason)
        return figure

    def _edited(self) -> None:
        if self._fault.isVisible():
            self._tell(self.fault())
        self.changed.emit()

    def _tell(self, fault: str) -> None:
        self._fault.setText(f"\N{WARNING SIGN} {fault}")
        self._fault.setVisible(bool(fault))
        self.line.setAccessibleDescription(fault)


def length_field(
    name: str, unit: str, limits: tuple[float, float] = (0.01, 100_000.0), needed: bool = True
) -> FigureField:
    """A field for a length in mm, read and shown in `unit`: ``"mm"``, ``"in"`` or ``"in/16"``."""
    return FigureField(name, lambda text: parse_length(text, unit), lambda mm: format_length(mm, unit), limits, needed)


def small_length_field(name: str, unit: str, limits: tuple[float, float] = (0.001, 1000.0)) -> FigureField:
    """A field for an uncertainty in mm, which sixteenths of an inch are too coarse for."""
    return FigureField(name, lambda text: parse_length(text, unit), lambda mm: small_length(mm, unit), limits)


def small_length(mm: float, unit: str) -> str:
    """A length of a millimetre or so: to 0.01 mm or 0.001 in, without needless zeros."""
    if unit == "mm":
        return f"{round(mm, 2):g} mm"
    return f"{round(mm / MM_PER_INCH, 3):g} in"


def angle_field(name: str, limits: tuple[float, float], needed: bool = True) -> FigureField:
    """A field for an angle in degrees."""
    return FigureField(name, parse_angle, shown_angle, limits, needed)


def shown_angle(deg: float) -> str:
    """An angle to 0.001°, without needless zeros."""
    return f"{round(deg, 3):g}°"


def add_row(form: QFormLayout, words: str, field: QWidget, explained: str = "") -> None:
    """A row whose label leads to its field, with a sentence under the field where one helps."""
    label = QLabel(words)
    label.setBuddy(field)
    if not explained:
        form.addRow(label, field)
        return
    both = QWidget()
    layout = QVBoxLayout(both)
    layout.setContentsMargins(0, 0, 0, 4)
    layout.setSpacing(2)
    layout.addWidget(field)
    layout.addWidget(wrapped(explained, small=True))
    target = field.line if isinstance(field, FigureField) else field
    target.setAccessibleDescription(explained)
    form.addRow(label, both)
