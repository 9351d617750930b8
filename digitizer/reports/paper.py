"""
Paper: fonts, styles and what stands at the edge of each page.

Everything that a person typed passes :func:`shown` (and :func:`escaped` where markup is understood) first.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import IO, Any
from xml.sax.saxutils import escape

from reportlab import rl_config
from reportlab.lib import pagesizes
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph, Table, TableStyle

from digitizer.errors import ReportError
from digitizer.files import replacing
from digitizer.reports.contents import CHECK_FIRST

REGULAR, BOLD = "DejaVuSans", "DejaVuSans-Bold"
INK: Color = HexColor("#16263a")
"""Dark enough to stay black on a grey printer."""
RULE: Color = HexColor("#8a94a0")
TINT: Color = HexColor("#eef1f4")
MARGIN, EDGE = 15 * mm, 19 * mm
_SIZES = {"A4": pagesizes.A4, "Letter": pagesizes.LETTER, "A3": pagesizes.A3}
_TOTAL = "total-of-pages"
_SMALL_PRINT = 7.5
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


@dataclass(frozen=True)
class Paper:
    """One size of paper, upright and lying; lengths in points."""

    width: float
    height: float

    @property
    def upright(self) -> tuple[float, float]:
        """Room for text on an upright page."""
        return self.width - 2 * MARGIN, self.height - 2 * EDGE

    @property
    def lying(self) -> tuple[float, float]:
        """Room for a drawing on a lying page."""
        return self.height - 2 * MARGIN, self.width - 2 * EDGE


def paper_of(size: str) -> Paper:
    """Paper by the name that stands in the job's settings."""
    return Paper(*_SIZES[size])


@cache
def register_fonts() -> None:
    """Make the carried faces known: they hold Latin, Greek and Cyrillic, and are embedded in each file."""
    rl_config.useA85 = 0  # binary streams: a quarter smaller, and encoding pictures as text took half a second
    folder = Path(__file__).parent / "fonts"
    for face in (REGULAR, BOLD):
        pdfmetrics.registerFont(TTFont(face, str(folder / f"{face}.ttf")))
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of a text in points."""
    register_fonts()
    return float(pdfmetrics.stringWidth(text, BOLD if bold else REGULAR, size))


def shown(text: str, longest: int = 4000) -> str:
    """
    A person's text without control characters and lone surrogates, shortened with an ellipsis.

    Signs that turn the direction of what follows are dropped: they could make one figure read as another.
    """
    long = text[: 4 * longest]
    tidy = "".join(" " if unicodedata.category(sign) in ("Cc", "Cs", "Cn") else sign for sign in long)
    tidy = "".join(sign for sign in tidy if sign not in _TURNING)
    return tidy if len(tidy) <= longest else tidy[: longest - 1] + "…"


def escaped(text: str, longest: int = 4000) -> str:
    """The same for a paragraph, where < and & would begin markup."""
    return escape(shown(text, longest))


def _style(name: str, size: float, **more: Any) -> ParagraphStyle:
    usual: dict[str, Any] = {"fontName": REGULAR, "fontSize": size, "leading": 1.32 * size, "textColor": INK}
    return ParagraphStyle(name, **(usual | more))


TITLE = _style("title", 19, fontName=BOLD, spaceAfter=3)
SUBTITLE = _style("subtitle", 10.5, spaceAfter=8, textColor=HexColor("#44505e"))
HEADING = _style("heading", 13, fontName=BOLD, spaceBefore=4, spaceAfter=5, keepWithNext=1)
SUBHEADING = _style("subheading", 9.5, fontName=BOLD, spaceBefore=8, spaceAfter=3, keepWithNext=1)
BODY = _style("body", 8.8, spaceAfter=4)
CELL = _style("cell", 8)
CELL_BOLD = _style("cell-bold", 8, fontName=BOLD)
SMALL = _style("small", 7.2)
FIGURE = _style("figure", 8, alignment=2)
FIGURE_HEAD = _style("figure-head", 8, fontName=BOLD, alignment=2)
CAPTION = _style("caption", 7.8, alignment=1, spaceBefore=4)


def paragraph(text: str, style: ParagraphStyle = BODY, longest: int = 4000) -> Paragraph:
    """A paragraph of plain text: nothing in it is markup."""
    return Paragraph(escaped(text, longest), style)


def cell(text: str, style: ParagraphStyle = CELL) -> Paragraph:
    """A paragraph for a table, where no row may outgrow its page."""
    return paragraph(text, style, longest=300)


def grid(
    rows: list[list[Any]], widths: list[float], heading: bool = True, ruled: bool = True, more: Sequence[Any] = ()
) -> Table:
    """A table, with thin rules unless it only keeps things side by side; its heading is repeated on each page."""
    style: list[Any] = [
        ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 3 * ruled),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3 * ruled),
        ("TOPPADDING", (0, 0), (-1, -1), 2.2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.6),
    ]
    if ruled:
        style.append(("LINEBELOW", (0, 0), (-1, -1), 0.25, RULE))
    if heading:
        style += [("LINEBELOW", (0, 0), (-1, 0), 0.9, INK), ("VALIGN", (0, 0), (-1, 0), "BOTTOM")]
    table = Table(rows, colWidths=widths, repeatRows=int(heading), style=TableStyle([*style, *more]))
    table.hAlign = "LEFT"
    return table


@dataclass(frozen=True)
class About:
    """What a document says of itself, on its pages and in its properties."""

    title: str
    kind: str
    """Kind, number and revision."""
    author: str
    program: str


def fitted(text: str, size: float, room: float) -> str:
    """A text shortened with an ellipsis to the room it has, points."""
    short = shown(text, 200)
    while short and text_width(short, size) > room:
        short = short[:-2].rstrip() + "…"
    return short


class Document(BaseDocTemplate):
    """Upright and lying pages with header, footer and "page n of m". Its story ends with a :class:`PageTotal`."""

    def __init__(self, stream: IO[bytes], paper: Paper, about: About, frozen: bool) -> None:
        self._about, self._bookmarks = about, 0
        super().__init__(
            stream,
            pagesize=(paper.width, paper.height),
            title=shown(about.title, 300),
            author=shown(about.author, 300),
            subject=shown(f"{about.kind}: transom dimensions with their uncertainty", 300),
            keywords=["transom", "dimensions", "uncertainty"],
            creator=about.program,
            producer=about.program,
            lang="en",
            initialFontName=REGULAR,
            invariant=int(frozen),
            pageCompression=1,
        )
        self.addPageTemplates([self._template("upright", paper.width, paper.height)])
        self.addPageTemplates([self._template("lying", paper.height, paper.width)])

    def _template(self, name: str, width: float, height: float) -> PageTemplate:
        frame = Frame(MARGIN, EDGE, width - 2 * MARGIN, height - 2 * EDGE, 0, 0, 0, 0, id=name)
        return PageTemplate(
            name, [frame], onPage=lambda canvas, _: self._furniture(canvas, width, height), pagesize=(width, height)
        )

    def _furniture(self, canvas: Canvas, width: float, height: float) -> None:
        """What stands at the edge of every page."""
        canvas.saveState()
        canvas.setFillColor(INK)
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.4)
        canvas.line(MARGIN, height - 14 * mm, width - MARGIN, height - 14 * mm)
        canvas.line(MARGIN, 13.5 * mm, width - MARGIN, 13.5 * mm)
        canvas.setFont(REGULAR, _SMALL_PRINT)
        room = width - 2 * MARGIN
        kind = fitted(self._about.kind, _SMALL_PRINT, 0.42 * room)
        title = fitted(self._about.title, _SMALL_PRINT, 0.55 * room)
        canvas.drawString(MARGIN, height - 12.3 * mm, title)
        canvas.drawRightString(width - MARGIN, height - 12.3 * mm, kind)
        canvas.drawString(MARGIN, 10 * mm, self._about.program)
        canvas.drawCentredString(width / 2, 10 * mm, CHECK_FIRST)
        _number_page(canvas, width - MARGIN, 10 * mm)
        canvas.restoreState()

    def afterFlowable(self, flowable: Flowable) -> None:
        """Give each heading its bookmark."""
        if isinstance(flowable, Paragraph) and flowable.style.name in ("title", "heading"):
            self._bookmarks += 1
            key = f"part-{self._bookmarks}"
            self.canv.bookmarkPage(key)
            self.canv.addOutlineEntry(flowable.getPlainText(), key, level=0)


def write_document(story: Iterable[Flowable], path: Path, paper: Paper, about: About, frozen: bool) -> None:
    """
    Write a document as a PDF, whole before it takes its name.

    Raises
    ------
    ReportError
        If the file can't be written; an old one stays as it was.
    """
    whole = BytesIO()
    Document(whole, paper, about, frozen).build(list(story))
    with replacing(path, ReportError) as stream:
        stream.write(whole.getvalue())


class PageTotal(Flowable):
    """The end of a document: draws the number of its pages, which each page shows by name."""

    def wrap(self, *_: float) -> tuple[float, float]:
        """It takes no room."""
        return 0.0, 0.0

    def draw(self) -> None:
        """Called when the last page is reached."""
        self.canv.beginForm(_TOTAL, 0, 0, 40, 10)
        self.canv.setFillColor(INK)
        self.canv.setFont(REGULAR, _SMALL_PRINT)
        self.canv.drawString(0, 0, str(self.canv.getPageNumber()))
        self.canv.endForm()


def _number_page(canvas: Canvas, right: float, y: float) -> None:
    """Page n of m; m is known at the end only and stands in a form drawn then."""
    start = f"page {canvas.getPageNumber()} of "
    x = right - text_width(start + "00", _SMALL_PRINT)
    canvas.drawString(x, y, start)
    canvas.translate(x + text_width(start, _SMALL_PRINT), y)
    canvas.doForm(_TOTAL)
