"""From a rendered photo of a pattern on the floor to its differences: the board found, the edge snapped."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from ezdxf import recover

from digitizer.cli.main import main
from digitizer.job.model import (
    Alignment,
    Calibration,
    Camera,
    Job,
    Mark,
    MarkKind,
    Pattern,
    PatternFace,
    Photo,
    PhotoKind,
)
from digitizer.job.writing import job_json
from tests.builders import HEIGHT_PX, WIDTH_PX, FloatArray
from tests.imaging.rendering import a_board
from tests.simulation.floor_photo import SIZE, FloorPhoto
from tests.survey.exact import HULL, Board, a_case, outline_spots

BOTTOM = ("chine_port", "chine_inner_port", "keel", "chine_inner_starboard", "chine_starboard")
OFF_MM = 10.0
"""The pattern was cut too full by so much half way out on the starboard side."""


def cut_edge() -> FloatArray:
    """The pattern's edge: the true bottom edge, too full at one place."""
    spots = outline_spots(HULL)
    corners = np.array([[spots[name].x, spots[name].y] for name in BOTTOM])
    x = np.unique(np.concatenate([np.linspace(corners[0, 0], corners[-1, 0], 47), corners[:, 0]]))
    full = OFF_MM / np.cos(np.radians(HULL.deadrise_deg[1])) * np.exp(-(((x - 560.0) / 120.0) ** 2))
    return np.column_stack([x, np.interp(x, corners[:, 0], corners[:, 1]) - full])


def photographed() -> FloorPhoto:
    """12 mm plywood, the board beyond it."""
    board = a_board(id="floor", columns=8, rows=5, first_id=40, u_scale=2e-4)
    return FloorPhoto(cut_edge(), 620.0, 12.0, board, (150.0, 830.0))


def record(photo: FloorPhoto, clicks_px: float) -> Job:
    """A job of the boat, faultless, and the pattern with clicks that miss by some pixels, fewer at corners."""
    case = a_case(boards=(Board(),))
    rng = np.random.default_rng(5)
    edge, spots = photo.edge, outline_spots(HULL)
    seen = photo.seen(edge)
    normals = np.gradient(seen, axis=0)[:, ::-1] * [1.0, -1.0]
    normals /= np.hypot(*normals.T)[:, None]
    corner = np.array([any(math.dist(place, (spots[n].x, spots[n].y)) < 40.0 for n in BOTTOM) for place in edge])
    u = np.where(corner, 0.4, clicks_px)
    seen = seen + normals * (rng.normal(0.0, 1.0, len(edge)) * u)[:, None]
    marks = [
        Mark(f"ply {k}", "floor photo", MarkKind.OUTLINE, float(x), float(y), float(u[k]), of="ply")
        for k, (x, y) in enumerate(seen)
    ]
    middle = int(np.argmin(np.abs(edge[:, 0])))
    aligned = (
        Alignment("ply 0", "chine_port"), Alignment(f"ply {len(edge) - 1}", "chine_starboard"),
        Alignment(f"ply {middle}", "keel"),
    )  # fmt: skip
    f = photo.f_px
    lens = Calibration(*SIZE, f, 0.01 * f, (SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2, 10.0, u_k1=0.01, u_k2=0.01)
    return replace(
        case.job,
        cameras=(*case.job.cameras, Camera("floor camera", lens)),
        photos=(*case.job.photos, Photo("floor photo", "floor.png", camera="floor camera", kind=PhotoKind.PATTERN)),
        marks=(*case.job.marks, *marks),
        targets=(*case.job.targets, photo.board),
        sightings=case.sightings,
        patterns=(Pattern("ply", "floor photo", aligned=aligned, face_up=PatternFace.AFT, thickness_mm=12.0),),
    )


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The job in a folder with its photos, the boat's an empty one whose marks and board are in the job."""
    folder = tmp_path_factory.mktemp("pattern")
    photo = photographed()
    cv2.imwrite(str(folder / "floor.png"), photo.picture())
    cv2.imwrite(str(folder / "astern.jpg"), np.full((HEIGHT_PX, WIDTH_PX), 128, dtype=np.uint8))
    (folder / "job.json").write_text(job_json(record(photo, 1.5)), encoding="utf-8")
    return folder / "job.json"


def measured(job: Path, capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, Any]:
    """What `measure --json -` says."""
    assert main(["measure", str(job), "--json", "-", *more]) == 0
    return json.loads(capsys.readouterr().out)["survey"]  # type: ignore[no-any-return]


def test_rendered_pattern_is_measured_and_snapped(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The board in the photo is found by itself; snapped, the edge is known better, and the wrong cut stands out."""
    errors, U = {}, {}
    for how in ((), ("--snap",)):
        survey = measured(job, capsys, *how)
        (pattern,) = survey["patterns"]
        assert pattern["scale"] == "target floor"
        stations = [s for s in pattern["stations"] if "chine flat" not in s["place"]]
        true = [OFF_MM * np.exp(-(((s["x"] - 560.0) / 120.0) ** 2)) for s in stations]
        errors[how] = np.array([s["difference"]["value"] for s in stations]) - true
        U[how] = np.array([2 * s["difference"]["u"] for s in stations])
        assert np.mean(np.abs(errors[how]) <= U[how]) > 0.85
    # mm: a click misses by 1.5 px of 1.7 mm; the traced edge keeps the corners' clicks, which put the pattern in place.
    assert np.sqrt(np.mean(errors["--snap",] ** 2)) < 1.5 < np.sqrt(np.mean(errors[()] ** 2))
    assert np.median(U["--snap",]) < 0.8 * np.median(U[()])
    assert any("at the bottom edge, 600 mm to starboard" in f["text"] for f in survey["findings"])


def test_table_in_the_terminal(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Place by place with its U and En, and how the pattern was laid."""
    assert main(["measure", str(job)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Pattern ply − measured outline, mm" in said
    assert "Laid on the outline by its marks; scale: target floor." in said


def test_pattern_is_cut_when_asked(job: Path, tmp_path: Path) -> None:
    """`--outline ply` draws its edge as the outline and keeps the measured one beside it."""
    out = tmp_path / "ply.dxf"
    assert main(["dxf", str(job), "--out", str(out), "--outline", "ply"]) == 0
    space = recover.readfile(out)[0].modelspace()
    assert len(space.query('LWPOLYLINE[layer=="MEASURED_OUTLINE"]')) > 0
    assert len(space.query('LWPOLYLINE[layer=="PATTERN"]')) == 0


def test_unknown_pattern_is_refused(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A name that no pattern has is no outline."""
    assert main(["svg", str(job), "--out", str(tmp_path / "a.svg"), "--outline", "cardboard"]) != 0
    assert "the job has no such pattern" in " ".join(capsys.readouterr().err.split())
