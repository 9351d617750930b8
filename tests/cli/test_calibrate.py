"""``digitizer calibrate`` and ``digitizer lens``, from photos of a board to a job that holds its lens."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from digitizer.cli.main import main
from digitizer.job.lenses import CameraAndLens, KeptLens, keep_lens, kept_lenses, offered_lens
from digitizer.job.model import Calibration, Job, Target
from digitizer.job.reading import read_job
from digitizer.job.writing import write_job_json
from digitizer.samples import sample_job
from tests.imaging.printed_board import A4_BOARD, FOCAL_PX, SIZE, VIEWS, board_photo, saved

SAMPLE_LENS = CameraAndLens("Hollowell K2, main", 5.1, 25.0)


@pytest.fixture(autouse=True)
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A settings folder of the test's own."""
    monkeypatch.setattr("digitizer.job.lenses.settings_folder", lambda: tmp_path / "settings")
    return tmp_path / "settings"


@pytest.fixture(scope="module")
def pictures() -> list[Image.Image]:
    return [board_photo(*view) for view in VIEWS]


def test_photos_of_the_board_give_the_lens_and_it_is_kept(
    tmp_path: Path, pictures: list[Image.Image], capsys: pytest.CaptureFixture[str]
) -> None:
    """Four photos give the focal length within its U, and the next list shows it."""
    photos = [saved(tmp_path, i, picture) for i, picture in enumerate(pictures)]
    assert main(["calibrate", *photos, "--board", "A4"]) == 0
    (kept,) = kept_lenses()
    assert abs(kept.calibration.f_px - FOCAL_PX) < 3.0 * kept.calibration.u_f_px
    assert kept.calibration.u_f_px < 10.0
    assert "4 photos" in kept.calibration.source
    assert kept.calibration.u_refocus == pytest.approx(5.1 / 330 / 3**0.5, rel=0.05)
    capsys.readouterr()
    assert main(["lens"]) == 0
    assert "Hollowell K2" in capsys.readouterr().out


def test_photos_that_name_no_camera_give_the_values_to_type(
    tmp_path: Path, pictures: list[Image.Image], capsys: pytest.CaptureFixture[str]
) -> None:
    """Without EXIF nothing is kept, and the record for the job is printed."""
    photos = [saved(tmp_path, i, picture, None) for i, picture in enumerate(pictures[:3])]
    assert main(["calibrate", *photos]) == 0
    assert '"calibration"' in capsys.readouterr().out
    assert kept_lenses() == ()


@pytest.mark.parametrize(
    ("models", "blank", "board", "words"),
    [
        pytest.param(("K2", "K2"), (), "A4", "3 at least", id="too-few"),
        pytest.param(("K2", "K2", "K3"), (), "A4", "was not taken like", id="two-cameras"),
        pytest.param(("K2", "K2", "K2"), (0, 1, 2), "A4", "in none of the 3 photos", id="no-board"),
        pytest.param(("K2", "K2", "K2"), (), "boat.json", "boat.json", id="no-such-job"),
    ],
)
def test_photos_that_calibrate_nothing_are_refused(
    models: tuple[str, ...],
    blank: tuple[int, ...],
    board: str,
    words: str,
    tmp_path: Path,
    pictures: list[Image.Image],
    capsys: pytest.CaptureFixture[str],
) -> None:
    """One sentence says what is wrong, and nothing is kept."""
    plain = Image.new("L", SIZE, 128)
    photos = [saved(tmp_path, i, plain if i in blank else pictures[i], model) for i, model in enumerate(models)]
    assert main(["calibrate", *photos, "--board", board]) == 1
    assert words in " ".join(capsys.readouterr().err.split())
    assert kept_lenses() == ()


@pytest.mark.parametrize(
    ("targets", "words"),
    [
        pytest.param((A4_BOARD,), "", id="one-board"),
        pytest.param((), "describes 0 boards", id="none"),
        pytest.param((A4_BOARD, replace(A4_BOARD, id="other", first_id=40)), "describes 2 boards", id="two"),
    ],
)
def test_board_that_a_job_describes(
    targets: tuple[Target, ...],
    words: str,
    tmp_path: Path,
    pictures: list[Image.Image],
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The one board of a job is taken; none or two are refused, with what to name instead."""
    photos = [saved(tmp_path, i, picture) for i, picture in enumerate(pictures[:3])]
    write_job_json(Job(targets=targets), tmp_path / "job.json")
    assert main(["calibrate", *photos, "--board", str(tmp_path / "job.json")]) == (1 if words else 0)
    assert words in " ".join(capsys.readouterr().err.split())
    assert len(kept_lenses()) == (0 if words else 1)


def a_calibration(f: float = 2946.8, width: int = 4000) -> Calibration:
    return Calibration(width, width * 3 // 4, f, 1.5, 1992.5, 1508.5, 1.5, -0.026, 0.008, source="made today")


def test_kept_calibration_is_offered_and_copied_into_the_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Measuring says that one is kept; after ``lens`` the job holds the values and needs the settings no more."""
    sample = sample_job("flat_profile")
    keep_lens(KeptLens(SAMPLE_LENS, a_calibration()))
    for file in sample.parent.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    assert main(["measure", str(tmp_path / "job.json")]) == 0
    assert "a calibration is kept" in " ".join(capsys.readouterr().out.split())
    assert main(["lens", str(tmp_path / "job.json"), "--out", str(tmp_path / "lens.json")]) == 0
    assert read_job(tmp_path / "lens.json").job.cameras[0].calibration == a_calibration()
    capsys.readouterr()
    assert main(["measure", str(tmp_path / "lens.json")]) == 0
    assert "a calibration is kept" not in capsys.readouterr().out
    assert main(["lens", str(tmp_path / "lens.json"), "--out", str(tmp_path / "again.json")]) == 1
    assert not (tmp_path / "again.json").exists()


def test_newer_calibration_takes_the_place_of_the_older(settings: Path) -> None:
    """One per camera, lens and size; another size stays beside it."""
    for calibration in (a_calibration(2900.0), a_calibration(1450.0, 2000), a_calibration(2950.0)):
        keep_lens(KeptLens(SAMPLE_LENS, calibration))
    assert [k.calibration.f_px for k in kept_lenses()] == [1450.0, 2950.0]
    assert (settings / "lenses.json").is_file()


@pytest.mark.parametrize(
    ("lens", "size"),
    [
        pytest.param(CameraAndLens("Hollowell K3, main", 5.1, 25.0), (4000, 3000), id="another-camera"),
        pytest.param(CameraAndLens("Hollowell K2, wide", 5.1, 25.0), (4000, 3000), id="another-lens"),
        pytest.param(CameraAndLens("Hollowell K2, main", 9.0, 25.0), (4000, 3000), id="another-focal-length"),
        pytest.param(CameraAndLens("Hollowell K2, main", 5.1, None), (4000, 3000), id="no-equivalent"),
        pytest.param(SAMPLE_LENS, (3000, 4000), id="held-upright"),
    ],
)
def test_other_photos_are_offered_nothing(lens: CameraAndLens, size: tuple[int, int]) -> None:
    """A calibration belongs to one lens at one focal length, and to pictures of its shape."""
    kept = [KeptLens(SAMPLE_LENS, a_calibration())]
    assert offered_lens(kept, lens, *size) is None
    assert offered_lens(kept, SAMPLE_LENS, 2000, 1500) == a_calibration()


def test_damaged_store_is_said_and_does_not_stop_measuring(settings: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Garbage in the settings costs the offer only; ``lens`` says what to do."""
    settings.mkdir()
    (settings / "lenses.json").write_text(json.dumps([{"lens": 3}]))
    assert main(["measure", str(sample_job("flat_profile"))]) == 0
    assert "damaged" in " ".join(capsys.readouterr().out.split())
    assert main(["lens"]) == 1
    assert "move it away" in " ".join(capsys.readouterr().err.split())
