"""What a simulated job has to go by, and how well everything about it is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.builders import DIAGONAL_PX, HEIGHT_PX, WIDTH_PX, FloatArray

F_NOMINAL = 2900.0
F_UNKNOWN = 0.78 * WIDTH_PX


@dataclass(frozen=True)
class Evidence:
    """What a job has to go by, and how well."""

    board: bool = False
    string_marks: int = 2
    """Marks along the string; two mean that only its direction is used."""
    rule: bool = False
    mirror: bool = False
    beam: bool = False
    tapes: int = 0
    """How many tape figures between outline points."""
    markers: bool = False
    square: bool = False
    calibrated: bool = True
    """Lens known to 1 % in f, 0.5 % of the diagonal in the principal point, 0.03 in k1 and k2."""
    u_f: float = 0.01
    exif: bool = True
    u_square_deg: float | None = None
    click_px: float = 0.7
    line_px: float = 0.3
    view: tuple[float, float] = (0.0, 0.0)
    """Yaw and pitch, degrees."""


EVIDENCE: dict[str, Evidence] = {
    "board": Evidence(board=True),
    "board_string": Evidence(board=True, string_marks=11),
    "board_string_rule": Evidence(board=True, string_marks=11, rule=True),
    "board_string_rule_mirror": Evidence(board=True, string_marks=11, rule=True, mirror=True, beam=True),
    "snapped": Evidence(board=True, string_marks=11, rule=True, mirror=True, beam=True, click_px=0.3),
    "four_markers": Evidence(markers=True, string_marks=5),
    "square": Evidence(square=True, string_marks=5, u_square_deg=3.0),
    "rule_mirror_beam": Evidence(string_marks=5, rule=True, mirror=True, beam=True),
    "seven_tapes": Evidence(string_marks=5, rule=True, tapes=6, u_f=0.20, exif=False),
    "rule_exif_square": Evidence(string_marks=5, rule=True, mirror=True, calibrated=False, u_square_deg=5.0),
    "five_tapes": Evidence(board=True, string_marks=11, tapes=5),
}
"""
As in the method's table of what to expect, and one for blunders.

The reference line is marked in all of them: at its ends, at five places, or all along where the table says so.
"""


@dataclass(frozen=True)
class Precision:
    """Uncertainties that "come on top" of the clicks; `STRICT` is the table of theory, `REAL` the boat."""

    definition: dict[str, float]
    flatness_mm: float
    string_mm: float
    height_mm: float
    thickness_mm: float
    proud_mm: float
    round_mm: float
    edge_mm: float
    board_scale: float
    tape: tuple[float, float]
    """Scale (relative) and zero (mm) common to one tape."""


STRICT = Precision({}, 0.0, 0.3, 0.0, 0.01, 0.0, 0.01, 0.0, 1e-5, (0.0, 0.0))
REAL = Precision(
    {"keel": 1.0, "chine": 1.0, "chine_inner": 1.0, "bottom_edge": 1.0, "top_corner": 0.5, "top_edge": 0.5},
    0.3, 0.5, 0.5, 0.5, 1.5, 0.3, 0.25, 0.0005, (0.0002, 0.3),
)  # fmt: skip


def lens_prior(evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """Lens (f, cx, cy, k1, k2, p1, p2) as known beforehand, and its u."""
    centre = [(WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2]
    if evidence.calibrated:
        f, u_f, u_c, u_k, u_p = F_NOMINAL, evidence.u_f, 0.005, 0.03, 0.0
    elif evidence.exif:
        f, u_f, u_c, u_k, u_p = F_NOMINAL, 0.03, 0.005, 0.05, 0.0003
    else:
        f, u_f, u_c, u_k, u_p = F_UNKNOWN, 0.20, 0.01, 0.10, 0.0003
    u = [u_f * f, u_c * DIAGONAL_PX, u_c * DIAGONAL_PX, u_k, u_k, u_p, u_p]
    return np.array([f, *centre, 0.0, 0.0, 0.0, 0.0]), np.array(u)
