"""The transom angle from everything that speaks of it: as stated, by level, and by photos from the side."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from digitizer import __version__
from digitizer.adjustment.statistics import chi_square_quantile
from digitizer.camera.lens import LensPrior, lens_prior
from digitizer.errors import AdjustmentError
from digitizer.imaging.photo import PhotoFacts
from digitizer.job.model import Job, Mark, MarkKind, Photo
from digitizer.survey.defaults import OFF_THE_FACE
from digitizer.survey.model import Adjustment, Contribution, Dimension, Finding, Quantity, Severity, Survey
from digitizer.survey.network import RAKE
from digitizer.survey.profile import ProfileRake, rake_by_profile
from digitizer.transom.rake import rake_by_level

LEVELS = "level on face and keel"
SIGN = "positive when the top leans aft"
WHAT = f"face against the perpendicular to the keel line, {SIGN}"


@dataclass(frozen=True)
class RakeEstimate:
    """One figure of the transom angle, degrees."""

    code: str
    """``rake_stated``, ``rake_by_level`` or ``rake_by_profile``, with the photo's id where there are several."""
    label: str
    value_deg: float
    u_deg: float
    shares: tuple[tuple[str, float], ...]
    """Part of the variance by source."""
    note: str = SIGN


@dataclass(frozen=True)
class RakeEvidence:
    """All estimates, what the photos from the side say besides, and why others of them say nothing."""

    estimates: tuple[RakeEstimate, ...]
    profiles: tuple[ProfileRake, ...]
    problems: tuple[tuple[str, str], ...]
    """Photo and reason."""

    @property
    def widened(self) -> float:
        """
        Factor on every u where the estimates contradict one another, else 1.

        References
        ----------
        R. T. Birge, The calculation of errors by the method of least squares, Phys. Rev. 40 (1932) 207.
        """
        if len(self.estimates) < 2:
            return 1.0
        mean = self._mean
        chi = sum(((e.value_deg - mean) / e.u_deg) ** 2 for e in self.estimates)
        spare = len(self.estimates) - 1
        return math.sqrt(chi / spare) if chi > chi_square_quantile(0.95, spare) else 1.0

    @property
    def _mean(self) -> float:
        weights = [e.u_deg**-2 for e in self.estimates]
        return sum(w * e.value_deg for w, e in zip(weights, self.estimates, strict=True)) / sum(weights)


def rake_evidence(job: Job, facts: Mapping[str, PhotoFacts]) -> RakeEvidence:
    """
    Everything that a job says of the transom angle.

    Parameters
    ----------
    job
    facts
        By photo id.
    """
    profiles: list[ProfileRake] = []
    problems: list[tuple[str, str]] = []
    for photo in job.photos:
        marks = tuple(m for m in job.marks if m.active and m.photo == photo.id and m.kind in OFF_THE_FACE)
        wanted = any(m.kind in (MarkKind.KEEL_LINE, MarkKind.FACE_LINE) for m in marks)
        if wanted and photo.active and photo.id in facts:
            try:
                profiles.append(
                    _by_profile(photo, _inside(marks, facts[photo.id]), _prior(job, photo, facts[photo.id]))
                )
            except AdjustmentError as failure:
                problems.append((photo.id, str(failure)))
    estimates = [*_stated(job), *_levelled(job), *(_seen(p, len(profiles) > 1) for p in profiles)]
    return RakeEvidence(tuple(estimates), tuple(profiles), tuple(problems))


def rake_estimates(job: Job, facts: Mapping[str, PhotoFacts]) -> list[RakeEstimate]:
    """Every estimate of the transom angle, each with its u: as stated, by level, by photo."""
    return list(rake_evidence(job, facts).estimates)


def profile_only(job: Job, photo: str) -> bool:
    """Whether a photo holds nothing but marks of lines seen from the side, so that it shows no face to measure."""
    kinds = {m.kind for m in job.marks if m.active and m.photo == photo}
    return bool(kinds) and kinds <= OFF_THE_FACE


def shows_face(job: Job, facts: Mapping[str, PhotoFacts]) -> bool:
    """Whether any photo in use holds a mark on the transom's face."""
    photos = {p.id for p in job.photos if p.active and p.id in facts}
    return any(m.active and m.photo in photos and m.kind not in OFF_THE_FACE for m in job.marks)


def rake_dimensions(evidence: RakeEvidence) -> list[Dimension]:
    """The single estimates that were measured, beside the weighed one."""
    return [_dimension(e) for e in evidence.estimates if e.code != "rake_stated"]


def rake_survey(job: Job, evidence: RakeEvidence, findings: Sequence[Finding]) -> Survey:
    """A survey that holds the transom angle and nothing else, for a job without marks on the face."""
    weights = [(e.u_deg * evidence.widened) ** -2 for e in evidence.estimates]
    value = sum(w * e.value_deg for w, e in zip(weights, evidence.estimates, strict=True)) / sum(weights)
    shares: dict[str, float] = {}
    for weight, e in zip(weights, evidence.estimates, strict=True):
        for source, share in e.shares:
            shares[source] = shares.get(source, 0.0) + share * weight / sum(weights)
    u = sum(weights) ** -0.5
    together = RakeEstimate("rake", "Transom angle (rake)", value, u, tuple(shares.items()), WHAT)
    count = len(evidence.estimates)
    chi = sum(((e.value_deg - value) / e.u_deg) ** 2 for e in evidence.estimates)
    missing = Finding(
        "only_rake",
        Severity.WARNING,
        "job",
        "Only the transom angle was measured: no photo in use holds a mark on the transom's face. For the other "
        "dimensions add a photo from astern, and mark at least the keel, the chines and a line.",
    )
    adjustment = Adjustment(
        observations=count,
        parameters=1,
        redundancy=count - 1.0,
        weighted_square_sum=chi,
        variance_factor=chi / (count - 1) if count > 1 else 1.0,
        test_lower=0.0,
        test_upper=math.inf,
        accepted=True,
        scaled_by=evidence.widened,
        iterations=0,
    )
    return Survey(
        program_version=__version__,
        title=job.title,
        dimensions=(_dimension(together), *rake_dimensions(evidence)),
        fittings=(),
        points=(),
        outline=(),
        reference_line=None,
        observations=(),
        checks=(),
        findings=(missing, *findings),
        photos=(),
        adjustment=adjustment,
    )


def _stated(job: Job) -> list[RakeEstimate]:
    if job.rake is None:
        return []
    return [RakeEstimate("rake_stated", "rake as stated", job.rake.rake_deg, job.rake.u_deg, ((RAKE, 1.0),))]


def _levelled(job: Job) -> list[RakeEstimate]:
    levels = job.level_readings
    if levels is None or not levels.active:
        return []
    value, u = rake_by_level(levels.face_deg, levels.keel_deg, levels.u_deg)
    return [RakeEstimate("rake_by_level", "Transom angle by level", value, u, ((LEVELS, 1.0),))]


def _seen(p: ProfileRake, one_of_several: bool) -> RakeEstimate:
    code = f"rake_by_profile_{p.photo}" if one_of_several else "rake_by_profile"
    note = f"from photo {p.photo}, {'centreline' if p.on_centreline else 'near edge'} of the face; {SIGN}"
    return RakeEstimate(code, "Transom angle by photo from the side", p.rake_deg, p.u_deg, p.shares, note)


@lru_cache(maxsize=64)
def _by_profile(photo: Photo, marks: tuple[Mark, ...], prior: LensPrior) -> ProfileRake:
    """Remembered, because one job's network is built several times."""
    return rake_by_profile(photo, marks, prior)


def _inside(marks: tuple[Mark, ...], facts: PhotoFacts) -> tuple[Mark, ...]:
    for m in marks:
        if not (-0.5 <= m.x_px <= facts.width_px - 0.5 and -0.5 <= m.y_px <= facts.height_px - 0.5):
            raise AdjustmentError(f"Mark {m.id} lies outside photo {m.photo} at ({m.x_px:g}, {m.y_px:g}) px: move it.")
    return marks


def _prior(job: Job, photo: Photo, f: PhotoFacts) -> LensPrior:
    exif_size = (f.exif_width_px, f.exif_height_px) if f.exif_width_px and f.exif_height_px else None
    calibration = next((c.calibration for c in job.cameras if c.id == photo.camera), None)
    return lens_prior(f.width_px, f.height_px, f.focal_35mm, exif_size, photo.cropped, calibration)


def _dimension(e: RakeEstimate) -> Dimension:
    lines = sorted(
        (Contribution(s, e.u_deg * math.sqrt(p), p) for s, p in e.shares if p > 0.005), key=lambda c: -c.share
    )
    lower, upper = e.value_deg - 2.0 * e.u_deg, e.value_deg + 2.0 * e.u_deg
    return Dimension(
        e.code, e.label, "Shape", Quantity.ANGLE, e.value_deg, e.u_deg, lower, upper, (), tuple(lines), e.note
    )
