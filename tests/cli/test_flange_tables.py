"""The planned flange, the plan and the tape's diagnosis in the terminal."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from digitizer.cli.flange_tables import flange_tables
from digitizer.cli.main import main
from digitizer.cli.planning_table import planning_table
from digitizer.samples import sample_job


@pytest.fixture
def planned_job(tmp_path: Path) -> Path:
    """The sample with a flange, a plan and a beam of which half was written down."""
    shutil.copytree(sample_job("flat_square_on").parent, tmp_path / "boat")
    job = tmp_path / "boat" / "job.json"
    written = json.loads(job.read_text(encoding="utf-8"))
    written["flange"] = {"width_mm": 900, "height_mm": 400}
    written["planning"] = {"bracket": {"plate_angle_deg": 16}, "engines_now": {"weight_kg": 250}}
    written["tape_figures"] = [{"id": "beam", "measure": "chine_beam", "reading": "1058.5 mm", "note": "beam [b]&"}]
    job.write_text(json.dumps(written), encoding="utf-8")
    return job


def test_flange_plan_and_diagnosis_are_shown(planned_job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One run shows verdicts, gap, planning figures with their caution, and what went wrong with the tape."""
    assert main(["measure", str(planned_job)]) == 0
    text = re.sub(r"\s+", " ", capsys.readouterr().out)
    for words in (
        "Planned flange, 900.0 mm × 400.0 mm",
        "becomes of it",
        "Gap under the flange, mm",
        "Wedge between motor plate and transom",
        "licensed surveyor",
        "beam [b]&: half the width was written down (half beam for beam)",
    ):
        assert words in text


def test_nothing_planned_shows_nothing() -> None:
    """Without flange and plan there is no table."""
    assert list(flange_tables(None, "mm")) == []
    assert list(planning_table(())) == []
