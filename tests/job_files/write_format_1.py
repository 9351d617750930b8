"""
Wrote the reference files of format 1, once. Kept to show where they came from: never run it over them again.

``python tests/job_files/write_format_1.py FOLDER`` writes what this version would write, for comparison.
"""

from __future__ import annotations

import hashlib
import io
import sys
from pathlib import Path

from PIL import Image, ImageDraw

from digitizer.job.model import (
    AlignedOn,
    Alignment,
    Angle,
    AngleKind,
    Boat,
    BoltPattern,
    Bracket,
    BracketBody,
    Calibration,
    Camera,
    DeadriseReading,
    Defect,
    DefectKind,
    Document,
    Engines,
    Face,
    FaceKind,
    FaceLean,
    Fitting,
    FittingKind,
    FittingShape,
    Flange,
    FlangeBottom,
    Gap,
    GravityKind,
    GravityLine,
    Instrument,
    Job,
    KnownLength,
    LengthUnit,
    LevelReadings,
    LineKind,
    Mark,
    MarkKind,
    Meter,
    MeterReading,
    MirrorPair,
    Pad,
    PaperSize,
    Pattern,
    PatternFace,
    PatternPart,
    PatternTaken,
    Photo,
    PhotoKind,
    Plan,
    Planning,
    PowerRule,
    Priority,
    Rake,
    Rectangle,
    Role,
    ScaleLies,
    Settings,
    Side,
    Sighting,
    Sound,
    Sounding,
    StraightLine,
    TapeFigure,
    Target,
    TargetKind,
    Water,
)
from digitizer.job.model import Path as LengthPath
from digitizer.job.writing import write_bundle, write_job_json

SIZE = (400, 300)
KINDS_THAT_NAME = {
    MarkKind.REFERENCE_LINE: "string",
    MarkKind.RIM: "drain",
    MarkKind.FITTING_CENTRE: "eye",
    MarkKind.FITTING_CORNER: "plate",
    MarkKind.RECTANGLE_CORNER: "sheet",
    MarkKind.LINE_POINT: "batten",
    MarkKind.CRACK: "crack by the drain",
}


def drawing(tint: str) -> bytes:
    """A drawn transom: enough to be a picture, and nobody's boat."""
    image = Image.new("RGB", SIZE, "lightgrey")
    ImageDraw.Draw(image).polygon([(60, 60), (340, 60), (330, 170), (200, 240), (70, 170)], fill=tint, outline="black")
    stream = io.BytesIO()
    image.save(stream, "PNG")
    return stream.getvalue()


def photo(name: str, data: bytes, **more: object) -> Photo:
    """The record of a drawn picture."""
    fingerprint = hashlib.sha256(data).hexdigest()
    return Photo(name, f"photos/{name}.png", fingerprint, *SIZE, captured="2025-05-04T10:20:30", **more)  # type: ignore[arg-type]


def marks() -> tuple[Mark, ...]:
    """One mark of each kind, then the corners of the sheet."""
    each = [
        Mark(f"m{i}", "stern", kind, 60.5 + 10 * i, 61.25 + 5 * i, of=KINDS_THAT_NAME.get(kind))
        for i, kind in enumerate(MarkKind)
    ]
    corners = [
        Mark(f"s{i}", "stern", MarkKind.RECTANGLE_CORNER, x, y, u_px=0.3, of="sheet", point=f"corner {i}")
        for i, (x, y) in enumerate([(100, 90), (140, 90), (140, 130), (100, 130)])
    ]
    again = Mark("again", "port quarter", MarkKind.CHINE, 70.125, 170.5, 1.5, Side.PORT, "m2", None, 3.0, 0.5, 0.2)
    off = Mark("off", "stern", MarkKind.KEEL, 200.0, 240.0, active=False, note="wrong thing")
    pattern = [
        Mark(f"p{i}", "pattern", MarkKind.OUTLINE, 80.0 + 60 * i, 150.0 + 20 * i, of="bottom pattern") for i in range(4)
    ]
    return (*each, *corners, again, off, *pattern)


def whole_job(photos: dict[str, bytes]) -> Job:
    """A job with every record and, between them, every field set."""
    calibration = Calibration(400, 300, 350.5, 1.5, 199.5, 149.5, 2.0, -0.1, 0.02, 0.001, -0.001, 0.0, 0.01, 0.02, 1e-4)
    return Job(
        title="Format 1, every record",
        date="2025-05-04",
        surveyor="A. Surveyor",
        boat=Boat("Invented", "Nobody's yard", "XX-000", "N. N.", "Slip 3, über"),
        settings=Settings(LengthUnit.INCH_SIXTEENTHS, 400.0, PaperSize.LETTER),
        cameras=(Camera("camera"), Camera("phone", calibration, "calibrated indoors")),
        photos=(
            photo("stern", photos["stern"], u_square_deg=5.0),
            photo(
                "port quarter", photos["port quarter"], camera="phone", device="Drawn", cropped=True, note="from port"
            ),
            photo("pattern", photos["pattern"], kind=PhotoKind.PATTERN),
        ),
        marks=marks(),
        lines=(
            StraightLine("string", LineKind.STRING, True),
            StraightLine("batten", LineKind.STRAIGHTEDGE, u_straight_mm=0.3, active=False, note="bent"),
        ),
        lengths=(
            KnownLength("rule", "m1", "m2", 1500.0, 0.5),
            KnownLength(
                "girth", "m2", "m5", 812.5, 1.0, LengthPath.GIRTH, "tape", Role.CHECK, False, "laid on the face"
            ),
        ),
        instruments=(Instrument("tape", "tape", 0.0003, 0.5, "class II"),),
        deadrise_readings=(DeadriseReading("port", Side.PORT, 600.0, 480.5, 400.0, 2.0, note="by tape"),),
        rectangles=(
            Rectangle("sheet", ("corner 0", "corner 1", "corner 2", "corner 3"), 297.0, 210.0, 0.5, 0.05, 3.0),
        ),
        targets=(
            Target("board", TargetKind.CHARUCO, columns=8, rows=6, square_mm=55.0, marker_mm=41.0, thickness_mm=5.0),
            Target("grid", TargetKind.ARUCO_GRID, "DICT_4X4_50", 3, 2, separation_mm=10.0, first_id=4, flush=False),
            Target(
                "single",
                TargetKind.ARUCO_MARKER,
                check_bar_nominal_mm=150.0,
                check_bar_measured_mm=149.6,
                u_scale=0.0005,
                active=False,
            ),
        ),
        sightings=(Sighting("board", "stern", (0, 7), (100.25, 150.5), (90.125, 90.75), (0.08, 0.08)),),
        mirror_pairs=(MirrorPair("chines", "m2", "m3"), MirrorPair("keel", "m1", "m1", 3.0)),
        angles=(
            Angle("square", AngleKind.RIGHT_ANGLE, ("m1", "m2"), ("m3", "m4")),
            Angle("brace", AngleKind.ANGLE, ("m1", "m2"), ("m3", "m4"), -12.5, 0.2),
        ),
        gravity_lines=(
            GravityLine("level", GravityKind.LEVEL, ("m2", "m3")),
            GravityLine("plumb", GravityKind.PLUMB, ("m4", "m5"), 0.1, True),
        ),
        face=Face(FaceKind.BOWED, "by eye along a batten"),
        gaps=(Gap("batten gap", 2000.0, 41.0, 2.0),),
        pads=(Pad("pad", 30.0, 1.0, 6.0, note="round the old opening"),),
        face_lean=FaceLean(11.5),
        level_readings=LevelReadings(14.5, 1.5, 0.2),
        rake=Rake(13.0, 0.25, "by level, keel taken off"),
        fittings=(
            Fitting("drain", FittingKind.DRAIN, on="pad"),
            Fitting("eye", FittingKind.EYE, FittingShape.POINT, "port eye", 30.0, 2.0, plan=Plan.MOVES),
            Fitting("plate", FittingKind.TAB_PLATE, FittingShape.RECTANGLE, plan=Plan.WORKED_AROUND),
            Fitting("through-hull", FittingKind.THROUGH_HULL, diameter_mm=64.0, u_diameter_mm=0.2, u_round_mm=0.5),
        ),
        defects=(Defect("crack by the drain", DefectKind.CRACK, "crack", Priority.TIMELY, 0.5),),
        meters=(Meter("meter", "hand meter, shallow", "relative, 0 to 30", 0.0, 30.0, "8 on the port topside"),),
        meter_readings=(MeterReading("r1", "meter", "m1", 12.0),),
        soundings=(Sounding("t1", "m2", Sound.DULL),),
        patterns=(
            Pattern(
                *("bottom pattern", "pattern", PatternPart.PORT, ("p0", "p1", "p2", "p3")),
                aligned=(Alignment("p0", "m2"), Alignment("p3", AlignedOn.CENTRELINE)),
                face_up=PatternFace.FORWARD,
                taken=PatternTaken.STIFF,
                thickness_mm=6.0,
                u_thickness_mm=0.2,
                scale_lies=ScaleLies.PATTERN,
                u_cut_mm=1.5,
                note="scribed",
            ),
        ),
        document=Document("17", "B", "A. Surveyor", "three days ashore", "inside", "by daylight only"),
        tape_figures=(TapeFigure("beam", "chine_beam", "78 3/8 in", "1/4 in", note="by the owner"),),
        flange=Flange(
            *(900.0, 450.0, FlangeBottom.FLAT, 30.0, None, None, 12.0, 40.0, 30.0, 20.0, 2.0),
            bolts=BoltPattern(3, 150.0, 13.0, 35.0),
            note="first idea",
        ),
        planning=Planning(
            Engines(2, 150.0, 220.0, 660.0, "as bought"),
            Engines(2, 200.0, 240.0),
            Bracket(60.0, 15.0, 0.2, 2, 400.0, 500.0, BracketBody(600.0, 800.0, 300.0, 18.0, 700.0, 250.0)),
            Water.FRESH,
            PowerRule(5800.0, 10.0, True, 2400.0, 2300.0, True, 510.0, True),
        ),
        note="Invented for this file.\nSecond line.",
    )


def write(folder: Path) -> None:
    """The plain form with its pictures, and the bundle of the same job."""
    photos = {"stern": drawing("ivory"), "port quarter": drawing("white"), "pattern": drawing("tan")}
    job = whole_job(photos)
    (folder / "photos").mkdir(parents=True)
    for record in job.photos:
        (folder / record.file).write_bytes(photos[record.id])
    write_job_json(job, folder / "job.json")
    write_bundle(job, lambda record: photos[record.id], folder / "job.transom")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
