"""A dimension is chosen: the marks it rests on light up by their share, and the list tells it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QPainter, QPainterPath
from PySide6.QtTest import QTest

from digitizer.app.canvas import symbols
from digitizer.app.canvas.layers import influence_ring
from digitizer.app.window import Window
from digitizer.job import edits
from digitizer.survey.influence import influences
from tests.app.conftest import wait_for


def choose(window: Window, code: str) -> None:
    """Click a dimension in the table."""
    wait_for(lambda: window.document.is_measured)
    rows = window.sheet.model.rows
    window.sheet.table.clearSelection()
    window.sheet.table.selectRow(next(i for i, r in enumerate(rows) if r.dimension and r.dimension.code == code))


def rings(window: Window, monkeypatch: pytest.MonkeyPatch) -> list[tuple[float, float]]:
    """Radius and width of what is drawn in the colour of chosen things, largest first."""
    drawn = []

    def note(painter: QPainter, path: QPainterPath, look: symbols.Look) -> None:
        if look.core == symbols.CHOSEN:
            drawn.append((path.boundingRect().width() / 2, look.width))

    monkeypatch.setattr(symbols, "draw_path", note)
    window.canvas.grab()
    monkeypatch.undo()
    return sorted(drawn, reverse=True)


def test_marks_that_hold_most_of_the_variance_are_lit(opened: Window) -> None:
    """The keel and the chine of a deadrise lead; each has the share that the survey gives it."""
    choose(opened, "deadrise_chord_port")
    lit, live = opened.document.lit, opened.surveyor.live()
    assert live is not None
    shares = {each.subject: each.share for each in influences(live, "deadrise_chord_port") if each.kind == "mark"}
    assert {"keel", "chine_inner_port"} <= set(lit)
    assert all(lit[mark] == shares[mark] for mark in lit)
    assert min(lit.values()) >= max((share for mark, share in shares.items() if mark not in lit), default=0.0)


def test_marks_beyond_those_it_was_made_from_are_lit_too(opened: Window) -> None:
    """The beam is made from the chines, and rests on the rule's ends as well."""
    choose(opened, "chine_beam")
    assert set(opened.document.selection) == {"chine_port", "chine_starboard"}
    assert {"rule_start", "rule_end"} <= set(opened.document.lit)


def test_rings_are_larger_and_thicker_for_a_larger_share(opened: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """Strength shows without colour."""
    choose(opened, "chine_beam")
    expected = sorted((influence_ring(share) for share in opened.document.lit.values()), key=lambda r: -r[0])
    drawn = rings(opened, monkeypatch)
    assert [radius for radius, _ in drawn] == pytest.approx([radius for radius, _ in expected], rel=2e-3)
    assert [width for _, width in drawn] == pytest.approx([look.width for _, look in expected])


def test_list_tells_every_percent(opened: Window) -> None:
    """Shares that are shown sum to 100 %, to the rounding of each line."""
    choose(opened, "chine_beam")
    table = opened.sheet.made_from.words().split("<table")[1]
    shares = [int(figure) for figure in re.findall(r"(\d+)%", table)]
    assert sum(shares) == pytest.approx(100, abs=len(shares) / 2)
    assert "per px" in table
    assert 'href="chine_port"' in table


def test_name_in_the_list_leads_to_its_mark(opened: Window) -> None:
    """A click on it shows the mark."""
    choose(opened, "chine_beam")
    opened.sheet.made_from.subject_asked.emit("rule_end")
    assert opened.document.selection == ("rule_end",)
    assert opened.document.lit  # the rings stay, so that one sees what to move


def test_click_beside_everything_puts_the_rings_out(opened: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is chosen, nothing is lit."""
    choose(opened, "chine_beam")
    opened.canvas.arm(None)
    QTest.mouseClick(opened.canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(5, 5))
    assert opened.document.lit == {}
    assert rings(opened, monkeypatch) == []


def test_shares_are_those_of_the_latest_measurement(opened: Window) -> None:
    """A blunter click has a larger share once the job is measured again."""
    choose(opened, "deadrise_chord_port")
    before = opened.document.lit["keel"]
    job = opened.document.job
    mark = edits.mark_of(job, "keel")
    opened.document.edit("Blunter", edits.with_mark_moved(job, "keel", mark.x_px, mark.y_px, 3.0))
    wait_for(lambda: opened.document.is_measured)
    assert opened.document.lit["keel"] > before + 0.2


def test_list_waits_for_a_held_mark_to_rest(opened: Window) -> None:
    """While it moves the text stays, which takes longer than a frame to lay out; at rest it is told anew."""
    choose(opened, "chine_beam")
    before = opened.sheet.made_from.words()
    job = opened.document.job
    mark = edits.mark_of(job, "chine_port")
    opened.document.preview(edits.with_mark_moved(job, "chine_port", mark.x_px - 40.0, mark.y_px))
    assert not opened.document.answer.is_full
    assert opened.sheet.made_from.words() == before
    wait_for(lambda: opened.sheet.made_from.words() != before)
    opened.document.preview(None)
    opened.document.edit("Back", replace(job, title="as it was"))
    wait_for(lambda: opened.document.is_measured and opened.sheet.made_from.words() == before)
