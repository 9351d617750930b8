"""What a job on a bowed transom has to go by: photos, boards, gaps, tapes and a pad."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from digitizer.job.model import FaceKind


@dataclass(frozen=True)
class BowedEvidence:
    """Photos of one camera and what was measured by hand besides."""

    photos: int = 3
    boards: tuple[int, ...] | None = None
    """Photos that show the board; left out, all of them."""
    radii: tuple[float, float] | None = (2500.0, 12_000.0)
    """Radius of the bow, drawn so that its curvature is uniform; none for a flat face."""
    hollow: bool = False
    face: FaceKind = FaceKind.BOWED
    """What the job takes the face to be."""
    gaps: tuple[float, ...] = ()
    """Spans of straightedges whose gap was measured, u 1.5 mm."""
    girth: bool = False
    """Chine beam by tape along the surface, u 2 mm."""
    chord: bool = False
    """Chine beam straight through, u 2 mm."""
    pad: Literal["", "measured", "unknown"] = ""
    calibrated: bool = False
    """Lens known to 1 %; otherwise as EXIF leaves it."""
    u_slope: float = 0.003
    """Scatter of the reference line against square to the axis of the bow, rad."""
    click_px: float = 0.7
    line_px: float = 0.3
    spread_deg: float = 30.0
    """Yaw of the outermost photos."""

    @property
    def seen_boards(self) -> tuple[int, ...]:
        return tuple(range(self.photos)) if self.boards is None else self.boards


BOWED: dict[str, BowedEvidence] = {
    "three": BowedEvidence(),
    "three_one_board": BowedEvidence(boards=(1,)),
    "two": BowedEvidence(photos=2),
    "five": BowedEvidence(photos=5, boards=(0, 2, 4)),
    "three_gap_tapes": BowedEvidence(gaps=(1500.0,), girth=True, chord=True),
    "three_flat": BowedEvidence(radii=None),
    "three_hollow": BowedEvidence(radii=(40_000.0, 90_000.0), hollow=True),
    "three_pad": BowedEvidence(pad="unknown"),
    "two_pad_measured": BowedEvidence(photos=2, pad="measured", radii=None, face=FaceKind.FLAT),
    "one_gap": BowedEvidence(photos=1, gaps=(1500.0, 2000.0), chord=True),
}
