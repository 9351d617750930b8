"""
The cutting drawing as DXF, for any program that draws or cuts.

Kept plain: version AC1024 (2010), lines, circles, one-line texts in a common face, layers by meaning, and a block for
each kind and shape of fitting, drawn at size one and inserted at its size. The library's auditor has the last word.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ezdxf._options import options
from ezdxf.document import Drawing as Document
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.base import BaseLayout
from ezdxf.layouts.layout import Modelspace

from digitizer.errors import ReportError
from digitizer.files import replacing
from digitizer.reports.cutting import LAYERS, Circle, Dash, Drawing, DrawnFitting, LayerName, Line
from digitizer.reports.cutting_layout import Layout, Text, laid_out
from digitizer.reports.fitting_marks import ARM_OVER_RIM, POINT_ARM_MM
from digitizer.reports.sheet import Point
from digitizer.units import MM_PER_INCH

_VERSION = "R2010"
_STYLE, _BOLD_STYLE = "DIGITIZER", "DIGITIZER_BOLD"
_CAP_HEIGHT = 0.72
"""A text's height in DXF is that of its capitals, here a part of the em."""
_PATTERNS = {Dash.CHAIN: (30.0, -5.0, 5.0, -5.0), Dash.DASHED: (15.0, -8.0), Dash.DOTTED: (2.0, -6.0)}
"""Dashes positive, gaps negative; mm on the boat."""
_COLOURS = {
    LayerName.OUTLINE: 7,
    LayerName.BOTTOM_EDGE: 7,
    LayerName.MEASURED_OUTLINE: 8,
    LayerName.PATTERN: 4,
    LayerName.CENTRELINE: 1,
    LayerName.REFERENCE_LINE: 1,
    LayerName.BASELINE: 8,
    LayerName.WATERLINE: 5,
    LayerName.PADS: 6,
    LayerName.FITTINGS: 3,
    LayerName.FITTING_CENTRES: 3,
    LayerName.FLANGE: 30,
    LayerName.FLANGE_MARGIN: 30,
    LayerName.STATIONS: 8,
}
_WIDTHS = (13, 18, 25, 35, 50)
_METRIC, _IMPERIAL = (4, 1), (1, 0)
"""$INSUNITS and $MEASUREMENT of millimetres and of inches."""


def write_dxf(drawing: Drawing, path: Path, inches: bool = False, frozen: bool = True) -> None:
    """
    Write a drawing as DXF at true size.

    Parameters
    ----------
    inches
        Drawing units are inches instead of millimetres; the file declares which.
    frozen
        Leave out the time of writing and the random identifiers, so that equal drawings are equal files.

    Raises
    ------
    ReportError
        If the file can't be written; an old one stays as it was.
    """
    text = dxf_text(drawing, inches, frozen)
    with replacing(path, ReportError) as stream:
        stream.write(text)


def dxf_text(drawing: Drawing, inches: bool = False, frozen: bool = True) -> bytes:
    """
    The DXF file of a drawing.

    Raises
    ------
    ValueError
        If the library's auditor finds a fault in what was made, which is a mistake of this module.
    """
    with _frozen_identifiers(frozen):
        document = _document(inches)
        _Writer(document, MM_PER_INCH if inches else 1.0).draw(drawing)
        found = document.audit()
        if found.has_errors:
            raise ValueError(f"the drawing has faults: {[each.message for each in found.errors]}")
        for name in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(name)  # the library itself adds them in an order that changes from run to run
        stream = io.StringIO()
        document.write(stream)
    return document.encode(stream.getvalue())


@contextmanager
def _frozen_identifiers(frozen: bool) -> Iterator[None]:
    """The library's own switch for equal files, put back afterwards."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = frozen
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _document(inches: bool) -> Document:
    """An empty drawing with its units, layers, kinds of lines and text styles."""
    document = new(_VERSION)
    unit, measurement = _IMPERIAL if inches else _METRIC
    document.header["$INSUNITS"] = unit
    document.header["$MEASUREMENT"] = measurement
    document.header["$LUNITS"] = 2  # decimal
    mm = MM_PER_INCH if inches else 1.0
    for dash, pattern in _PATTERNS.items():
        parts = [part / mm for part in pattern]
        document.linetypes.add(_linetype(dash), [sum(map(abs, parts)), *parts], description=dash)
    document.styles.add(_STYLE, font="arial.ttf")
    document.styles.add(_BOLD_STYLE, font="arialbd.ttf")
    for name, look in LAYERS.items():
        layer = document.layers.add(name, color=_COLOURS.get(name, 7), linetype=_linetype(look.dash))
        layer.description = look.meaning
        layer.dxf.lineweight = max(w for w in _WIDTHS if w <= round(100 * look.width_mm))
    return document


def _linetype(dash: Dash) -> str:
    return dash.value.upper()


class _Writer:
    """Puts a drawing into a document; `mm` is the drawing unit in mm."""

    def __init__(self, document: Document, mm: float) -> None:
        self.document, self.mm = document, mm
        self.space: Modelspace = document.modelspace()

    def draw(self, drawing: Drawing) -> None:
        """Everything, lines first."""
        layout = laid_out(drawing)
        for line in (*drawing.lines, *layout.lines):
            self._line(line)
        for circle in (*drawing.circles, *layout.circles):
            self._circle(circle)
        for place in drawing.points:
            self.space.add_point(self.at(place), {"layer": LayerName.POINTS})
        for fitting in drawing.fittings:
            self._fitting(fitting)
        for text in layout.texts:
            self._text(text)
        self._look_at(layout)

    def at(self, place: Point) -> Point:
        return place[0] / self.mm, place[1] / self.mm

    def _line(self, line: Line) -> None:
        points = [self.at(place) for place in line.points]
        self.space.add_lwpolyline(points, close=line.closed, dxfattribs={"layer": line.layer})

    def _circle(self, circle: Circle) -> None:
        self.space.add_circle(self.at(circle.centre), circle.radius / self.mm, {"layer": circle.layer})

    def _fitting(self, fitting: DrawnFitting) -> None:
        """Its block at its size, with number, name, kind and plan as hidden attributes."""
        scale = (fitting.width or 1.0) / self.mm, (fitting.height or 1.0) / self.mm
        insert = self.space.add_blockref(
            self._block(fitting),
            self.at(fitting.at),
            {
                "layer": LayerName.FITTINGS,
                "xscale": scale[0],
                "yscale": scale[1],
                "zscale": scale[0],
                "rotation": math.degrees(fitting.roll_rad),
            },
        )
        row = fitting.row
        for tag, value in (("NUMBER", str(row.number)), ("NAME", row.name), ("KIND", row.kind), ("PLAN", row.plan)):
            given = {"layer": LayerName.LABELS, "height": 5.0 / self.mm, "style": _STYLE}
            insert.add_attrib(tag, plain(value), self.at(fitting.at), given).is_invisible = True

    def _block(self, fitting: DrawnFitting) -> str:
        """Name of the block for a fitting's kind and shape, made when first asked for."""
        name = f"{fitting.kind}_{fitting.shape}".upper()
        if name not in self.document.blocks:
            block = self.document.blocks.new(name)
            _draw_unit_fitting(block, fitting.shape)
        return name

    def _text(self, text: Text) -> None:
        made = self.space.add_text(
            plain(text.text),
            height=_CAP_HEIGHT * text.size / self.mm,
            rotation=text.angle,
            dxfattribs={"layer": text.layer, "style": _BOLD_STYLE if text.bold else _STYLE},
        )
        alignment = TextEntityAlignment.MIDDLE_CENTER if text.centred else TextEntityAlignment.LEFT
        made.set_placement(self.at(text.at), align=alignment)

    def _look_at(self, layout: Layout) -> None:
        """Show everything when the file is opened."""
        left, bottom, right, top = (each / self.mm for each in layout.extent)
        self.document.header["$EXTMIN"] = (left, bottom, 0.0)
        self.document.header["$EXTMAX"] = (right, top, 0.0)
        self.document.set_modelspace_vport(top - bottom, ((left + right) / 2, (bottom + top) / 2))


def _draw_unit_fitting(block: BaseLayout, shape: str) -> None:
    """A fitting of size one about the origin; its rim takes the layer on which the block is inserted."""
    arm = POINT_ARM_MM
    if shape == "circle":
        block.add_circle((0.0, 0.0), 0.5, {"layer": "0"})
        arm = ARM_OVER_RIM / 2
    elif shape == "rectangle":
        corners = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)]
        block.add_lwpolyline(corners, close=True, dxfattribs={"layer": "0"})
        arm = ARM_OVER_RIM / 2
    for a, b in (((-arm, 0.0), (arm, 0.0)), ((0.0, -arm), (0.0, arm))):
        block.add_line(a, b, {"layer": LayerName.FITTING_CENTRES})


def plain(text: str) -> str:
    """
    Text in which a program finds no codes of its own.

    A caret begins a control sign and a doubled percent sign a special one, backslashes begin others.
    """
    return text.replace("%%", "% %").replace("%%", "% %").replace("^", "^ ").replace("\\", "/")
