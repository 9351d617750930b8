"""
Marks the sample photos again: ``python -m tests.samples.mark_samples``.

The job files in sample_images/ were marked by simulated clicks: the exact place of each thing in the render
plus the scatter of a hand (0.7 px along x and y at edges and rims, 0.4 px across a string or an engraved
line, 1.5 px where a rounded corner's edges would meet), with a fixed seed. What can't be seen in a photo is
not marked. What the owner measured (rake, tape figures) has its ordinary reading error. Boats, yards and people
are invented.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from collections.abc import Callable
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from digitizer.job.model import (
    Boat,
    Camera,
    DeadriseReading,
    Defect,
    DefectKind,
    Document,
    Face,
    FaceKind,
    Fitting,
    Instrument,
    Job,
    KnownLength,
    LineKind,
    MarkKind,
    Meter,
    MeterReading,
    Pad,
    Photo,
    Priority,
    Rake,
    Reader,
    Side,
    Sound,
    Sounding,
    StraightLine,
    Target,
    TargetKind,
)
from tests.samples.clicks import HAND_PX, LINE_PX, Clicks, fitting_records, starboard_word

SAMPLES = Path(__file__).parents[2] / "sample_images"
PLACE = "Quillemarsh Yard"
SURVEYOR = "J. Ostrevane"
PELLAMERE = Boat("Pellamere", "Tarnevold Boats", "SAMPLE-1", "M. Dunquerell", PLACE)
DORROWICK = Boat("Dorrowick", "Skelmorrow Craft", "SAMPLE-2", "A. Vessilan", PLACE)
VESKALINE = Boat("Veskaline", "Tarnevold Boats", "SAMPLE-3", "P. Orrismade", PLACE)
OMBRISETTE = Boat("Ombrisette", "Skelmorrow Craft", "SAMPLE-4", "L. Hathermoor", PLACE)
QUORREL = Boat("Quorrel", "Tarnevold Boats", "SAMPLE-5", "T. Brindacre", PLACE)

EXIF_IFD = 0x8769
MAKE, MODEL, TAKEN = 0x010F, 0x0110, 0x9003


def photo_record(folder: Path, file: str) -> Photo:
    """What the photo file says of itself."""
    data = (folder / file).read_bytes()
    with Image.open(folder / file) as image:
        width, height = image.size
        exif = image.getexif()
        taken = exif.get_ifd(EXIF_IFD).get(TAKEN, "")
    date, _, time = str(taken).partition(" ")
    return Photo(
        id=file.removesuffix(".jpg"),
        file=file,
        sha256=hashlib.sha256(data).hexdigest(),
        width_px=width,
        height_px=height,
        captured=f"{date.replace(':', '-')}T{time}",
        device=str(exif.get(MODEL) or exif.get(MAKE)),
    )


def board(truth: dict[str, Any], name: str = "board") -> Target:
    """The printed board as its owner would enter it; the check bar measured with a steel rule."""
    record = truth["target"]
    return Target(
        id=name,
        kind=TargetKind.CHARUCO,
        dictionary=record["dictionary"],
        columns=record["columns"],
        rows=record["rows"],
        square_mm=record["square_length_mm"],
        marker_mm=record["marker_length_mm"],
        check_bar_nominal_mm=100.0,
        check_bar_measured_mm=100.0,
        thickness_mm=record["thickness_mm"],
    )


def rake(truth: dict[str, Any], rng: np.random.Generator) -> Rake:
    """The rake from two readings of a level, with their scatter."""
    return Rake(round(truth["parameters"]["rake_deg"] + rng.normal(0.0, 0.5), 1), 0.5, "two readings of a level")


def common(folder: Path, truth: dict[str, Any], boat: Boat, title: str) -> dict[str, Any]:
    """The fields that every sample job fills in the same way."""
    photos = tuple(photo_record(folder, photo["file"]) for photo in truth["photos"])
    line = StraightLine("reference", LineKind.STRING, reference=True)
    return {
        "title": title,
        "date": (photos[0].captured or "")[:10],
        "surveyor": SURVEYOR,
        "boat": boat,
        "cameras": (Camera("camera"),),
        "photos": photos,
        "lines": (line,) if "reference_line" in truth else (),
        "note": "The photos are renders with known truth, not photographs; the marks are simulated clicks.",
    }


def astern_marks(truth: dict[str, Any], rng: np.random.Generator) -> list[Clicks]:
    """String, outline and fittings in every photo of a folder."""
    hands = [Clicks(truth, index, rng) for index in range(len(truth["photos"]))]
    for hand in hands:
        hand.reference_line()
        hand.outline()
        hand.fittings()
    return hands


def marked_fittings(truth: dict[str, Any], hands: list[Clicks]) -> tuple[Fitting, ...]:
    """The fittings that have marks."""
    named = {mark.of for hand in hands for mark in hand.marks}
    return tuple(fitting for fitting in fitting_records(truth) if fitting.id in named)


def astern(folder: Path, truth: dict[str, Any], rng: np.random.Generator, boat: Boat, title: str) -> Job:
    """String, board, outline and fittings; the rule where there is one."""
    hands = astern_marks(truth, rng)
    lengths: tuple[KnownLength, ...] = ()
    if "rule" in truth:
        hands[0].rule()
        lengths = (KnownLength("rule", "rule_start", "rule_end", truth["rule"]["length_between_marks_mm"], 0.5),)
    return Job(
        **common(folder, truth, boat, title),
        marks=tuple(mark for hand in hands for mark in hand.marks),
        lengths=lengths,
        targets=(board(truth),) if "target" in truth else (),
        fittings=marked_fittings(truth, hands),
        rake=rake(truth, rng),
    )


def square_on(folder: Path, truth: dict[str, Any], rng: np.random.Generator) -> Job:
    return astern(folder, truth, rng, PELLAMERE, "Pellamere, from astern: board, string and rule")


def oblique_wide(folder: Path, truth: dict[str, Any], rng: np.random.Generator) -> Job:
    return astern(folder, truth, rng, PELLAMERE, "Pellamere, from one side with a wide lens")


def bowed(folder: Path, truth: dict[str, Any], rng: np.random.Generator) -> Job:
    job = as_taped(astern(folder, truth, rng, VESKALINE, "Veskaline: a bowed transom from three places"))
    return dataclasses.replace(job, face=Face(FaceKind.BOWED))


def padded(folder: Path, truth: dict[str, Any], rng: np.random.Generator) -> Job:
    job = as_taped(astern(folder, truth, rng, OMBRISETTE, "Ombrisette: a raised pad, from two places"))
    hands = [Clicks(truth, index, rng) for index in range(len(truth["photos"]))]
    for hand in hands:
        for name in truth["points"]:
            if name.startswith("pad_corner"):
                hand.named(name, MarkKind.PAD, of="pad")
    return dataclasses.replace(
        job,
        marks=job.marks + tuple(mark for hand in hands for mark in hand.marks),
        pads=(Pad("pad", note="height left to the photos"),),
        targets=tuple(dataclasses.replace(t, on=on_pad(truth["target"]["corners"][0])) for t in job.targets),
        fittings=tuple(
            dataclasses.replace(f, on=on_pad(record["centre_on_face"]))
            for f in job.fittings
            for record in truth["fittings"]
            if starboard_word(record["name"]) == f.id
        ),
    )


def on_pad(place: list[float]) -> str | None:
    """The pad, for what anybody standing there sees to sit on it."""
    return "pad" if place[2] > 20.0 else None


def as_taped(job: Job) -> Job:
    """The job with a strip of adhesive tape, laid along the face, for its reference line."""
    line = StraightLine(
        "reference",
        LineKind.STRAIGHTEDGE,
        reference=True,
        u_straight_mm=1.0,
        note="edge of adhesive tape laid along the face",
    )
    return dataclasses.replace(job, lines=(line,))


def tape_only(folder: Path, truth: dict[str, Any], rng: np.random.Generator) -> Job:
    job = astern(folder, truth, rng, DORROWICK, "Dorrowick: a string and seven tape figures")
    tape = json.loads((folder / "tape.json").read_text())
    lengths = tuple(
        KnownLength(
            f"tape_{number}",
            starboard_word(reading["from_point"]),
            starboard_word(reading["to_point"]),
            float(reading["reading_mm"]),
            tape["uncertainty_mm_k2"] / 2,
            instrument="tape",
            note=reading["what"],
        )
        for number, reading in enumerate(tape["readings"], 1)
    )
    return dataclasses.replace(
        job,
        lengths=lengths,
        instruments=(Instrument("tape"),),
        deadrise_readings=deadrise_readings(tape["a_and_b"], tape["uncertainty_mm_k2"] / 2),
    )


def deadrise_readings(figures: dict[str, float], u_mm: float) -> tuple[DeadriseReading, ...]:
    """A and B of the two sides."""
    return tuple(
        DeadriseReading(
            f"a_b_{side}",
            side,
            float(figures["A_mm"]),
            float(figures[f"B_{side}_mm"]),
            float(figures["offset_mm"]),
            u_mm,
        )
        for side in (Side.PORT, Side.STARBOARD)
    )


def profile(folder: Path, truth: dict[str, Any], rng: np.random.Generator) -> Job:
    hand = Clicks(truth, 0, rng)
    pixels = hand.photo["pixels"]
    for number, uv in enumerate(pixels["plumb_line"]["uv"][1::2], 1):
        hand.click(f"plumb_{number}", MarkKind.PLUMB_LINE, uv, sigma=LINE_PX, of="plumb")
    seen = [uv for uv, vis in zip(pixels["keel_line"]["uv"], pixels["keel_line"]["vis"], strict=True) if vis == 2]
    for number, uv in enumerate(seen[::3], 1):
        hand.click(f"keel_line_{number}", MarkKind.KEEL_LINE, uv, of="keel_line")
    for number, uv in enumerate(pixels["near_transom_edge"]["uv"][3:54:8], 1):
        hand.click(f"face_{number}", MarkKind.FACE_LINE, uv, of="face")
    stated = rake(truth, rng)
    hand.click("foot", MarkKind.FACE_LINE, pixels["points"]["keel"]["uv"], side=Side.CENTRE)
    fields = common(folder, truth, PELLAMERE, "Pellamere: profile with a plumb line")
    return Job(**fields, marks=tuple(hand.marks), rake=stated)


def damaged(folder: Path, truth: dict[str, Any], rng: np.random.Generator) -> Job:
    job = astern(folder, truth, rng, QUORREL, "Quorrel: cracks and wet areas before repair")
    hands = [Clicks(truth, index, rng) for index in range(len(truth["photos"]))]
    for hand in hands:
        damage_marks(hand)
    job = dataclasses.replace(job, marks=job.marks + tuple(mark for hand in hands for mark in hand.marks))
    grid = [name for name in truth["points"] if name.startswith("grid_")]
    wet = [np.array(area["points"])[:, :2].mean(axis=0) for area in truth["areas"]]
    near = {name: min(math.dist(truth["points"][name][:2], middle) for middle in wet) for name in grid}
    marked = {mark.point or mark.id for mark in job.marks}
    return dataclasses.replace(
        job,
        defects=DEFECTS,
        meters=(Meter("meter", "pin-less, deep mode (invented)", control="9 on the dry topside, starboard"),),
        meter_readings=tuple(
            MeterReading(f"reading_{n}", "meter", name, float(round(9 + 70 * math.exp(-((near[name] / 150.0) ** 2)))))
            for n, name in enumerate(grid, 1)
            if name in marked
        ),
        soundings=tuple(
            Sounding(f"tap_{n}", name, Sound.DEAD if d < 70 else Sound.DULL if d < 140 else Sound.SHARP)
            for n, (name, d) in enumerate(near.items(), 1)
            if name in marked
        ),
        document=Document(
            "SV-17", "A", conditions="Ashore 12 days, dry and overcast; bottom paint left on.",
            not_accessible="The inside of the transom below the cockpit sole.",
        ),
        settings=dataclasses.replace(job.settings, report_for=Reader.SURVEY),
    )  # fmt: skip


DEFECTS = (
    Defect("crack_a", DefectKind.CRACK, "crack above the wet area, starboard", Priority.FIRST),
    Defect("crack_b", DefectKind.CRACK, "crack in the wet area, starboard", Priority.FIRST),
    Defect("crack_c", DefectKind.CRACK, "crack port", Priority.TIMELY),
    Defect("wet_a", DefectKind.WET, "chalked area starboard", Priority.FIRST, note="reads high and sounds dead"),
    Defect("wet_b", DefectKind.WET, "chalked area port", Priority.TIMELY),
)
"""Names, classes and readings are invented; places and sizes are the truth's."""


def damage_marks(hand: Clicks) -> None:
    """Cracks along their length, chalk lines round the areas, and the meter's grid."""
    for kind, heading in ((MarkKind.CRACK, "cracks"), (MarkKind.AREA, "areas")):
        for name, places in hand.photo["pixels"][heading].items():
            for number, (uv, vis) in enumerate(zip(places["uv"], places["vis"], strict=True), 1):
                if vis == 2:
                    hand.click(f"{name}_{number}", kind, uv, of=name, tie=True)
    for name in hand.truth["points"]:
        if name.startswith("grid_"):
            hand.named(name, MarkKind.GRID, of="grid", sigma=HAND_PX)


Scenario = Callable[[Path, dict[str, Any], np.random.Generator], Job]
SCENARIOS: dict[str, Scenario] = {
    "flat_square_on": square_on,
    "flat_oblique_wide": oblique_wide,
    "flat_profile": profile,
    "tape_only": tape_only,
    "bowed_three": bowed,
    "padded_two": padded,
    "damaged_two": damaged,
}


def marked_job(name: str, seed: int) -> Job:
    """The job of one sample folder, clicked by the hand that `seed` stands for."""
    folder = SAMPLES / name
    truth = json.loads((folder / "truth.json").read_text())
    return SCENARIOS[name](folder, truth, np.random.default_rng(seed))


def plain(record: Any) -> Any:
    """A record as JSON values, fields at their default left out."""
    if isinstance(record, Enum):
        return record.value
    if isinstance(record, tuple):
        return [plain(item) for item in record]
    if not dataclasses.is_dataclass(record):
        return record
    return {
        field.name: plain(getattr(record, field.name))
        for field in dataclasses.fields(record)
        if field.name == "format" or not is_default(field, getattr(record, field.name))
    }


def is_default(field: dataclasses.Field[Any], value: Any) -> bool:
    """Whether a field holds what it would hold if it were left out."""
    if field.default_factory is not dataclasses.MISSING:
        return bool(value == field.default_factory())
    return field.default is not dataclasses.MISSING and bool(value == field.default)


def write_jobs() -> None:
    """Write every sample's job.json anew."""
    for number, name in enumerate(SCENARIOS):
        job = marked_job(name, seed=20250 + number)
        text = json.dumps(plain(job), indent=1, ensure_ascii=False)
        (SAMPLES / name / "job.json").write_text(text + "\n", encoding="utf-8")
        print(f"{name}: {len(job.marks)} marks, {len(job.lengths)} lengths, {len(job.fittings)} fittings")


if __name__ == "__main__":
    write_jobs()
