"""The report read back by other PDF libraries: text, figures, pages, metadata, fonts, pictures."""

import math
import re
import time
from dataclasses import replace
from functools import cache

import numpy as np
import pypdfium2
import pytest
from pypdf import PdfReader

from digitizer.errors import ReportError
from digitizer.job.model import Boat, Job, PaperSize
from digitizer.reports.contents import CAUTIONS
from digitizer.reports.pdf import write_report
from digitizer.survey.model import Finding, Severity
from tests.reports.a_survey import a_job, a_picture, a_survey

NASTY = '<b>&"<img src="file:///etc/passwd"/>\x00\x1b</para> ${x} 100 % \ud800'
GREEK, CYRILLIC = "Ωμέγα Θάλασσα", "Катер «Щука»"


def written(tmp_path, survey=None, job=None, photos=None, name="report.pdf"):
    path = tmp_path / name
    pictures = {"photo_1": a_picture()} if photos is None else photos
    write_report(survey or a_survey(), job or a_job(), pictures, path, frozen_date="2025-05-07")
    return path


@cache
def text_of(path):
    """All text, with each run of white space as one blank."""
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in PdfReader(path).pages))


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    return written(tmp_path_factory.mktemp("report"))


@pytest.mark.parametrize(
    "part",
    [
        "Dimension drawing",
        "Dimensions",
        "Fitting schedule",
        "Photo with its marks",
        "Flattened to the face",
        "Findings",
        "Where the uncertainty comes from",
        "Observations and checks",
        "Cautions",
    ],
)
def test_part_is_there_and_bookmarked(report, part):
    """Each part has its heading and a bookmark that leads to its page."""
    reader = PdfReader(report)
    page = next(reader.get_destination_page_number(each) for each in reader.outline if each.title.startswith(part))
    assert part in reader.pages[page].extract_text()


@pytest.mark.parametrize(
    "figure",
    [
        "18.42° ± 0.12°",
        "2120.2 ± 3.2",
        "888.0 ± 2.2",
        "690.0 ± 1.4",
        "2239.0 ± 3.0 mm",
        "−24.80 mm",
        "95 % between",
        "Scale 1:10",
        "2025-05-06",
        "2025-05-07",
        "J. Ostrevane",
        "Hollowell K2",
        "0.91 mm per pixel",
        "digitizer 0.1.0",
    ],
)
def test_figure_is_printed(report, figure):
    """Main dimensions, fittings, checks and cover facts are read back as they were measured."""
    assert figure in text_of(report)


def test_every_dimension_is_printed(report):
    """No dimension of the survey is missing from the paper, known code or not."""
    text = text_of(report)
    assert [each.label for each in a_survey().dimensions if each.label not in text] == []


def test_fingerprint_is_whole(report):
    """The SHA-256 survives its line breaks."""
    assert a_survey().photos[0].sha256 in re.sub(r"\s", "", text_of(report))


def test_every_caution_is_printed(report):
    """All cautions are there, and the first on every page."""
    assert [caution for caution in CAUTIONS if caution not in text_of(report)] == []
    assert all(CAUTIONS[0] in page.extract_text() for page in PdfReader(report).pages)


def test_pages_are_numbered(report):
    """Each page says which of how many it is."""
    pages = PdfReader(report).pages
    texts = [re.sub(r"\s+", " ", page.extract_text()) for page in pages]
    assert all(f"page {number} of" in text for number, text in enumerate(texts, start=1))
    assert len(pages) == 8


def test_total_of_pages_is_drawn(report):
    """The number of pages, known at the end only, appears on the first page for another reader too."""
    page = pypdfium2.PdfDocument(report)[0].get_textpage().get_text_range()
    assert "page 1 of" in page
    assert page.rstrip().endswith("8") or "of 8" in page


def test_metadata(report):
    """Title, author and program stand in the file."""
    data = PdfReader(report).metadata
    assert (data.title, data.author, data.creator) == (a_survey().title, "J. Ostrevane", "digitizer 0.1.0")


def test_every_font_is_embedded(report):
    """The file prints alike everywhere: each font used carries its own data."""
    fonts = {}
    for page in PdfReader(report).pages:
        for font in page["/Resources"]["/Font"].values():
            face = font.get_object()
            fonts[face["/BaseFont"]] = "/FontFile2" in face.get("/FontDescriptor", {})
    assert any(name.endswith("DejaVuSans") for name in fonts)
    assert all(fonts.values())


@pytest.mark.parametrize("text", [NASTY, GREEK, CYRILLIC], ids=["markup", "greek", "cyrillic"])
def test_what_people_typed_is_printed_as_typed(tmp_path, text):
    """Markup is not obeyed, and Greek and Cyrillic letters are there."""
    survey = a_survey()
    fittings = tuple(replace(each, name=text, kind="other") for each in survey.fittings)
    finding = Finding("x", Severity.SERIOUS, "x", f"{text} found")
    labelled = tuple(replace(each, label=text, note=text) for each in survey.dimensions)
    photo = replace(survey.photos[0], file=f"{text}.jpg", device=text, captured=text)
    survey = replace(survey, title=text, fittings=fittings, findings=(finding,), dimensions=labelled, photos=(photo,))
    boat = Boat(text, text, text, text, text)
    job = replace(a_job(), title=text, surveyor=text, date=text, note=text, boat=boat)
    found = text_of(written(tmp_path, survey, job))
    assert (text if text is not NASTY else '<b>&"<img src="file:///etc/passwd"/>') in found


@pytest.mark.parametrize(
    ("paper", "size"),
    [(PaperSize.A4, (210, 297)), (PaperSize.LETTER, (215.9, 279.4)), (PaperSize.A3, (297, 420))],
)
def test_paper(tmp_path, paper, size):
    """Upright pages have the size of the job's paper, the drawing lies across."""
    pages = PdfReader(written(tmp_path, job=a_job(paper=paper))).pages
    sizes = [tuple(round(float(edge) * 25.4 / 72, 1) for edge in page.mediabox[2:]) for page in pages]
    assert sizes[0] == pytest.approx(size, abs=0.1)  # mm
    assert sizes[1] == pytest.approx(size[::-1], abs=0.1)  # mm


def test_same_input_gives_the_same_bytes(tmp_path):
    """With a frozen date the report can be compared byte by byte."""
    assert written(tmp_path, name="a.pdf").read_bytes() == written(tmp_path, name="b.pdf").read_bytes()


@pytest.mark.parametrize("unit", ["in", "in/16"])
def test_inches(tmp_path, unit):
    """A job in inches prints inches on the drawing, in the table and in the schedule."""
    text = text_of(written(tmp_path, job=a_job(unit=unit)))
    assert {"in": "83.47 ± 0.13", "in/16": "83 1/2 ± 0.13"}[unit] in text
    assert "2120.2" not in text


def test_report_of_almost_nothing(tmp_path):
    """An empty job and a survey without marks, photos or dimensions still give a report that says so."""
    bare = dict.fromkeys(
        ("dimensions", "fittings", "points", "outline", "observations", "checks", "findings", "photos"), ()
    )
    text = text_of(written(tmp_path, a_survey(reference_line=None, title="", **bare), Job(), {}))
    assert "No fittings were marked" in text
    assert "chine beam" in text  # among what was not measured


def test_figures_that_are_not_numbers(tmp_path):
    """An unknown value or U is called unknown, and an unplaced fitting is left off the drawing."""
    survey = a_survey()
    lost = replace(survey.fittings[0], x=replace(survey.fittings[0].x, value=math.nan))
    wide = replace(survey.dimensions[0], u=math.inf, lower=-math.inf, upper=math.inf)
    survey = replace(survey, fittings=(lost, *survey.fittings[1:]), dimensions=(wide, *survey.dimensions[1:]))
    path = written(tmp_path, survey)
    assert "± unknown" in text_of(path)
    assert b"nan" not in b"".join(page.get_contents().get_data() for page in PdfReader(path).pages)


def test_missing_picture_is_said(tmp_path):
    """A photo that isn't at hand is named, the report goes on."""
    text = text_of(written(tmp_path, photos={}))
    assert "photo_1.jpg was not at hand" in text
    assert "Cautions" in text


def test_very_long_texts(tmp_path):
    """The longest texts a job may hold, without a blank to break at, stay on their pages."""
    endless = "W" * 4000
    survey = a_survey()
    survey = replace(
        survey,
        title=endless,
        findings=(Finding("x", Severity.SERIOUS, "x", endless),) * 3,
        fittings=tuple(replace(each, name=endless) for each in survey.fittings),
        dimensions=tuple(replace(each, label=endless, note=endless) for each in survey.dimensions),
    )
    job = replace(a_job(), note=endless, surveyor=endless, boat=Boat(*[endless] * 5))
    assert len(PdfReader(written(tmp_path, survey, job)).pages) < 60


def test_pages_render_and_are_grey_safe(report):
    """Every page has ink when rendered, also in grey."""
    for page in pypdfium2.PdfDocument(report):
        grey = page.render(scale=0.5, grayscale=True).to_numpy()
        assert (grey < 90).mean() > 0.0005


def test_nothing_is_drawn_beyond_the_margins(report):
    """A strip of 10 mm round every page stays white, so that any printer prints it all."""
    for page in pypdfium2.PdfDocument(report):
        grey = page.render(scale=1.0, grayscale=True).to_numpy().squeeze()
        strip = round(9 / 25.4 * 72)
        assert min(grey[:strip].min(), grey[-strip:].min(), grey[:, :strip].min(), grey[:, -strip:].min()) == 255


def test_full_size_photo_is_quick_and_small(tmp_path):
    """A report with a photo of 12 megapixels and 120 marks takes under 2 s and 3 MB."""
    noise = np.random.default_rng(7).integers(0, 255, (300, 400, 3), dtype=np.uint8)
    picture = np.kron(noise, np.ones((10, 10, 1), dtype=np.uint8))
    written(tmp_path)  # fonts and libraries are loaded
    start = time.process_time()
    path = written(tmp_path, photos={"photo_1": picture})
    assert time.process_time() - start < 2.0  # s of this process, so that a busy machine does no harm
    assert path.stat().st_size < 3e6


def test_old_report_stays_when_the_new_one_fails(tmp_path, monkeypatch):
    """A full disk leaves the old report as it was."""
    path = written(tmp_path)
    old = path.read_bytes()

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(ReportError, match="disk is full"):
        written(tmp_path, job=a_job(unit="in"))
    assert path.read_bytes() == old


def test_folder_that_is_not_there(tmp_path):
    """The destination is named in the refusal."""
    with pytest.raises(ReportError, match=r"nowhere.*folder"):
        write_report(a_survey(), a_job(), {}, tmp_path / "nowhere" / "r.pdf")
