"""The help's pages and drawings as files: inside the package once installed, under `docs` in a checkout. No Qt."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from digitizer.job.model import MarkKind
from digitizer.survey.steps import StepName

DRAWINGS = Path(__file__).parent / "drawings"
_INSTALLED = Path(__file__).parent / "help"
_DOCS = Path(__file__).parents[2] / "docs"
_HOMES = (_INSTALLED, _DOCS / "help", _DOCS / "how-to", _DOCS / "reference")
_OTHERS = (
    "index",
    "condition",
    "planning",
    "sample",
    "marking",
    "photograph-a-transom",
    "calibrate-a-camera",
    "words",
    "glossary",
    "keyboard",
)


@dataclass(frozen=True)
class HelpPage:
    """A page of the help in Markdown; `name` is its file without the ending."""

    name: str
    title: str
    text: str

    def sections(self) -> Iterator[tuple[str, str]]:
        """Each heading with the text under it."""
        parts = re.split(r"^#+ (.+)$", self.text, flags=re.MULTILINE)
        yield from zip(parts[1::2], parts[2::2], strict=True)


@dataclass(frozen=True)
class Hit:
    """A place that a search found."""

    page: str
    title: str
    heading: str
    excerpt: str


def page_of_step(step: StepName) -> str:
    """Name of the page that explains a step."""
    return step.value.replace(" ", "-")


def drawing_of_step(step: StepName) -> str:
    """Name of the drawing that shows a step."""
    return f"step-{page_of_step(step)}"


def drawing_of_mark(kind: MarkKind) -> str:
    """Name of the drawing that shows what to click for a kind of mark."""
    return f"mark-{kind.value}"


def page_names() -> tuple[str, ...]:
    """All pages in the order of the contents."""
    first, *rest = _OTHERS
    return (first, *(page_of_step(step) for step in StepName), *rest)


@cache
def help_page(name: str) -> HelpPage | None:
    """The page of that name; None where there is none, as for a link into the rest of the documentation."""
    if name not in page_names():
        return None
    file = next((home / f"{name}.md" for home in _HOMES if (home / f"{name}.md").is_file()), None)
    if file is None:
        return None
    text = file.read_text(encoding="utf-8")
    return HelpPage(name, text.partition("\n")[0].removeprefix("# ").strip(), text)


def searched(words: str) -> tuple[Hit, ...]:
    """Sections that hold all the words, those with a word in their heading first."""
    wanted = words.casefold().split()
    hits = [hit for name in page_names() if wanted for hit in _hits(name, wanted)]
    return tuple(sorted(hits, key=lambda hit: not any(word in hit.heading.casefold() for word in wanted)))


def _hits(name: str, wanted: list[str]) -> Iterator[Hit]:
    page = help_page(name)
    for heading, text in page.sections() if page else ():
        plain = _plain(text)
        if all(word in f"{heading} {plain}".casefold() for word in wanted):
            yield Hit(name, page.title if page else "", heading, _excerpt(plain, wanted))


def _plain(text: str) -> str:
    """Text without the marks of Markdown."""
    text = re.sub(r"!\[[^\]]*\]\([^)]*\)", " ", text)
    text = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", text)
    text = re.sub(r"^ *(?:[-*]|\d+\.) ", " ", text, flags=re.MULTILINE)
    return " ".join(re.sub(r"[*`|#]|-{3,}", " ", text).split())


def _excerpt(plain: str, wanted: list[str], reach: int = 40) -> str:
    at = next((found for word in wanted if (found := plain.casefold().find(word)) >= 0), 0)
    start, end = max(0, at - reach), min(len(plain), at + 2 * reach)
    return f"{'…' if start else ''}{plain[start:end].strip()}{'…' if end < len(plain) else ''}"
