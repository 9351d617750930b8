"""
What can be handed over, what would become of each file, and the writing of them. No Qt.

Every file is written whole before it takes its name, so that giving up in between leaves nothing half done.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from digitizer.errors import DigitizerError, ReportError
from digitizer.files import made_folder
from digitizer.job.model import Job, LengthUnit
from digitizer.job.saving import BUNDLE_SUFFIX, write_copy
from digitizer.job.shelf import PhotoShelf
from digitizer.reports.destinations import Kind, check_destination
from digitizer.survey.model import Survey

if TYPE_CHECKING:
    from digitizer.reports.cutting import Drawing


class Product(StrEnum):
    """A file that somebody may want."""

    REPORT = "report"
    DIMENSIONS = "dimensions"
    OFFSETS = "offsets"
    DXF = "dxf"
    SVG = "svg"
    TEMPLATE = "template"
    SURVEY = "survey"
    JOB = "job"


class Fate(StrEnum):
    """What writing a file would do."""

    NEW = "new"
    REPLACES = "replaces"
    REFUSED = "refused"


@dataclass(frozen=True)
class Planned:
    """A file that would be written, and what would become of one that is there."""

    product: Product
    path: Path
    fate: Fate
    words: str
    """The fate as a person reads it: "new file", or why it is refused."""


@dataclass(frozen=True)
class Written:
    """A file that was written; or, with a `problem`, was not."""

    product: Product
    path: Path
    size_bytes: int = 0
    pages: int | None = None
    problem: str = ""


@dataclass(frozen=True)
class Material:
    """What the files are made from: a finished survey, its job and the photos."""

    survey: Survey
    job: Job
    shelf: PhotoShelf

    @cached_property
    def pictures(self) -> dict[str, Any]:
        """The photos that were measured, by id, developed once for all files that need them."""
        from digitizer.imaging.photo import rgb_pixels

        active = (photo for photo in self.job.photos if photo.active)
        return {photo.id: rgb_pixels(self.shelf.data(photo), photo.file) for photo in active}

    @cached_property
    def drawing(self) -> Drawing:
        """The cutting drawing, made once for all files that show it."""
        from digitizer.reports.cutting import cutting_drawing

        return cutting_drawing(self.survey, self.job, self.job.settings.unit)


class Watcher(Protocol):
    """Who is told while files are written, on the thread that writes."""

    def working(self, words: str, done: int, total: int) -> None:
        """The next file begins; raises ``InterruptedError`` to stop before it."""

    def wrote(self, file: Written) -> None:
        """A file is whole, or was refused."""


@dataclass(frozen=True)
class _Offer:
    ending: str
    kind: Kind
    words: str
    write: Callable[[Material, Path], Sequence[DigitizerError] | None]


def file_stem(title: str) -> str:
    """A name for files from a job's title, with what file systems refuse left out."""
    name = re.sub(r'[\x00-\x1f<>:"/\\|?*]+', " ", title)
    return " ".join(name.split()).strip(". ")[:80] or "transom"


def fault_of_stem(stem: str) -> str:
    """What is wrong with a name for files; empty where nothing is."""
    if not stem.strip():
        return "a name is needed"
    return "" if file_stem(stem) == stem else 'leave out < > : " / \\ | ? * and a dot at the end'


def planned(
    folder: Path, stem: str, products: Collection[Product], sources: Collection[Path] = ()
) -> tuple[Planned, ...]:
    """
    Each file that would be written to `folder`, and its fate.

    Parameters
    ----------
    stem
        What the files' names begin with.
    sources
        The job's own file and photos, which nothing may replace; see `sources_of`.
    """
    barred = _barred(folder)
    return tuple(
        _planned(product, folder / f"{stem}{_OFFERS[product].ending}", sources, barred)
        for product in Product
        if product in products
    )


def sources_of(job: Job, shelf: PhotoShelf) -> tuple[Path, ...]:
    """The files that an open job is made of."""
    loose = tuple(shelf.loose.values())
    if shelf.job_file is None:
        return loose
    beside = () if shelf.job_file.bundled else tuple(shelf.job_file.path.parent / photo.file for photo in job.photos)
    return (shelf.job_file.path, *loose, *beside)


def hand_over(plan: Sequence[Planned], material: Material, watcher: Watcher) -> None:
    """
    Write the planned files one after the other; one that can't be written is told and stops none of the others.

    Raises
    ------
    InterruptedError
        From the watcher, between two files.
    """
    wanted = [each for each in plan if each.fate is not Fate.REFUSED]
    for done, each in enumerate(wanted):
        watcher.working(_OFFERS[each.product].words, done, len(wanted))
        watcher.wrote(_write(each, material))


def described(product: Product) -> str:
    """What a product is, in a few words."""
    return _OFFERS[product].words


def counted_pages(pdf: bytes) -> int:
    """Pages of a PDF of ours, whose page records are not compressed."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def _planned(product: Product, path: Path, sources: Collection[Path], barred: str) -> Planned:
    if barred:
        return Planned(product, path, Fate.REFUSED, barred)
    try:
        check_destination(path, _OFFERS[product].kind, sources)
    except DigitizerError as refused:
        return Planned(product, path, Fate.REFUSED, getattr(refused, "reason", str(refused)))
    if path.is_dir():
        return Planned(product, path, Fate.REFUSED, "this is a folder: choose another name")
    if not path.exists():
        return Planned(product, path, Fate.NEW, "new file")
    changed = datetime.fromtimestamp(path.stat().st_mtime)
    return Planned(product, path, Fate.REPLACES, f"replaces the one of {changed:%Y-%m-%d %H:%M}")


def _barred(folder: Path) -> str:
    """Why nothing can be written to a folder; empty where something can."""
    if folder.is_dir():
        return "" if os.access(folder, os.W_OK | os.X_OK) else "writing is not allowed in this folder"
    if folder.exists():
        return "this is a file, not a folder"
    above = next((each for each in folder.absolute().parents if each.exists()), None)
    if above is None or not above.is_dir() or not os.access(above, os.W_OK | os.X_OK):
        return "this folder can't be made"
    return ""


def _write(each: Planned, material: Material) -> Written:
    try:
        made_folder(each.path.parent, ReportError)
        lacking = _OFFERS[each.product].write(material, each.path)
        size = each.path.stat().st_size
    except (DigitizerError, OSError) as problem:
        return Written(each.product, each.path, problem=str(problem))
    pages = counted_pages(each.path.read_bytes()) if each.path.suffix == ".pdf" else None
    told = "; ".join(f"written without a photo: {photo}" for photo in lacking or ())
    return Written(each.product, each.path, size, pages, told)


def _report(material: Material, path: Path) -> None:
    from digitizer.reports.pdf import write_report

    write_report(material.survey, material.job, material.pictures, path)


def _survey(material: Material, path: Path) -> None:
    from digitizer.reports.table import write_survey_json

    write_survey_json(material.survey, path)


def _dimensions(material: Material, path: Path) -> None:
    from digitizer.reports.table import write_dimensions_csv

    write_dimensions_csv(material.survey, path)


def _offsets(material: Material, path: Path) -> None:
    from digitizer.reports.offset_table import write_offsets_csv

    write_offsets_csv(material.survey, path)


def _dxf(material: Material, path: Path) -> None:
    """In the job's own unit, which the file declares."""
    from digitizer.reports.dxf import write_dxf

    write_dxf(material.drawing, path, inches=material.job.settings.unit is not LengthUnit.MILLIMETRE)


def _svg(material: Material, path: Path) -> None:
    from digitizer.reports.svg import write_svg

    write_svg(material.drawing, path)


def _template(material: Material, path: Path) -> None:
    """On the job's own paper, for a printer that needs no correction."""
    from digitizer.reports.template import sheet_paper, write_template

    write_template(material.drawing, path, sheet_paper(material.job.settings.paper))


def _job(material: Material, path: Path) -> Sequence[DigitizerError]:
    return write_copy(material.job, material.shelf, path)


_OFFERS: dict[Product, _Offer] = {
    Product.REPORT: _Offer(".pdf", Kind.PDF, "Report (PDF)", _report),
    Product.DIMENSIONS: _Offer("-dimensions.csv", Kind.DIMENSIONS, "Figures for a spreadsheet (CSV)", _dimensions),
    Product.OFFSETS: _Offer("-offsets.csv", Kind.OFFSETS, "Offsets for a spreadsheet (CSV)", _offsets),
    Product.DXF: _Offer(".dxf", Kind.DXF, "Drawing for CAD and cutters (DXF)", _dxf),
    Product.SVG: _Offer(".svg", Kind.SVG, "Drawing at full size (SVG)", _svg),
    Product.TEMPLATE: _Offer("-template.pdf", Kind.PDF, "Template at full size, in sheets (PDF)", _template),
    Product.SURVEY: _Offer("-survey.json", Kind.SURVEY, "Everything, for another program (JSON)", _survey),
    Product.JOB: _Offer(BUNDLE_SUFFIX, Kind.BUNDLE, "The job with its photos, to go on with", _job),
}
