"""
The cutting drawing as SVG: one user unit is one millimetre, one group for each layer.

Coordinates have y down and their origin at the upper left corner; the centreline and the keel point are named in the
description, so that millimetres of the transom can be found again.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from io import BytesIO
from pathlib import Path

from digitizer.errors import ReportError
from digitizer.files import replacing
from digitizer.reports.cutting import LAYERS, Circle, Dash, Drawing, DrawnFitting, LayerName, Line
from digitizer.reports.cutting_layout import Layout, Text, laid_out
from digitizer.reports.fitting_marks import cross, rim
from digitizer.reports.sheet import Point

_DASHES = {Dash.CHAIN: "30 5 5 5", Dash.DASHED: "15 8", Dash.DOTTED: "2 6"}
_FONT = "DejaVu Sans, Arial, Helvetica, sans-serif"
_CAP_HALF = 0.36
"""Half the height of capitals, as a part of the text's size: lowers a baseline so that the text is centred."""


def write_svg(drawing: Drawing, path: Path) -> None:
    """
    Write a drawing as SVG at true size.

    Raises
    ------
    ReportError
        If the file can't be written; an old one stays as it was.
    """
    text = svg_text(drawing)
    with replacing(path, ReportError) as stream:
        stream.write(text)


def svg_text(drawing: Drawing) -> bytes:
    """The SVG file of a drawing; equal drawings are equal files."""
    layout = laid_out(drawing)
    root = _Picture(layout).element(drawing)
    ET.indent(root)
    stream = BytesIO()
    ET.ElementTree(root).write(stream, encoding="utf-8", xml_declaration=True)
    return stream.getvalue() + b"\n"


class _Picture:
    """Turns mm of the transom, y up, into those of the picture, y down."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.left, self.bottom, self.right, self.top = layout.extent

    def element(self, drawing: Drawing) -> ET.Element:
        wide, high = _number(self.right - self.left), _number(self.top - self.bottom)
        root = ET.Element(
            "svg",
            xmlns="http://www.w3.org/2000/svg",
            version="1.1",
            width=f"{wide}mm",
            height=f"{high}mm",
            viewBox=f"0 0 {wide} {high}",
        )
        ET.SubElement(root, "title").text = drawing.title
        keel = ", ".join(_number(each) for each in self.at((0.0, 0.0)))
        ET.SubElement(root, "desc").text = f"1 unit is 1 mm. The keel point lies at {keel}. {drawing.plane}"
        ET.SubElement(root, "rect", width=wide, height=high, fill="white")
        for name in LayerName:
            self._layer(root, name, drawing)
        return root

    def at(self, place: Point) -> Point:
        return place[0] - self.left, self.top - place[1]

    def _layer(self, root: ET.Element, name: LayerName, drawing: Drawing) -> None:
        look = LAYERS[name]
        group = ET.Element(
            "g", {"id": str(name), "fill": "none", "stroke": "black", "stroke-width": _number(look.width_mm)}
        )
        group.set("stroke-linejoin", "round")
        if look.dash is not Dash.NONE:
            group.set("stroke-dasharray", _DASHES[look.dash])
        ET.SubElement(group, "title").text = look.meaning
        group.extend(self._items(name, drawing))
        if len(group) > 1:
            root.append(group)

    def _items(self, name: LayerName, drawing: Drawing) -> Iterable[ET.Element]:
        yield from (self._line(each) for each in (*drawing.lines, *self.layout.lines) if each.layer is name)
        yield from (self._circle(each) for each in (*drawing.circles, *self.layout.circles) if each.layer is name)
        if name is LayerName.FITTINGS:
            yield from (self._rim(each) for each in drawing.fittings if each.shape != "point")
        if name is LayerName.FITTING_CENTRES:
            yield from (self._line(Line(name, arm)) for each in drawing.fittings for arm in cross(each))
        if name is LayerName.POINTS:
            yield from (self._circle(Circle(name, place, 3.0)) for place in drawing.points)
        yield from (self._text(each) for each in self.layout.texts if each.layer is name)

    def _line(self, line: Line) -> ET.Element:
        points = " ".join(",".join(_number(each) for each in self.at(place)) for place in line.points)
        return ET.Element("polygon" if line.closed else "polyline", points=points)

    def _circle(self, circle: Circle) -> ET.Element:
        x, y = self.at(circle.centre)
        element = ET.Element("circle", cx=_number(x), cy=_number(y), r=_number(circle.radius))
        if circle.layer is LayerName.LABELS:
            element.set("fill", "white")
        return element

    def _rim(self, fitting: DrawnFitting) -> ET.Element:
        if fitting.shape == "circle":
            element = self._circle(Circle(LayerName.FITTINGS, fitting.at, fitting.width / 2))
        else:
            element = self._line(Line(LayerName.FITTINGS, rim(fitting), closed=True))
        ET.SubElement(element, "title").text = f"{fitting.row.number} {fitting.row.name[:80]}"
        return element

    def _text(self, text: Text) -> ET.Element:
        x, y = self.at(text.at)
        element = ET.Element(
            "text", {"x": _number(x), "y": _number(y), "font-size": _number(text.size), "font-family": _FONT}
        )
        element.text = text.text
        element.set("fill", "black")
        element.set("stroke", "none")
        if text.bold:
            element.set("font-weight", "bold")
        if text.centred:
            turned = math.radians(text.angle)
            fall = _CAP_HALF * text.size
            element.set("x", _number(x + fall * math.sin(turned)))
            element.set("y", _number(y + fall * math.cos(turned)))
            element.set("text-anchor", "middle")
        if text.angle:
            element.set("transform", f"rotate({_number(-text.angle)} {element.get('x')} {element.get('y')})")
        return element


def _number(value: float) -> str:
    """A number to a ten-thousandth of a millimetre, without trailing zeros."""
    short = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if short == "-0" else short
