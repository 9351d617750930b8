"""The file of kept calibrations: its reference page, and what it survives."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from digitizer.errors import DigitizerError
from digitizer.job.lenses import CameraAndLens, KeptLens, keep_lens, kept_lenses
from digitizer.job.model import Calibration

PAGE = (Path(__file__).parents[2] / "docs" / "reference" / "lens-file.md").read_text(encoding="utf-8")
LENS = KeptLens(CameraAndLens("Marrowby 9, main", 6.8, 24.0), Calibration(400, 300, 350.0, 1.0, 199.5, 149.5, 1.0))


def test_example_of_the_reference_page_is_read(tmp_path: Path) -> None:
    """The page's example is a file as the program reads and writes it."""
    (example,) = re.findall(r"```json\n(.*?)```", PAGE, flags=re.S)
    path = tmp_path / "lenses.json"
    path.write_text(example, encoding="utf-8")
    (kept,) = kept_lenses(path)
    assert kept.lens == CameraAndLens("Hollowell K2, main", 5.1, 25.0)
    assert kept.calibration.u_refocus == 0.0091
    keep_lens(LENS, path)
    assert kept_lenses(path) == (kept, LENS)


def test_reference_page_describes_every_field() -> None:
    """Each field of the lens stands in the page's table, and no other."""
    assert re.findall(r"^\| `(\w+)` \|", PAGE, flags=re.M) == [f.name for f in fields(CameraAndLens)]


def test_what_the_exif_rounds_is_one_lens() -> None:
    """Focal lengths within half a percent are one setting, a missing one is only like a missing one."""
    assert LENS.lens.matches(CameraAndLens("Marrowby 9, main", 6.82, 24.0))
    assert not LENS.lens.matches(CameraAndLens("Marrowby 9, main", 6.9, 24.0))
    assert not LENS.lens.matches(CameraAndLens("Marrowby 9, main", None, 24.0))


@pytest.mark.parametrize("text", ["", "[{]", '[{"lens": {"device": ""}}]', '{"lens": 1}', "\x00\xff"])
def test_damaged_file_is_refused_and_left_as_it_was(tmp_path: Path, text: str) -> None:
    """Keeping another calibration in a file that can't be read is refused, and the file is not overwritten."""
    path = tmp_path / "lenses.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DigitizerError, match="move it away"):
        keep_lens(LENS, path)
    assert path.read_text(encoding="utf-8") == text


def test_place_that_takes_nothing_is_refused(tmp_path: Path) -> None:
    """A folder in the way of the settings is named."""
    (tmp_path / "settings").write_text("a file")
    with pytest.raises(DigitizerError, match="settings"):
        keep_lens(LENS, tmp_path / "settings" / "lenses.json")
