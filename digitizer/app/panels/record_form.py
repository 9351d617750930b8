"""
A form for any record of the job: one line a field, each edit one undoable step.

What the fields are and what they may hold, the records themselves say; here are only their names for people.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from enum import StrEnum
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QFormLayout, QLineEdit, QWidget

from digitizer.app.words import tr
from digitizer.errors import ReadingError
from digitizer.job.checking import editable_fields, field_type, with_field
from digitizer.units import MM_PER_INCH, parse_angle, parse_length

NAMES = {
    "u_px": "u of the mark, px",
    "u_mm": "u of the figure",
    "u_definition_mm": "u of what is meant",
    "height_mm": "Height off the face",
    "u_height_mm": "u of the height",
    "length_mm": "Length",
    "width_mm": "Width",
    "a_mm": "A, on the centreline",
    "b_mm": "B, out from it",
    "offset_mm": "B taken this far out",
    "span_mm": "Straightedge",
    "gap_mm": "Gap",
    "face_deg": "Level on the face",
    "keel_deg": "Level on the keel",
    "lean_deg": "Face leans aft by",
    "rake_deg": "Transom angle",
    "u_deg": "u of the angle",
    "u_straight_mm": "u of its straightness",
    "diameter_mm": "Diameter by calliper",
    "proud_mm": "Stands proud by",
    "u_proud_mm": "u of that",
    "edge_radius_mm": "Radius of its edges",
    "check_bar_measured_mm": "Check bar as measured",
    "b_offset_mm": "B taken this far out",
    "flange_width_mm": "Width of the planned flange",
    "unit": "Lengths in",
    "paper": "Paper",
    "active": "Used",
    "plan": "To become",
    "on": "On the pad",
    "path": "Taken",
    "role": "Used as",
    "flush": "Flat on the transom",
    "reference": "Is the reference line",
    "u_square_deg": "Taken square on, u",
    "cropped": "Cropped",
    "hull_number": "Hull number",
    "u_edge_mm": "u of its edge",
    "value": "Figure",
    "low": "Scale from",
    "high": "Scale to",
    "control": "On a dry place",
    "not_accessible": "Not accessible",
    "limits": "Limits of the survey",
    "conditions": "State and weather",
    "top_mm": "Upper edge above the keel point",
    "deadrise_deg": "Deadrise of its lower edge",
    "bottom": "Lower edge",
    "across_mm": "Middle from the centreline",
    "margin_mm": "Clear distance to fittings",
    "u_place_mm": "u of its place",
    "spacing_mm": "Spacing, middle to middle",
    "hole_mm": "Diameter of the holes",
    "edge_mm": "Holes from the edge",
    "power_hp": "Power of each, hp",
    "weight_kg": "Weight, kg",
    "plate_angle_deg": "Angle of the motor plate",
    "u_plate_deg": "u of that angle",
    "rated_engines": "Rated for engines",
    "rated_power_hp": "Rated power in all, hp",
    "rated_weight_kg": "Rated weight in all, kg",
    "side_mm": "Height of its sides",
    "aft_width_mm": "Width at its after end",
    "aft_side_mm": "Height of its sides, aft",
    "beam_mm": "Greatest beam",
    "u_length_mm": "u of the length",
    "outboard_monohull": "Outboard monohull",
    "quarter_beam_mm": "Broadest beam, aftermost quarter",
    "remote_steering": "Remote steering",
    "transom_height_mm": "Height where the engine hangs",
    "flat_bottom_hard_chine": "Flat bottom, hard chine",
    "part": "Stands for",
    "face_up": "Face up in the photo",
    "taken": "Held to the transom",
    "thickness_mm": "Thickness",
    "u_thickness_mm": "u of the thickness",
    "scale_lies": "The scale lies on the",
    "u_cut_mm": "u of the cut, each mark",
}
OWN_NAMES = {
    ("Flange", "height_mm"): "Height",
    ("Flange", "gap_mm"): "Gap above the bottom edge",
    ("Rectangle", "height_mm"): "Height",
    ("Engines", "weight_kg"): "Weight of each, kg",
    ("PowerRule", "length_mm"): "Length of the boat",
    ("BracketBody", "length_mm"): "Length, fore and aft",
}
"""Names that a field has in one record only."""
_BY_CLICKING = {
    "id", "photo", "file", "sha256", "width_px", "height_px", "x_px", "y_px", "of", "from_point", "to_point", "format",
    "captured", "device", "camera", "point", "instrument", "meter", "port", "starboard",
    "cut_to_pattern",
}  # fmt: skip
"""Fields that are set by pointing or by the program."""
_YES_NO = {True: "yes", False: "no"}


class RecordForm(QWidget):
    """Fields of one record; `changed` carries the record with one field changed."""

    changed = Signal(object)
    refused = Signal(str)

    def __init__(self, record: Any, unit: str, pads: Iterable[str] = (), only: Iterable[str] = ()) -> None:
        super().__init__()
        self._record, self._unit = record, unit
        layout = QFormLayout(self)
        layout.setContentsMargins(8, 6, 8, 6)
        layout.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.ExpandingFieldsGrow)
        layout.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        wanted = tuple(only) or editable_fields(type(record))
        for name in wanted:
            if name not in _BY_CLICKING:
                field = self._field(name, tuple(pads))
                label = self._label(name)
                field.setAccessibleName(label)
                field.setObjectName(name)
                layout.addRow(label, field)

    def _field(self, name: str, pads: tuple[str, ...]) -> QWidget:
        kind, may_lack = field_type(type(self._record), name)
        value = getattr(self._record, name)
        if kind is bool:
            box = QCheckBox()
            box.setChecked(bool(value))
            box.toggled.connect(lambda on: self._take(name, lambda: on))
            return box
        if issubclass(kind, StrEnum):
            return self._choice(name, {each: each.value.replace("_", " ") for each in kind}, value, may_lack)
        if name == "on":
            return self._choice(name, {pad: pad for pad in pads}, value, True)
        line = QLineEdit(_shown(name, value, self._unit))
        line.setCursorPosition(0)  # a long text is read from its beginning
        if may_lack and value is None:
            line.setPlaceholderText(tr("not stated"))
        line.editingFinished.connect(lambda: self._read(name, line, kind, may_lack))
        return line

    def _label(self, name: str) -> str:
        own = OWN_NAMES.get((type(self._record).__name__, name))
        return field_name(name) if own is None else tr(own)

    def _choice(self, name: str, options: dict[Any, str], value: object, may_lack: bool) -> QComboBox:
        box = QComboBox()
        if may_lack:
            box.addItem(tr("not stated"), None)
        for option, words in options.items():
            box.addItem(tr(words), option)
        box.setCurrentIndex(max(0, box.findData(value)))
        box.activated.connect(lambda _: self._take(name, box.currentData))
        return box

    def _read(self, name: str, line: QLineEdit, kind: type, may_lack: bool) -> None:
        text = line.text().strip()
        if text == _shown(name, getattr(self._record, name), self._unit):
            return
        self._take(name, lambda: None if may_lack and not text else _value(name, text, kind, self._unit))

    def _take(self, name: str, value: Callable[[], object]) -> None:
        try:
            record = with_field(self._record, name, value())
        except ReadingError as refused:
            self.refused.emit(f"{self._label(name)}: {refused}")
            return
        self._record = record
        self.changed.emit(record)


def field_name(name: str) -> str:
    """A field's name for people."""
    plain = name.removesuffix("_mm").removesuffix("_deg").removesuffix("_px").replace("_", " ")
    return tr(NAMES.get(name, plain[:1].upper() + plain[1:]))


def _shown(name: str, value: Any, unit: str) -> str:
    """A value as it stands in the form; lengths in mm or decimal inches with all the digits that matter."""
    if value is None:
        return ""
    if name.endswith("_mm"):
        return f"{value:.6g} mm" if unit == "mm" else f"{value / MM_PER_INCH:.6g} in"
    if name.endswith("_deg"):
        return f"{value:.6g}°"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _value(name: str, text: str, kind: type, unit: str) -> object:
    if name.endswith("_mm"):
        return _signed_length(text, unit)
    if name.endswith("_deg"):
        return parse_angle(text)
    if kind in (int, float):
        try:
            return kind(text.replace(",", "."))
        except ValueError:
            raise ReadingError(text, "this is no number.") from None
    return text


def _signed_length(text: str, unit: str) -> float:
    """Heights and gaps may be negative; tape readings never are, which is why the reader of lengths knows no sign."""
    bare = text.lstrip("-−– ")
    if bare in ("0", "0 mm", "0 in"):
        return 0.0
    length = parse_length(bare, "mm" if unit == "mm" else "in")
    return -length if text[:1] in "-−–" else length
