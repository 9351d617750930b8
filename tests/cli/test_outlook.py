"""A job with a board in its photo and no mark: what the photo can reach is said all the same."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from digitizer.cli.main import main
from digitizer.samples import sample_job


@pytest.fixture
def unmarked(tmp_path: Path) -> Path:
    """The sample as it was before anything was marked."""
    sample = sample_job("flat_square_on")
    record = json.loads(sample.read_text(encoding="utf-8"))
    for section in ("marks", "fittings", "lengths", "lines"):
        record.pop(section, None)
    for photo in record["photos"]:
        shutil.copy(sample.parent / photo["file"], tmp_path)
    path = tmp_path / "job.json"
    path.write_text(json.dumps(record), encoding="utf-8")
    return path


def test_refusal_goes_on_with_what_the_photo_can_reach(unmarked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """First what is missing, then what is to be expected."""
    assert main(["measure", str(unmarked)]) != 0
    told = " ".join(capsys.readouterr().err.split())
    assert "mark at least the keel" in told
    assert "The board is found. From this photo the chines can come to ± " in told


def test_open_points_ask_for_what_would_help(unmarked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The page is written, with one point more than without the board's foresight."""
    out = unmarked.with_name("points.pdf")
    assert main(["points", str(unmarked), "--out", str(out)]) == 0
    assert "6 open points" in capsys.readouterr().out
    assert out.stat().st_size > 1000
