"""The help as files: complete, linked, found by its words, and its drawings as their script draws them."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from PySide6.QtCore import QByteArray
from PySide6.QtGui import QImage, QPainter
from PySide6.QtSvg import QSvgRenderer

from digitizer.app import help_pages
from digitizer.app.help_pages import (
    DRAWINGS,
    drawing_of_mark,
    drawing_of_step,
    help_page,
    page_names,
    page_of_step,
    searched,
)
from digitizer.job.model import MarkKind
from digitizer.survey.steps import StepName

TREE = Path(__file__).parents[2]
OWN = sorted((TREE / "docs" / "help").glob("*.md"))


@pytest.fixture(scope="module")
def script() -> ModuleType:
    """The script that draws, which lies outside the package."""
    spec = importlib.util.spec_from_file_location("make_drawings", TREE / "docs/images/make_drawings.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", page_names())
def test_every_page_is_there_with_its_title(name: str) -> None:
    """Each page of the contents exists and begins with a heading."""
    page = help_page(name)
    assert page is not None
    assert page.title


@pytest.mark.parametrize("step", StepName)
def test_every_step_has_its_page_and_drawing(step: StepName) -> None:
    """No line of the job card is left unexplained."""
    assert page_of_step(step) in page_names()
    assert (DRAWINGS / f"{drawing_of_step(step)}.svg").is_file()


@pytest.mark.parametrize("kind", MarkKind)
def test_every_kind_of_mark_has_its_drawing(kind: MarkKind) -> None:
    """Whatever may be clicked is drawn once."""
    assert (DRAWINGS / f"{drawing_of_mark(kind)}.svg").is_file()


def test_no_page_is_left_out_of_the_contents() -> None:
    """A page in the folder of the help can be reached."""
    assert {path.stem for path in OWN} <= set(page_names())


@pytest.mark.parametrize("page", OWN, ids=lambda path: path.stem)
def test_pages_speak_calmly_and_describe_their_drawings(page: Path) -> None:
    """No exclamation marks, and each drawing says in words what it shows."""
    text = page.read_text(encoding="utf-8")
    assert "!" not in text.replace("![", "")
    assert all(words for words in re.findall(r"!\[([^\]]*)\]", text))


@pytest.mark.parametrize("page", OWN, ids=lambda path: path.stem)
def test_links_between_pages_are_pages_of_the_help(page: Path) -> None:
    """Every link leads to a page that the installed help has too."""
    links = re.findall(r"(?<!!)\[[^\]]*\]\(([^)#]+)", page.read_text(encoding="utf-8"))
    assert [link for link in links if help_page(Path(link).stem) is None] == []


def test_page_outside_the_help_is_none() -> None:
    """A link into the rest of the documentation, or out of the folder, finds nothing."""
    assert help_page("bibliography") is None
    assert help_page("../index") is None


def test_search_finds_the_section() -> None:
    """A word of the trade leads to the section it heads first, then to those that mention it."""
    hits = searched("chines")
    assert (hits[0].page, hits[0].heading) == ("bottom", "Chines")
    assert {"outline", "bottom"} >= {hit.page for hit in hits if hit.heading == "Chines"}
    assert all("chine" in f"{hit.heading} {hit.excerpt}".casefold() for hit in hits)


@pytest.mark.parametrize("words", ["", "   ", "zanzibar", "keel zanzibar"])
def test_search_without_a_hit_is_empty(words: str) -> None:
    """Nothing asked or nothing there gives nothing."""
    assert searched(words) == ()


def test_excerpt_shows_the_word_without_marks_of_markdown() -> None:
    """What is shown of a hit reads as plain text round the word."""
    for hit in searched("string"):
        assert not re.search(r"[*`\[\]]", hit.excerpt)
        assert len(hit.excerpt) < 200


def rendered(svg: str) -> np.ndarray:
    """Grey picture of a drawing, (180, 320)."""
    picture = QImage(320, 180, QImage.Format.Format_Grayscale8)
    picture.fill(255)
    painter = QPainter(picture)
    QSvgRenderer(QByteArray(svg.encode())).render(painter)
    painter.end()
    return np.frombuffer(picture.constBits(), dtype=np.uint8).reshape(180, 320).astype(float)


@pytest.mark.usefixtures("qapp")
def test_drawings_are_as_their_script_draws_them(script: ModuleType) -> None:
    """The files in the package are neither stale nor edited by hand; compared by their looks."""
    drawn = script.everything()
    kept = {path.name: path.read_text(encoding="utf-8") for path in DRAWINGS.glob("*.svg")}
    assert kept.keys() == drawn.keys()
    for name, text in kept.items():
        ink = rendered(text)
        assert ink.std() > 5, name  # grey levels: something is drawn at all
        assert np.abs(ink - rendered(drawn[name])).mean() < 0.05, name  # grey levels: the ends of lines may differ


def test_help_works_without_a_window_toolkit() -> None:
    """Pages are plain files: the module that finds them imports no Qt."""
    assert "PySide6" not in Path(help_pages.__file__).read_text(encoding="utf-8")
