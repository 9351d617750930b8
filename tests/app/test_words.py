"""Texts that a user typed are never taken for markup on the screen."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from digitizer.app.document import Document
from digitizer.app.panels.job_card import JobCard
from digitizer.app.words import tip

HOSTILE = '<img src="file:///etc/passwd"><b>x'


@pytest.mark.parametrize("text", ["", "two\nlines", HOSTILE], ids=["nothing", "lines", "markup"])
def test_tips_show_what_was_typed(text: str) -> None:
    """A tip has our own paragraph and line breaks in it, and nothing of the user's."""
    assert "<img" not in tip(text)
    assert tip(text).count("<br>") == text.count("\n")


def test_job_card_takes_nothing_for_markup(qtbot: QtBot) -> None:
    """Each line that can hold words from the job shows them as they were typed."""
    card = JobCard(Document())
    qtbot.addWidget(card)
    rows = card._rows.values()
    for label in [label for row in rows for label in (row._words, row._head._holds)]:
        assert label.textFormat() is Qt.TextFormat.PlainText
