"""The sample photos clicked again by other hands, and measured against their truth."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from digitizer.imaging.photo import PhotoFacts, gray_pixels, photo_facts, rgb_pixels
from digitizer.imaging.targets import find_targets
from digitizer.job.model import Job, Role, Sighting
from digitizer.survey.measure import measure
from digitizer.survey.model import Survey
from digitizer.survey.snapping import snapped_job
from tests.builders import FloatArray, SimFitting, SimString, fitting_truth, true_dimensions, turned
from tests.samples.clicks import starboard_word
from tests.samples.mark_samples import SAMPLES, marked_job

MEASURED = ("flat_square_on", "flat_oblique_wide", "tape_only")


@cache
def read(name: str) -> tuple[dict[str, Any], dict[str, PhotoFacts], tuple[Sighting, ...]]:
    """Truth, facts and target corners of a sample folder; the corners are found once."""
    truth = json.loads((SAMPLES / name / "truth.json").read_text())
    job = marked_job(name, 0)
    photo = job.photos[0]
    data = (SAMPLES / name / photo.file).read_bytes()
    found = find_targets(gray_pixels(data, photo.file), job.targets)
    sightings = tuple(
        Sighting(
            d.target_id, photo.id, d.corner_ids, *(tuple(map(float, xy)) for xy in d.image_points.T),
            tuple(map(float, d.u_px)),
        )
        for d in found
    )  # fmt: skip
    return truth, {photo.id: photo_facts(data, photo.file)}, sightings


def clicked(name: str, seed: int, rule: bool = True) -> Survey:
    """Measure a sample as another hand would have marked it, with or without its long rule."""
    _, facts, sightings = read(name)
    return measure(marked(name, seed, rule), facts, sightings)


def snapped(name: str, seed: int) -> Survey:
    """The same with the marks snapped to the edges in the picture."""
    _, facts, sightings = read(name)
    return measure(snapped_job(marked(name, seed, True), picture(name)).job, facts, sightings)


@cache
def picture(name: str) -> dict[str, NDArray[np.uint8]]:
    """Pixels of a sample's photo, by its id."""
    photo = marked_job(name, 0).photos[0]
    return {photo.id: rgb_pixels((SAMPLES / name / photo.file).read_bytes(), photo.file)}


def marked(name: str, seed: int, rule: bool) -> Job:
    """The job; without its rule, that is kept out."""
    job = marked_job(name, seed)
    if rule:
        return job
    lengths = tuple(replace(one, role=Role.CHECK) if one.id == "rule" else one for one in job.lengths)
    return replace(job, lengths=lengths)


def the_string(truth: dict[str, Any]) -> SimString:
    """The string as the truth has it."""
    (x0, y0, _), (x1, y1, _) = truth["reference_line"]["port_end"], truth["reference_line"]["stbd_end"]
    slope = (y1 - y0) / (x1 - x0)
    return SimString(y0 - slope * x0, slope)


def sample_truth(name: str) -> dict[str, float]:
    """True dimensions by code, from the truth's points; the section deadrise as the truth states it is left out."""
    truth = read(name)[0]
    hull = {starboard_word(key).replace("sheer", "top"): np.array(place[:2]) for key, place in truth["points"].items()}
    string = the_string(truth)
    known = true_dimensions(hull, string, truth["parameters"]["crown_top_edge_mm"])
    for record in truth["fittings"]:
        x, y, _ = record["centre_on_face"]
        size = record.get("flange_od_mm", np.nan)
        fitting = SimFitting(starboard_word(record["name"]), x, y, size, 0.0)
        values = fitting_truth(fitting, np.zeros(2), string, known["a_centre"])
        known |= {code: value for code, value in values.items() if np.isfinite(value)}
    return known


def point_errors(survey: Survey, name: str, *ids: str) -> FloatArray:
    """Errors (n, 2) of marked points in the transom frame."""
    truth = read(name)[0]
    string = the_string(truth)
    places = {starboard_word(key): turned(place[:2], string) for key, place in truth["points"].items()}
    return np.array([[p.x, p.y] - places[p.id] for p in survey.points if p.id in ids])
