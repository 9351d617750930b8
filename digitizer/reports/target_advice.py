"""The page that goes with a printed target: how to fix it, what else to bring, how to photograph."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from digitizer.reports.paper import BOLD, INK, REGULAR, RULE, TINT, escaped, text_width


def _style(name: str, size: float, font: str = REGULAR, after: float = 0.0) -> ParagraphStyle:
    return ParagraphStyle(name, fontName=font, fontSize=size, leading=1.3 * size, spaceAfter=after, textColor=INK)


TITLE = _style("target-title", 11, BOLD, 3)
BODY = _style("target-body", 9, after=4)
NOTE = _style("target-note", 7.2)
_HEAD = _style("target-head", 20, BOLD, 4)
_LEAD = _style("target-lead", 10, after=8)
_STEP = _style("target-step", 9.5, after=6)

_LEAD_TEXT = "Ten minutes more at the boat save an afternoon at the bench."
_FIX_BOARD = (
    "Flat and flush",
    "Glue the sheet on a stiff flat board, or tape down all its edges on a flat face, near the middle of the transom. "
    "No waves, no plastic sleeve: both bend the figures or shine. Note the thickness of the board.",
)
_FIX_MARKERS = (
    "Flat and flush",
    "Cut the four markers out with their white margin and fix one near each corner of the transom, on its face, all "
    "edges taped down. No waves, no plastic sleeve: both bend the figures or shine.",
)
_STEPS = (
    (
        "A string, straight across",
        "Stretch a string tight from side to side: it becomes the reference line, and it shows what the lens bends. "
        "A second one from top to bottom makes the figures better still.",
    ),
    (
        "One long length",
        "Lay a long steel rule or straight batten with two clear end marks flat across the transom, or take one tape "
        "figure between two clear points, the longer the better: chine to chine. Write down what it runs between.",
    ),
    (
        "Stand astern",
        "Roughly square to the transom, three to four metres off, the camera at half the transom's height. A second "
        "photo from one side is welcome, the boat and the target untouched in between.",
    ),
    (
        "Main lens",
        "The phone's main lens (1×): no zoom, no wide angle, no portrait effect, no panorama.",
    ),
    (
        "Leave air round it",
        "The whole transom within the middle 70 % of the picture: lenses bend most at the edges.",
    ),
    (
        "Sharp and even light",
        "Hold still, focus on the target, and prefer shade or a grey sky: no hard shadow and no glare on the target.",
    ),
    (
        "The original file",
        "Hand over the file as the camera saved it, by cable or as an attached file. Messengers shrink pictures and "
        "drop what the camera noted; screenshots, crops and edited copies lose it too.",
    ),
)
_CAUTIONS = (
    "Print at 100 % (“actual size”), never “fit to page”. Measure both check bars with a steel rule. Write their mean "
    "into the job as check_bar_measured_mm; until then the printed size counts as known to 0.3 %. If the two bars "
    "differ by more than 0.5 mm, the printer stretches the picture one way: print it elsewhere."
)


def draw_texts(
    canvas: Canvas, texts: Sequence[tuple[str, ParagraphStyle]], top_left: tuple[float, float], width: float
) -> float:
    """Set paragraphs of plain text under one another; the height left off at, in points from the page's foot."""
    x, y = top_left
    for text, style in texts:
        paragraph = Paragraph(escaped(text), style)
        y -= paragraph.wrap(width, 1e6)[1]
        paragraph.drawOn(canvas, x, y)
        y -= style.spaceAfter
    return y


def draw_advice(canvas: Canvas, page: tuple[float, float], markers: bool) -> None:
    """Draw the page of advice, upright; its column stays narrow enough to read on large paper."""
    canvas.setPageSize(page)
    width = min(page[0] - 36 * mm, 180 * mm)
    left = (page[0] - width) / 2
    y = draw_texts(canvas, [("How to photograph", _HEAD), (_LEAD_TEXT, _LEAD)], (left, page[1] - 16 * mm), width)
    y = _draw_sketch(canvas, (left, y), width, markers)
    steps = (_FIX_MARKERS if markers else _FIX_BOARD, *_STEPS)
    for number, (head, text) in enumerate(steps, start=1):
        y = _draw_step(canvas, number, head, text, (left, y), width)
    _draw_caution(canvas, (left, y - 2 * mm), width)
    canvas.showPage()


def _draw_step(canvas: Canvas, number: int, head: str, text: str, top_left: tuple[float, float], width: float) -> float:
    """One numbered piece of advice; returns where the next begins."""
    x, y = top_left
    canvas.setFillColor(INK)
    canvas.circle(x + 2.6 * mm, y - 2.4 * mm, 2.6 * mm, stroke=0, fill=1)
    canvas.setFillGray(1)
    canvas.setFont(BOLD, 8.5)
    canvas.drawCentredString(x + 2.6 * mm, y - 3.45 * mm, str(number))
    paragraph = Paragraph(f"<b>{escaped(head)}.</b> {escaped(text)}", _STEP)
    indent = 8 * mm
    height = paragraph.wrap(width - indent, 1e6)[1]
    paragraph.drawOn(canvas, x + indent, y - height)
    return float(y - height - _STEP.spaceAfter)


def _draw_caution(canvas: Canvas, top_left: tuple[float, float], width: float) -> None:
    """The caution on printing, in a tinted box."""
    pad = 3 * mm
    paragraph = Paragraph(f"<b>Before you rely on it.</b> {escaped(_CAUTIONS)}", BODY)
    height = paragraph.wrap(width - 2 * pad, 1e6)[1] + 2 * pad
    canvas.setFillColor(TINT)
    canvas.roundRect(top_left[0], top_left[1] - height, width, height, 1.5 * mm, stroke=0, fill=1)
    paragraph.drawOn(canvas, top_left[0] + pad, top_left[1] - height + pad)


def _draw_sketch(canvas: Canvas, top_left: tuple[float, float], width: float, markers: bool) -> float:
    """A transom in the frame of a picture with what belongs on it; returns the height below it."""
    height = 0.45 * width
    frame = height * 4 / 3
    canvas.saveState()
    canvas.translate(top_left[0] + (width - frame) / 2, top_left[1] - height)
    canvas.setFillColor(TINT)
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.rect(0, 0, frame, height, stroke=1, fill=1)
    canvas.setDash(2, 2)
    canvas.rect(0.15 * frame, 0.15 * height, 0.7 * frame, 0.7 * height)
    canvas.setDash()
    canvas.setFont(REGULAR, 7)
    canvas.setFillColor(INK)
    canvas.drawRightString(0.845 * frame, 0.16 * height, "middle 70 %")
    canvas.translate(frame / 2, 0.2 * height)
    _draw_transom(canvas, 0.62 * frame, 0.58 * height, markers)
    canvas.restoreState()
    return top_left[1] - height - 6 * mm


def _draw_transom(canvas: Canvas, width: float, height: float, markers: bool) -> None:
    """A transom seen from astern, keel at the origin, with string, rule and targets."""
    half = width / 2
    path = canvas.beginPath()
    path.moveTo(0, 0)
    path.lineTo(0.86 * half, 0.34 * height)
    path.lineTo(half, 0.96 * height)
    path.curveTo(half / 2, 1.02 * height, -half / 2, 1.02 * height, -half, 0.96 * height)
    path.lineTo(-0.86 * half, 0.34 * height)
    path.close()
    canvas.setFillGray(1)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1.1)
    canvas.drawPath(path, stroke=1, fill=1)
    canvas.setLineWidth(0.7)
    canvas.line(-0.985 * half, 0.86 * height, 0.985 * half, 0.86 * height)
    _label(canvas, 0, 0.885 * height, "string")
    canvas.setFillGray(1)
    canvas.rect(-0.78 * half, 0.33 * height, 1.56 * half, 0.035 * height)
    _label(canvas, 0, 0.25 * height, "long rule")
    _draw_small_targets(canvas, half, height, markers)


def _draw_small_targets(canvas: Canvas, half: float, height: float, markers: bool) -> None:
    canvas.setFillColor(INK)
    if not markers:
        side = 0.07 * height
        for row in range(5):
            for column in range(7):
                if (row + column) % 2 == 0:
                    canvas.rect((column - 3.5) * side, (0.445 + 0.07 * row) * height, side, side, stroke=0, fill=1)
        _label(canvas, 3.7 * side + text_width("target", 7) / 2, 0.6 * height, "target")
        return
    side = 0.14 * height
    for x, y in ((-0.8, 0.66), (0.8, 0.66), (-0.66, 0.42), (0.66, 0.42)):
        canvas.rect(x * half - side / 2, y * height, side, side, stroke=0, fill=1)
    _label(canvas, 0, 0.6 * height, "a marker near each corner")


def _label(canvas: Canvas, x: float, y: float, text: str) -> None:
    canvas.setFillColor(INK)
    canvas.setFont(REGULAR, 7)
    canvas.drawCentredString(x, y, text)
