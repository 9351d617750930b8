"""A survey made by hand from the known truth of a sample photo, with invented uncertainties, and its job."""

import json
import math
from pathlib import Path

import numpy as np

from digitizer.job.model import (
    Boat,
    Fitting,
    FittingKind,
    FittingShape,
    Job,
    KnownLength,
    Mark,
    MarkKind,
    PaperSize,
    Photo,
    Settings,
    Side,
    StraightLine,
)
from digitizer.survey.model import (
    Adjustment,
    Contribution,
    Dimension,
    Finding,
    FittingResult,
    ObservationResult,
    ObservationState,
    PhotoResult,
    Quantity,
    Severity,
    Survey,
    SurveyPoint,
    TapeCheck,
)

FOLDER = Path(__file__).parents[2] / "sample_images" / "flat_square_on"
_BUDGET = (
    ("clicks on the photo", 0.55),
    ("lens", 0.2),
    ("definition of the chine", 0.15),
    ("rule", 0.06),
    ("target scale", 0.04),
)


def dimension(code, label, group, value, u, quantity=Quantity.LENGTH, **more):
    budget = tuple(Contribution(source, u * math.sqrt(share), share) for source, share in _BUDGET)
    given = {"lower": value - 2 * u, "upper": value + 2 * u, "made_from": (), "budget": budget} | more
    return Dimension(code, label, group, quantity, value, u, **given)


def a_job(unit="mm", paper=PaperSize.A4, **more):
    written = json.loads((FOLDER / "job.json").read_text(encoding="utf-8"))
    marks = tuple(_mark(each) for each in written["marks"])
    fittings = tuple(_fitting(each) for each in written["fittings"])
    given = {
        "title": written["title"],
        "date": written["date"],
        "surveyor": written["surveyor"],
        "boat": Boat(**written["boat"]),
        "settings": Settings(unit=unit, paper=paper),
        "photos": tuple(Photo(**each) for each in written["photos"]),
        "marks": marks,
        "lines": tuple(StraightLine(**each) for each in written["lines"]),
        "lengths": tuple(KnownLength(**each) for each in written["lengths"]),
        "fittings": fittings,
        "note": written["note"],
    }
    return Job(**(given | more))


def _mark(each):
    side = Side(each["side"]) if "side" in each else None
    return Mark(**(each | {"kind": MarkKind(each["kind"]), "side": side}))


def _fitting(each):
    shape = FittingShape(each.get("shape", "circle"))
    return Fitting(**(each | {"kind": FittingKind(each["kind"]), "shape": shape}))


def _truth():
    return json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))


def a_survey(**more):
    truth = _truth()
    given = {
        "program_version": "0.1.0",
        "title": "Pellamere, from astern: board, string and rule",
        "dimensions": _dimensions(),
        "fittings": _fittings(truth),
        "points": _points(truth),
        "outline": _outline(truth),
        "reference_line": tuple((end[0], 888.0) for end in (truth["points"]["ref_port"], truth["points"]["ref_stbd"])),
        "observations": _observations(),
        "checks": _checks(),
        "findings": _findings(),
        "photos": (_photo(truth["photos"][0]),),
        "adjustment": Adjustment(214, 31, 183.0, 190.2, 1.04, 147.5, 222.4, True, 1.0, 6),
    }
    return Survey(**(given | more))


def a_picture(rows=750, columns=1000):
    """Grey with a bright cross, in the proportions of the sample photo."""
    picture = np.full((rows, columns, 3), 120, dtype=np.uint8)
    picture[rows // 2 - 4 : rows // 2 + 4] = 240
    picture[:, columns // 2 - 4 : columns // 2 + 4] = 240
    return picture


def _dimensions():
    degrees = {"quantity": Quantity.ANGLE}
    return (
        dimension("deadrise_chord_port", "Deadrise port, keel to chine", "Deadrise", 18.42, 0.06, **degrees),
        dimension("deadrise_chord_starboard", "Deadrise starboard, keel to chine", "Deadrise", 18.79, 0.065, **degrees),
        dimension("deadrise_edge_port", "Deadrise port, fitted bottom edge", "Deadrise", 18.45, 0.08, **degrees),
        dimension(
            "deadrise_edge_starboard", "Deadrise starboard, fitted bottom edge", "Deadrise", 18.74, 0.08, **degrees
        ),
        dimension("section_deadrise_port", "Deadrise port in the section", "Deadrise", 17.95, 0.09, **degrees),
        dimension(
            "section_deadrise_starboard", "Deadrise starboard in the section", "Deadrise", 18.29, 0.09, **degrees
        ),
        dimension("a_centre", "A, reference line to keel", "Deadrise", 888.0, 1.1),
        dimension("b_port", "B port, 381 mm out", "Deadrise", 760.1, 0.9),
        dimension("b_starboard", "B starboard, 381 mm out", "Deadrise", 759.4, 0.95),
        dimension("chine_beam", "Chine beam, outer edges", "Widths", 2120.2, 1.6),
        dimension("chine_beam_inner", "Chine beam, inner edges", "Widths", 1980.4, 1.7),
        dimension("top_width", "Width at the top corners", "Widths", 2237.4, 2.2),
        dimension("height_centre", "Height on the centreline", "Heights", 1040.3, 1.2),
        dimension("height_port", "Height of the top corner, port", "Heights", 940.4, 1.5),
        dimension("height_starboard", "Height of the top corner, starboard", "Heights", 939.8, 1.5),
        dimension("height_chine_port", "Height of the chine, port", "Heights", 328.1, 1.4),
        dimension("height_chine_starboard", "Height of the chine, starboard", "Heights", 328.5, 1.4),
        dimension("crown", "Crown of the top edge", "Edges", 30.2, 0.8, note="over the marked part of the top edge"),
        dimension(
            "reference_straightness", "Reference line, largest departure", "Edges", 0.4, 0.2, lower=0.1, upper=0.9
        ),
        dimension("keel_from_middle", "Keel from the middle of the chines", "Checks", -0.4, 0.9),
    )


def _outline(truth):
    """Every eighth point of the true outline, and its corners."""
    corners = [tuple(place) for place in truth["points"].values()]
    every = enumerate(tuple(place) for place in truth["outline"])
    kept = tuple(place[:2] for index, place in every if index % 8 == 0 or place in corners)
    return (*kept, kept[0])


def _points(truth):
    wanted = {
        "keel": ("keel", None),
        "chine_outer_port": ("chine", "port"),
        "chine_outer_stbd": ("chine", "starboard"),
        "chine_inner_port": ("chine_inner", "port"),
        "chine_inner_stbd": ("chine_inner", "starboard"),
        "corner_low_port": ("top_corner", "port"),
        "corner_low_stbd": ("top_corner", "starboard"),
    }
    places = truth["points"]
    return tuple(SurveyPoint(name, kind, side, *places[name], 0.8, 0.8) for name, (kind, side) in wanted.items())


def _fittings(truth):
    job = a_job()
    names = [fitting.id for fitting in job.fittings]
    plans = ("moves", "undecided", "stays", "worked_around")
    return tuple(
        _fitting_result(each, fitting, names[(index + 1) % len(names)], plans[index % 4])
        for index, (each, fitting) in enumerate(zip(truth["fittings"], job.fittings, strict=False))
    )


def _fitting_result(each, fitting, nearest, plan):
    x, y, _ = each["centre_on_face"]
    rectangle = fitting.shape is FittingShape.RECTANGLE
    size = dimension(f"{fitting.id}_d", "diameter", "Fittings", each.get("flange_od_mm") or 60.0, 0.5)
    return FittingResult(
        id=fitting.id,
        name=fitting.name,
        kind=fitting.kind,
        shape=fitting.shape,
        plan=plan,
        x=dimension(f"{fitting.id}_x", f"{fitting.name} from the centreline", "Fittings", x, 0.7),
        below_reference=dimension(f"{fitting.id}_down", f"{fitting.name} below", "Fittings", 888.0 - y, 0.8),
        y=dimension(f"{fitting.id}_y", f"{fitting.name} above the keel", "Fittings", y, 0.8),
        diameter=None if rectangle else size,
        width=dimension("w", "width", "Fittings", 62.0, 0.6) if rectangle else None,
        height=dimension("h", "height", "Fittings", 118.0, 0.6) if rectangle else None,
        proud_mm=each["proud_mm"],
        u_proud_mm=1.5,
        nearest=nearest,
        clearance=dimension(f"{fitting.id}_gap", "clearance", "Fittings", 151.3, 1.1),
        roll_rad=0.0,
    )


def _observations():
    used = [
        ObservationResult(
            f"mark {mark.id.replace('_', ' ')}",
            mark.id,
            "image_point",
            "px",
            None,
            0.3,
            0.7,
            0.6,
            0.5 + i % 5 * 0.4,
            3.7,
            ObservationState.USED,
            "photo_1",
        )
        for i, mark in enumerate(a_job().marks)
    ]
    more = [
        ObservationResult(
            "rule 1500 mm", "rule", "known_length", "mm", 1500.0, 0.2, 0.5, 0.31, 0.7, 3.7, ObservationState.USED
        ),
        ObservationResult(
            "tape chine to chine 2145 mm",
            "beam_tape",
            "known_length",
            "mm",
            2145.0,
            -24.8,
            2.0,
            0.93,
            -12.9,
            8.6,
            ObservationState.REJECTED,
        ),
        ObservationResult(
            "mark light port rim 3",
            "light_port_rim_3",
            "image_point",
            "px",
            None,
            4.1,
            0.7,
            0.8,
            6.5,
            3.2,
            ObservationState.REJECTED,
            "photo_1",
        ),
        ObservationResult(
            "mark keel, across",
            "keel",
            "image_point",
            "px",
            None,
            0.0,
            0.7,
            0.0,
            None,
            None,
            ObservationState.USED,
            "photo_1",
        ),
        ObservationResult(
            "tape of the top width",
            "top_tape",
            "known_length",
            "mm",
            2239.0,
            -1.6,
            1.5,
            1.0,
            -0.7,
            6.0,
            ObservationState.KEPT_OUT,
        ),
    ]
    return (*used, *more)


def _checks():
    return (
        TapeCheck("top_tape", "Width at the top by tape", 2239.0, 3.0, 2237.4, 4.4, Quantity.LENGTH, -0.3, True),
        TapeCheck(
            "owner", "Deadrise port from the owner's A and B", 16.9, 0.6, 18.42, 0.12, Quantity.ANGLE, 2.48, False
        ),
    )


def _findings():
    return (
        Finding("unchecked", Severity.NOTE, "keel", "Nothing checks the keel point: mark it in a second photo."),
        Finding(
            "rejected",
            Severity.SERIOUS,
            "beam_tape",
            "The tape figure 2145 mm disagrees with everything else by 25 mm: measure it again.",
        ),
        Finding(
            "weak_lens",
            Severity.WARNING,
            "photo_1",
            "The lens is known by its nominal focal length: a string stretched upright would halve U of the widths.",
        ),
    )


def _photo(seen):
    camera = seen["camera"]
    names = ("fx", "cx", "cy", "k1", "k2", "p1", "p2")
    return PhotoResult(
        id="photo_1",
        file="photo_1.jpg",
        sha256="7587c58dc008aa2e020212df1f8b658f43c2c6a93306be7102762dd777ec06c8",
        width_px=4000,
        height_px=3000,
        captured="2025-05-06T10:12:33",
        device="Hollowell K2",
        f_px=camera["fx"],
        u_f_px=9.0,
        k1=camera["k1"],
        u_k1=0.004,
        distance_mm=2698.5,
        off_square_deg=6.9,
        sample_distance_mm=0.91,
        lens_source="nominal focal length in the photo, adjusted",
        camera_matrix=(*(camera[name] for name in names), 0.0),
        rotation=tuple(value for row in camera["R_transom_to_camera"] for value in row),
        translation=tuple(camera["t_mm"]),
    )
