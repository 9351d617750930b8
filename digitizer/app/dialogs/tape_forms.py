"""The forms for what the trade takes by hand, one for each kind of measurement."""

from __future__ import annotations

import math
from enum import StrEnum

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFormLayout, QLineEdit, QWidget

from digitizer.app.dialogs.figures import FigureField, add_row, angle_field, length_field, small_length_field
from digitizer.app.tape_records import ListedRecord, SingleRecord, places_of, section_of
from digitizer.app.words import tr
from digitizer.job.edits import fresh_id
from digitizer.job.model import (
    DeadriseReading,
    Gap,
    GravityKind,
    GravityLine,
    Job,
    KnownLength,
    LevelReadings,
    Path,
    Rake,
    Role,
    Side,
)
from digitizer.job.preferences import LIMITS, Preferences
from digitizer.transom.deadrise import tape_deadrise, tape_deadrise_u
from digitizer.units import format_angle, format_with_uncertainty

_BOAT = (1.0, 20_000.0)
"""Lengths found on a transom, mm."""
_FACE, _KEEL = (-59.9, 59.9), (-44.9, 44.9)


class TapeFormPage(QWidget):
    """One kind of measurement: its fields, what follows from them, and the record they make."""

    drawing, caption = "", ""
    changed = Signal()

    def __init__(self, job: Job, preferences: Preferences) -> None:
        super().__init__()
        self.job, self.preferences = job, preferences
        self.unit = job.settings.unit.value
        self.figures: list[FigureField] = []
        self.form = QFormLayout(self)
        self.form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.build()

    def build(self) -> None:
        """Put the fields in."""
        raise NotImplementedError

    def record(self) -> ListedRecord | SingleRecord:
        """The measurement as a record, once `insist` found no fault."""
        raise NotImplementedError

    def follows(self) -> str:
        """What follows from the figures so far; empty where nothing does."""
        return ""

    def fault(self) -> str:
        """What is wrong with the figures together; empty where nothing is."""
        return ""

    def insist(self) -> bool:
        """Point out every fault; whether there is one."""
        return any([figure.insist() for figure in reversed(self.figures)])  # noqa: C419  all are asked

    def clear(self) -> None:
        """Ready for the next measurement of the kind."""
        raise NotImplementedError

    def length(self, words: str, explained: str = "", limits: tuple[float, float] = _BOAT) -> FigureField:
        """A row for a length."""
        return self._figure(words, length_field(_name(words), self.unit, limits), explained)

    def small(self, words: str, usual: float) -> FigureField:
        """A row for an uncertainty in mm, which starts with its usual value."""
        field = small_length_field(_name(words), self.unit)
        field.set_value(usual)
        return self._figure(words, field, "")

    def angle(self, words: str, explained: str, limits: tuple[float, float]) -> FigureField:
        """A row for an angle."""
        return self._figure(words, angle_field(_name(words), limits), explained)

    def choice(self, words: str, *pairs: tuple[str, StrEnum]) -> QComboBox:
        """A row for one of several."""
        box = QComboBox()
        for text, value in pairs:
            box.addItem(text, value.value)
        box.setAccessibleName(_name(words))
        box.currentIndexChanged.connect(lambda _: self.changed.emit())
        add_row(self.form, words, box)
        return box

    def place(self, words: str) -> QComboBox:
        """A row for a place that is marked."""
        box = QComboBox()
        for place in places_of(self.job):
            box.addItem(place.words, place.point)
        box.setAccessibleName(_name(words))
        box.currentIndexChanged.connect(lambda _: self.changed.emit())
        add_row(self.form, words, box)
        return box

    def fresh(self, record: type, stem: str) -> str:
        """An id that the job doesn't have yet."""
        return fresh_id((each.id for each in getattr(self.job, section_of(record))), stem)

    def _figure(self, words: str, field: FigureField, explained: str) -> FigureField:
        field.changed.connect(self.changed)
        add_row(self.form, words, field, explained)
        self.figures.append(field)
        return field


class AandB(TapeFormPage):
    """A and B on one side."""

    drawing, caption = "step-tape-figures", "A on the centreline, B at a stated distance out"

    def build(self) -> None:
        """Side, A, B, where B was taken."""
        self.side = self.choice(tr("&Side"), (tr("port"), Side.PORT), (tr("starboard"), Side.STARBOARD))
        self.a = self.length(tr("&A"), tr("From the reference line down to the bottom edge, on the centreline."))
        self.b = self.length(tr("&B"), tr("The same, at the distance out, square to the reference line."))
        self.out = self.length(tr("Distance &out"), limits=LIMITS["b_offset_mm"])
        self.out.set_value(self.job.settings.b_offset_mm)
        self.u = self.small(tr("&u of A and of B"), max(1.5, self.preferences.u_tape_mm))

    def follows(self) -> str:
        """The deadrise that A and B give."""
        a, b, out, u = (field.value() for field in (self.a, self.b, self.out, self.u))
        if a is None or b is None or out is None or u is None:
            return ""
        angle, u_angle = tape_deadrise(a, b, out), tape_deadrise_u(a, b, out, u)
        told = format_with_uncertainty(math.degrees(angle), 2 * math.degrees(u_angle), "deg")
        if a < b:
            return tr("Deadrise {angle}. B is more than A: the bottom would fall away from the keel.", angle=told)
        return tr("Deadrise {angle}", angle=told)

    def record(self) -> DeadriseReading:
        """The reading."""
        side = Side(self.side.currentData())
        return DeadriseReading(
            id=self.fresh(DeadriseReading, f"tape {side.value}"),
            side=side,
            a_mm=_given(self.a),
            b_mm=_given(self.b),
            offset_mm=_given(self.out),
            u_mm=_given(self.u),
        )

    def clear(self) -> None:
        """A stays, it is the same on both sides; the other side comes next."""
        self.b.set_value(None)
        self.side.setCurrentIndex(1 - self.side.currentIndex())


class LengthBetween(TapeFormPage):
    """A length between two marked places."""

    drawing, caption = "mark-length_end", "Both ends of a rule or tape"

    def build(self) -> None:
        """Ends, length, how it ran, what it is for."""
        self.first, self.second = self.place(tr("&From")), self.place(tr("&To"))
        self.second.setCurrentIndex(min(1, self.second.count() - 1))
        self.reading = self.length(tr("&Length"))
        self.u = self.small(tr("&u"), self.preferences.u_tape_mm)
        self.path = self.choice(
            tr("It &ran"),
            (tr("straight through (chord)"), Path.CHORD),
            (tr("along the surface (girth)"), Path.GIRTH),
        )
        self.role = self.choice(
            tr("It is &for"),
            (tr("checking: kept out, and compared"), Role.CHECK),
            (tr("measuring: it takes part"), Role.OBSERVATION),
        )
        self.note = QLineEdit(maxLength=200)
        self.note.setAccessibleName(tr("Note"))
        add_row(self.form, tr("&Note"), self.note, tr("Such as “chine to chine”: its name in the table of checks."))

    def fault(self) -> str:
        """A length runs between two different places."""
        if self.first.count() < 2:
            return tr("A length runs between two marked places: mark its ends in the photo first.")
        if self.first.currentData() == self.second.currentData():
            return tr("A length runs between two different places.")
        return ""

    def record(self) -> KnownLength:
        """The length."""
        return KnownLength(
            id=self.fresh(KnownLength, "tape"),
            from_point=str(self.first.currentData()),
            to_point=str(self.second.currentData()),
            length_mm=_given(self.reading),
            u_mm=_given(self.u),
            path=Path(self.path.currentData()),
            role=Role(self.role.currentData()),
            note=self.note.text().strip(),
        )

    def clear(self) -> None:
        """Another length."""
        self.reading.set_value(None)
        self.note.clear()


class LevelHeld(TapeFormPage):
    """A level held on the face and on the keel line."""

    drawing, caption = "word-rake", "The face against the perpendicular to the keel line"

    def build(self) -> None:
        """Two readings of one level."""
        self.face = self.angle(tr("On the &face"), tr("From plumb, positive when the top leans aft."), _FACE)
        self.keel = self.angle(tr("On the &keel line"), tr("From level, positive when the bow is up."), _KEEL)
        self.u = self.angle(tr("&u of each"), "", LIMITS["u_level_deg"])
        self.u.set_value(self.preferences.u_level_deg)

    def follows(self) -> str:
        """The transom angle that they give."""
        face, keel, u = self.face.value(), self.keel.value(), self.u.value()
        if face is None or keel is None or u is None:
            return ""
        angle = format_with_uncertainty(face - keel, 2 * math.sqrt(2) * u, "deg")
        return tr("Transom angle {angle}", angle=angle)

    def record(self) -> LevelReadings:
        """The readings; a job has them once."""
        return LevelReadings(_given(self.face), _given(self.keel), _given(self.u))

    def clear(self) -> None:
        """Nothing is left."""
        self.face.set_value(None)
        self.keel.set_value(None)


class RakeStated(TapeFormPage):
    """The transom angle as somebody states it."""

    drawing, caption = LevelHeld.drawing, LevelHeld.caption

    def build(self) -> None:
        """The angle and how sure it is."""
        explained = tr("The face against the perpendicular to the keel line, positive when the top leans aft.")
        self.rake = self.angle(tr("&Transom angle"), explained, _FACE)
        self.u = self.angle(tr("&u"), "", (0.01, 10.0))
        self.u.set_value(0.5)

    def follows(self) -> str:
        """How much longer a length up the raked face is than its height."""
        rake = self.rake.value()
        if rake is None:
            return ""
        longer = 100.0 * (1.0 / math.cos(math.radians(rake)) - 1.0)
        return tr(
            "At {angle} a length up the face is {longer:.1f} % more than its height square to the keel.",
            angle=format_angle(rake),
            longer=longer,
        )

    def record(self) -> Rake:
        """The angle; a job has it once."""
        return Rake(_given(self.rake), _given(self.u))

    def clear(self) -> None:
        """Nothing is left."""
        self.rake.set_value(None)


class LevelOrPlumb(TapeFormPage):
    """Two marked places that gravity puts level or plumb to each other."""

    drawing, caption = "mark-plumb_line", "Points along a plumb line"

    def build(self) -> None:
        """What gravity tells, of which places."""
        self.kind = self.choice(tr("They are"), (tr("level"), GravityKind.LEVEL), (tr("plumb"), GravityKind.PLUMB))
        self.first, self.second = self.place(tr("&From")), self.place(tr("&To"))
        self.second.setCurrentIndex(min(1, self.second.count() - 1))
        self.u = self.angle(tr("&u of the level"), "", LIMITS["u_level_deg"])
        self.u.set_value(self.preferences.u_level_deg)

    def fault(self) -> str:
        """Level and plumb are of two different places."""
        if self.first.count() < 2 or self.first.currentData() == self.second.currentData():
            return tr("Two different marked places are level or plumb to each other: mark both in the photo first.")
        return ""

    def record(self) -> GravityLine:
        """The line between them."""
        kind = GravityKind(self.kind.currentData())
        points = (str(self.first.currentData()), str(self.second.currentData()))
        return GravityLine(self.fresh(GravityLine, kind.value), kind, points, _given(self.u))

    def clear(self) -> None:
        """The places stay as they are."""


class Bow(TapeFormPage):
    """A straightedge across the face, and the gap under it."""

    drawing, caption = "word-sagitta", "Rise of an arc above its chord"

    def build(self) -> None:
        """Straightedge and gap."""
        self.span = self.length(tr("&Straightedge"), tr("Its whole length across the face."))
        self.gap = self.length(
            tr("&Gap"), tr("At its middle, or at both ends where it touches in the middle."), (0.0, 1000.0)
        )
        self.way = self.choice(tr("The face &bulges"), (tr("aft"), _Way.AFT), (tr("forward"), _Way.FORWARD))
        self.u = self.small(tr("&u of the gap"), max(1.5, self.preferences.u_tape_mm))

    def record(self) -> Gap:
        """The gap, positive when the face bulges aft."""
        sign = 1.0 if self.way.currentData() == _Way.AFT.value else -1.0
        return Gap(self.fresh(Gap, "bow"), _given(self.span), sign * _given(self.gap), _given(self.u))

    def clear(self) -> None:
        """The straightedge stays."""
        self.gap.set_value(None)


class _Way(StrEnum):
    AFT = "aft"
    FORWARD = "forward"


def _name(words: str) -> str:
    return words.replace("&", "")


def _given(field: FigureField) -> float:
    value = field.value()
    if value is None:
        raise ValueError(f"{field.line.accessibleName()} holds no figure: insist() first")
    return value
