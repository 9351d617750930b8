"""Error ellipses beside the whole inverse of the normal equations, and beside jobs adjusted again and again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from digitizer.adjustment.observations import Block, FloatArray, Row, System
from digitizer.adjustment.solve import adjust
from digitizer.camera.equations import ImagePoints
from digitizer.job.model import MarkKind
from digitizer.job.reading import read_job
from digitizer.samples import sample_job
from digitizer.survey.dimensions import read_transom
from digitizer.survey.evidence import gather
from digitizer.survey.live import Live, started
from digitizer.survey.mark_records import Covariance
from tests.builders import FITTINGS
from tests.survey.exact import a_case, all_spots, fitting_record, length, rim_spots

Marks = dict[str, NDArray[np.float64]]


@cache
def exact() -> Live:
    """A job whose marks fit, with two rims and a known length."""
    spots = all_spots() | rim_spots(FITTINGS[0]) | rim_spots(FITTINGS[3])
    fittings = (fitting_record(FITTINGS[0]), fitting_record(FITTINGS[3]))
    case = a_case(spots, fittings=fittings, lengths=(length(spots, "chine_port", "chine_starboard"),))
    found = started(case.job, case.facts, case.sightings)[1]
    assert found is not None
    return found


@cache
def sample(name: str) -> Live:
    job_file = read_job(sample_job(name))
    evidence = gather(job_file)
    found = started(job_file.job, evidence.facts, evidence.sightings)[1]
    assert found is not None
    return found


def matrix(covariance: Covariance) -> FloatArray:
    xx, xy, yy = covariance
    return np.array([[xx, xy], [xy, yy]])


def seen(live: Live, x: FloatArray) -> Marks:
    """Where each mark's point is seen in its photo by parameters `x`, px."""
    out: Marks = {}
    for block in live.system.blocks:
        if isinstance(block, ImagePoints):
            places = block.view.image_points(x, block.once.at(x))
            out |= {row.subject: place for row, place in zip(block.rows[::2], places, strict=True)}
    return out


def faces(live: Live, x: FloatArray) -> Marks:
    """Where each mark's point lies on the face rolled flat, by parameters `x`, mm."""
    t = read_transom(live.base.network, x)
    assert t is not None
    lies = {i: np.array([float(p.x), float(p.y)]) for i, p in t.developed.items()}
    return {mark.id: lies[i] for i, info in t.infos.items() for mark in info.marks}


def whole_covariance(live: Live) -> tuple[FloatArray, FloatArray]:
    """Free columns and their covariance: the plain inverse of the normal matrix, columns scaled."""
    estimate = live.base.found.estimate
    J = live.system.linearised(estimate.x)[1][:, estimate.free] * estimate.weights[:, None]
    scale = 1.0 / np.linalg.norm(J, axis=0)
    normal = (J * scale).T @ (J * scale)
    return estimate.free, np.linalg.inv(normal) * np.outer(scale, scale) * live.survey.adjustment.scaled_by**2


@cache
def bowed() -> Live:
    """The bowed sample in three photos, the marks that its system rests on alone."""
    live = sample("bowed_three")
    kinds = (MarkKind.REFERENCE_LINE, MarkKind.KEEL, MarkKind.CHINE, MarkKind.TOP_CORNER)
    job = replace(live.job, marks=tuple(m for m in live.job.marks if m.kind in kinds), fittings=())
    found = started(job, live.facts, [sighting for _, sighting in live.base.network.sightings])[1]
    assert found is not None
    return found


@pytest.mark.parametrize("name", ["exact", "bowed"])
def test_ellipses_are_those_of_the_whole_inverse_and_of_difference_quotients(name: str) -> None:
    """Both covariances, from steps along the axes of the plain inverse, to 2 parts in a thousand of the larger axis."""
    live = exact() if name == "exact" else bowed()
    columns, covariance = whole_covariance(live)
    x, places = live.base.found.estimate.x, live.adjusted_places
    values, axes = np.linalg.eigh(covariance)
    spread = axes * np.sqrt(np.maximum(values, 0.0))
    sums = {place: (np.zeros((2, 2)), np.zeros((2, 2))) for place in places}
    step = 0.01  # of a standard deviation: small enough to be straight, large enough to keep its digits
    for direction in spread.T:
        ends = []
        for sign in (1.0, -1.0):
            there = x.copy()
            there[columns] += sign * step * direction
            ends.append((seen(live, there), faces(live, there)))
        for mark, totals in sums.items():
            for kind, total in enumerate(totals):
                moved = (ends[0][kind][mark] - ends[1][kind][mark]) / (2.0 * step)
                total += np.outer(moved, moved)
    for mark, (px, mm) in sums.items():
        assert matrix(places[mark].covariance_px) == pytest.approx(px, abs=2e-3 * np.trace(px)), mark
        assert matrix(places[mark].covariance_mm) == pytest.approx(mm, abs=2e-3 * np.trace(mm)), mark


class Shaken:
    """A block whose whitened observations are off by given amounts."""

    def __init__(self, block: Block, shift: FloatArray) -> None:
        self.block, self.shift = block, shift

    @property
    def rows(self) -> Sequence[Row]:
        return self.block.rows

    def reweigh(self, x: FloatArray) -> None:
        """Its u stays what the ellipses were worked out with."""

    def fill(self, x: FloatArray, residuals: FloatArray, jacobian: FloatArray | None) -> None:
        self.block.fill(x, residuals, jacobian)
        residuals -= self.shift


@pytest.mark.slow
def test_places_of_jobs_adjusted_again_spread_as_the_ellipses_say() -> None:
    """
    250 jobs with all observations drawn anew, each adjusted in full: no first order, no covariance.

    Axes to 18 %, four standard deviations of a standard deviation from so many draws; each 95 % ellipse holds 89.5 to
    99.5 %.
    """
    live, random, draws = exact(), np.random.default_rng(4), 250
    estimate, free = live.base.found.estimate, live.base.network.layout.free
    found = []
    for _ in range(draws):
        shifts = random.normal(size=len(live.system.rows))
        blocks = [Shaken(b, shifts[rows]) for b, rows in zip(live.system.blocks, live.system.slices, strict=True)]
        again = adjust(System(live.system.size, blocks), estimate.x, free)
        found.append((seen(live, again.x), faces(live, again.x)))
    middle = seen(live, estimate.x), faces(live, estimate.x)
    for mark, place in live.adjusted_places.items():
        for kind, covariance in enumerate((place.covariance_px, place.covariance_mm)):
            if kind == 1 and mark == "keel":
                assert covariance == pytest.approx((0.0, 0.0, 0.0), abs=1e-12)  # places are counted from it
                continue
            off = np.array([each[kind][mark] - middle[kind][mark] for each in found])
            turned = np.linalg.solve(np.linalg.cholesky(matrix(covariance)), off.T)
            assert np.std(turned, axis=1) == pytest.approx([1.0, 1.0], abs=0.18), (mark, kind)
            inside = np.mean(np.sum(turned**2, axis=0) < -2.0 * np.log(0.05))
            assert 0.895 < inside < 0.995, (mark, kind)


def test_what_a_line_or_a_rim_holds_is_surer_than_its_click() -> None:
    """No ellipse is larger than its click and definition; a string's mark is narrow across the string."""
    live = exact()
    for block in live.system.blocks:
        if isinstance(block, ImagePoints):
            for row, whiten in zip(block.rows[::2], block.whiten, strict=True):
                inside = whiten @ matrix(live.adjusted_places[row.subject].covariance_px) @ whiten.T
                assert np.linalg.eigvalsh(inside)[1] <= 1.0 + 1e-9
    xx, _, yy = live.adjusted_places["string_2"].covariance_px
    assert yy < 0.7 * xx


def test_adjusted_place_is_the_mark_with_its_residual() -> None:
    """The ellipse's middle is where the survey's residuals say."""
    live = sample("flat_square_on")
    by_mark: dict[str, list[float]] = {}
    for each in live.survey.observations:
        if each.kind == "mark":
            by_mark.setdefault(each.subject, []).append((each.observed or 0.0) + each.residual)
    for mark, place in live.adjusted_places.items():
        assert (place.x_px, place.y_px) == pytest.approx(by_mark[mark], abs=0.05)  # px; whitened both axes together
