"""The condition section and the kinds of report, read back by a PDF library that did not write them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from digitizer.job.model import PaperSize, Reader, Settings
from digitizer.reports.condition import LIMITS, condition_contents
from digitizer.reports.condition_maps import Scale, location_drawing, meter_map, sounding_map
from digitizer.reports.paper import text_width
from digitizer.reports.pdf import write_report
from digitizer.reports.sheet import Disc, Label, Sheet, Stroke
from tests.reports.a_condition import AREA, a_damaged_job, a_damaged_survey, a_defect, readings
from tests.reports.a_survey import a_picture

PICTURES = {"photo_1": a_picture(), "near": a_picture()}


def text_of(reader: PdfReader) -> str:
    """All text, each run of white space as one blank."""
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[Reader, PdfReader]:
    """One job as each kind of report, the owner's on Letter."""
    folder = tmp_path_factory.mktemp("kinds")
    out = {}
    for reader in Reader:
        paper = PaperSize.LETTER if reader is Reader.OWNER else PaperSize.A4
        job = a_damaged_job(settings=Settings(paper=paper))
        path = folder / f"{reader}.pdf"
        write_report(a_damaged_survey(), job, PICTURES, path, frozen_date="2025-05-07", reader=reader)
        out[reader] = PdfReader(path)
    return out


@pytest.fixture(scope="module")
def record(written: dict[Reader, PdfReader]) -> str:
    """Text of the survey record."""
    return text_of(written[Reader.SURVEY])


HELD = {
    Reader.SHOP: {"Dimension drawing", "Fitting schedule", "Flattened to the face", "Where the uncertainty"},
    Reader.OWNER: {"Photo with its marks", "Dimensions", "Still needed", "Findings"},
    Reader.SURVEY: {"Condition survey", "Where the damage is", "Photo log", "Fitting schedule", "Close-ups"},
}


@pytest.mark.parametrize("reader", list(Reader))
def test_each_reader_gets_the_parts_that_are_theirs(written: dict[Reader, PdfReader], reader: Reader) -> None:
    """What a kind holds is bookmarked, and only a survey record speaks of the condition."""
    titles = [str(each.title) for each in written[reader].outline]  # type: ignore[union-attr]
    missing = {
        part for part in HELD[reader] | {"Cautions", "Signatures"} if not any(t.startswith(part) for t in titles)
    }
    assert missing == set()
    assert ("Condition survey" in titles) == (reader is Reader.SURVEY)
    assert any(t.startswith("Flattened") for t in titles) == (reader is not Reader.OWNER)


@pytest.mark.parametrize("reader", list(Reader))
def test_number_and_revision_stand_on_every_page(written: dict[Reader, PdfReader], reader: Reader) -> None:
    """Each page names kind, number and revision, and the properties too."""
    names = {Reader.SHOP: "Shop sheet", Reader.OWNER: "Owner's check", Reader.SURVEY: "Survey record"}
    document = f"{names[reader]} SV-17, revision B"
    assert all(document in re.sub(r"\s+", " ", page.extract_text()) for page in written[reader].pages)
    assert written[reader].metadata is not None
    assert document in str(written[reader].metadata.subject)


@pytest.mark.parametrize(
    "words",
    [
        "213.7 ± 3.2 mm",
        "312 ± 14 cm²",
        "681 ± 12 mm round it",
        "the crack",
        "wet area",
        "open at its lower end",
        "A first priority",
        "30 readings on its own scale (relative, 0 to 100)",
        "control reading: 9 on the topside",
        "10 sharp, 10 dull, 10 dead",
        "inside of the transom",
        "hull ashore 3 days",
        "by the drain",
        "near.jpg: D1",
        "taken 2025-05-06 11:00:00",
        "Surveyed by",
        *LIMITS,
    ],
)
def test_survey_record_says(record: str, words: str) -> None:
    """Sizes with U, the surveyor's words, the meter's own scale and the limits are read back."""
    assert words in record


def test_every_fingerprint_stands_in_the_log(written: dict[Reader, PdfReader]) -> None:
    """Measured photos and close-ups alike."""
    whole = re.sub(r"\s", "", text_of(written[Reader.SURVEY]))
    assert [
        p.sha256 for p in (*a_damaged_survey().photos, *a_damaged_survey().close_ups) if p.sha256 not in whole
    ] == []


def test_nothing_stated_is_said() -> None:
    """An empty heading is not left out: a reader must see that nothing was stated."""
    said = condition_contents(a_damaged_survey(), a_damaged_job(document=replace(a_damaged_job().document, limits="")))
    assert dict(said.stated)["Further limits"] == "Nothing was stated."


def overlapping(sheet: Sheet) -> list[tuple[str, str]]:
    """Pairs of texts that lie on one another, and texts that leave the sheet."""
    labels = [item for item in sheet.items if isinstance(item, Label)]
    boxes = [sheet.box(label) for label in labels]
    pairs = []
    for i, (a, one) in enumerate(zip(boxes, labels, strict=True)):
        if a[0] < 0 or a[1] < 0 or a[2] > sheet.width or a[3] > sheet.height:
            pairs.append((one.text, "edge"))
        for b, other in zip(boxes[:i], labels, strict=False):
            if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]:
                pairs.append((one.text, other.text))
    return pairs


@pytest.mark.parametrize("step", [150.0, 60.0, 45.0], ids=lambda step: f"every-{step:g}mm")
def test_readings_close_together_stay_readable(step: float) -> None:
    """Thirty readings: no figure on another, each inside the sheet."""
    sheet = Sheet(740.0, 430.0, text_width)
    own = [r for r in readings(step=step) if r.value is not None]
    meter_map(a_damaged_survey(), own, Scale(0.0, 100.0), "mm", sheet)
    assert overlapping(sheet) == []
    shown = {item.text for item in sheet.items if isinstance(item, Label)}
    assert {f"{r.value:g}" for r in own} <= shown


def test_darker_is_higher_on_the_meters_scale() -> None:
    """Grey of the discs follows the readings, and the highest is still light enough for its figure."""
    sheet = Sheet(740.0, 430.0, text_width)
    meter_map(a_damaged_survey(), [r for r in readings() if r.value is not None], Scale(0.0, 100.0), "mm", sheet)
    greys = [item.fill for item in sheet.items if isinstance(item, Disc) and item.fill is not None][:30]
    assert greys == sorted(greys, reverse=True)
    assert min(greys) >= 0.4


def test_many_defects_keep_their_numbers_apart() -> None:
    """Thirty small areas side by side, each with its number on nobody else's."""
    small = [
        a_defect(
            f"b{n}", tuple((x / 4 + 55.0 * (n % 10) - 250.0, y / 4 + 55.0 * (n // 10) + 400.0) for x, y in AREA), True
        )
        for n in range(30)
    ]
    sheet = Sheet(740.0, 430.0, text_width)
    location_drawing(a_damaged_survey(defects=tuple(small)), "mm", sheet)
    assert [pair for pair in overlapping(sheet) if pair[0].startswith("D")] == []


def test_sounds_differ_in_shape() -> None:
    """A ring, a crossed ring and a full disc, so that grey paper tells them."""
    sheet = Sheet(740.0, 430.0, text_width)
    before = Sheet(740.0, 430.0, text_width)
    taps = [r for r in readings(3) if r.sound is not None]
    sounding_map(a_damaged_survey(), taps, "mm", sheet)
    sounding_map(a_damaged_survey(), [], "mm", before)
    added = sheet.items[len(before.items) :]
    assert [type(item) for item in added] == [Disc, Disc, Stroke, Stroke, Disc]
    assert [item.fill for item in added if isinstance(item, Disc)] == [1.0, 1.0, 0.0]


def test_grid_counts_inches_where_the_job_does() -> None:
    """A job in inches has its grid every four of them."""
    sheet = Sheet(740.0, 430.0, text_width)
    location_drawing(a_damaged_survey(), "in/16", sheet)
    shown = {item.text for item in sheet.items if isinstance(item, Label)}
    assert {"4", "8", "36"} <= shown


def test_same_job_gives_the_same_bytes(tmp_path: Path) -> None:
    """With a frozen date a survey record is the same file each time."""
    for name in ("one.pdf", "two.pdf"):
        write_report(
            a_damaged_survey(photos=()), a_damaged_job(), {}, tmp_path / name, frozen_date="2025-05-07",
            reader=Reader.SURVEY,
        )  # fmt: skip
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
