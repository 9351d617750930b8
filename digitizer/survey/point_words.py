"""What an open point says to whoever has the boat, by the step that is missing or the finding that speaks."""

from __future__ import annotations

from typing import NamedTuple

from digitizer.survey.steps import StepName


class Said(NamedTuple):
    """How much it would help, what is the matter, what to do; braces take the name of the thing."""

    weight: float
    what: str
    ask: str
    kind: str = "missing"


_ONE_MORE_LENGTH = (
    "Please measure one more length straight across the boat with a tape, such as from chine to chine, and tell us "
    "between which two points."
)
_AGAIN = "Please measure it once more, and tell us from where to where the tape was held."
_ANGLES = (
    "Please hold a level (a phone's will do) on the middle of the transom, then along the keel, and send both readings "
    "with which end was higher."
)

SHOWN: dict[StepName, Said] = {
    StepName.PHOTOS: Said(
        100,
        "We have no photo of the transom yet.",
        "A photo from straight behind, far enough away that the whole transom is well inside the picture.",
    ),
    StepName.KNOWN_LENGTHS: Said(
        98,
        "Nothing in the photos has a known length, so nothing has a size.",
        "Please fix the printed target flat to the transom and take the photo again, or measure a long distance "
        "between two points that can be seen in it.",
    ),
    StepName.REFERENCE_LINE: Said(
        82,
        "There is no straight line across the transom to measure from.",
        "Please stretch a thin string tight across the transom, nearly from side to side, and take the photo again.",
    ),
    StepName.BOTTOM: Said(
        80,
        "The bottom edge is not clear enough.",
        "A photo that shows the whole bottom edge, from keel to both chines, with nothing of the trailer before it.",
    ),
    StepName.OUTLINE: Said(
        34,
        "The top edge is not clear enough.",
        "A photo that shows the whole top edge and both upper corners.",
    ),
    StepName.FITTINGS: Said(
        42,
        "We don't know what is fitted to the transom.",
        "Please list everything on it (outlets, drain, lights, transducers, tabs, anodes, old holes), and say what may "
        "be moved.",
    ),
    StepName.TAPE: Said(
        30,
        "No tape figure is there to check the photo with.",
        "Please measure from the string down to the bottom edge, in the middle and the same distance out on each side, "
        "and tell us that distance.",
    ),
}

ASKED: dict[str, Said] = {
    "too_many_misfits": Said(
        97,
        "Photos and figures do not fit one another at all.",
        "Please check that all of them are of the same boat, and hold a straightedge across the transom: does it touch "
        "everywhere?",
        "contradictory",
    ),
    "target_slipped": Said(
        94,
        "The printed board lay elsewhere in one of the photos.",
        "Please fix the board so that it can't slip, and take the photos again without touching it.",
        "contradictory",
    ),
    "mirror_pose": Said(
        95,
        "From this photo alone we can't tell which way the camera was tilted.",
        "One more photo from further to one side, or one more length across the boat.",
        "weak",
    ),
    "face_bowed": Said(
        93,
        "The transom seems to be curved from side to side.",
        "Please hold a straightedge across it at half height, and measure the gap in the middle, or at both ends.",
        "contradictory",
    ),
    "tape_disagrees": Said(91, "What was measured as {} does not agree with the photo.", _AGAIN, "contradictory"),
    "tape_diagnosis": Said(
        89,
        "One of the figures taken by tape may hold a slip.",
        "Please take the tape figures again: from where to where, along what, and in which unit.",
        "contradictory",
    ),
    "tape_suspicion": Said(
        45,
        "One of the figures taken by tape may hold a small slip.",
        "Please read the tape once more at the same places, the fraction of the inch above all.",
        "weak",
    ),
    "outlier": Said(
        90,
        "What we have of {} does not agree with everything else.",
        "Please check {} on the boat, measure it once more if it was measured, and send a photo of it from nearer.",
        "contradictory",
    ),
    "undecided": Said(
        86,
        "Of several figures one must be wrong, {} perhaps, and we can't tell which.",
        "Please measure {} once more, and one more length beside it.",
        "contradictory",
    ),
    "rake_disagrees": Said(
        88, "The figures of the transom angle do not agree with one another.", _ANGLES, "contradictory"
    ),
    "levels_exchanged": Said(87, "The two level readings may have been exchanged.", _ANGLES, "contradictory"),
    "rake_is_deadrise": Said(
        87, "The transom angle given may be the V of the bottom instead.", _ANGLES, "contradictory"
    ),
    "rake_is_lean": Said(84, "The transom angle given may hold for a level keel only.", _ANGLES, "contradictory"),
    "rake_negative": Said(84, "The transom angle given leans the unusual way.", _ANGLES, "contradictory"),
    "rake_unusual": Said(70, "The transom angle given is unusual.", _ANGLES, "contradictory"),
    "steep_keel": Said(69, "The keel was steeper than is usual ashore.", _ANGLES, "contradictory"),
    "lean_is_not_rake": Said(68, "We know how the transom leans, but not how the keel lies.", _ANGLES),
    "keel_not_levelled": Said(40, "The keel reads exactly level.", _ANGLES, "weak"),
    "no_rake": Said(50, "The angle of the transom is not known.", _ANGLES),
    "only_rake": Said(
        96,
        "We have a photo from the side only.",
        "A photo from straight behind the boat that shows the whole transom, with something of known length on it.",
    ),
    "wide_profile": Said(
        38,
        "The photo from the side was taken from near by.",
        "One more photo from straight abeam, from as far away as the yard allows.",
        "weak",
    ),
    "no_reference_line": SHOWN[StepName.REFERENCE_LINE],
    "crowned_reference": Said(
        76,
        "Heights were measured from the top edge, which is usually curved.",
        "Please stretch a thin string tight across the transom below the top edge, and take the photo again.",
        "weak",
    ),
    "bent_reference": Said(
        76,
        "The line across the transom is not straight.",
        "Please stretch the string again so that it touches nothing between its ends, and take the photo again.",
        "contradictory",
    ),
    "unchecked": Said(
        62,
        "The size of everything rests on {} alone.",
        _ONE_MORE_LENGTH,
        "weak",
    ),
    "poorly_checked": Said(31, "{} is hardly checked by anything else.", _ONE_MORE_LENGTH, "weak"),
    "global_test": Said(
        58,
        "The figures scatter more than they should.",
        "Please check that the printed target lies flat and that the tape was straight, and send one more photo.",
        "contradictory",
    ),
    "assumption": Said(
        52,
        "Something about {} is not as it usually is.",
        "Please send the photos as they left the camera, not by a messenger, and say how thick the target is.",
        "contradictory",
    ),
    "disagreement": Said(
        48,
        "The bottom is not straight, or not alike on both sides.",
        "Please hold a straightedge along the bottom edge on each side and photograph it from behind.",
        "contradictory",
    ),
    "not_marked": Said(45, "We could not find {} well enough.", "A photo from nearer that shows {} whole."),
    "no_keel": Said(
        43,
        "The lowest point of the bottom is hidden.",
        "A photo in which the keel at the transom can be seen, with nothing before it.",
        "weak",
    ),
    "left_out": Said(
        41,
        "{} could not be used: its ends are not to be seen.",
        "Please tell us between which two points {} was taken, and send a photo that shows both.",
    ),
    "face_untested": Said(
        37,
        "We don't know whether the transom is flat from side to side.",
        "Please hold a straightedge across it at half height, and measure the gap in the middle, or at both ends.",
    ),
    "no_focal_length": Said(
        33,
        "{} has lost what the camera wrote into it.",
        "Please send the photos as files straight from the camera or phone.",
        "weak",
    ),
    "oblique": Said(
        26, "{} was taken from far to one side.", "One more photo standing square behind the boat.", "weak"
    ),
    "soft": Said(28, "{} is not sharp.", "The same photo again, the camera held still and in good light.", "weak"),
    "clipped": Said(
        24, "Parts of {} are too bright or too dark.", "The same photo again without the sun on the transom.", "weak"
    ),
}

INTERNAL = frozenset(
    {
        "face_flat_enough",
        "flange_on_pad",
        "outline_crosses",
        "marks_too_close",
        "not_snapped",
        "near_edge_of_bow",
        "profile_left_out",
    }
)
"""Findings that whoever works on the job settles without the boat; so are all of the planned flange."""
FLANGE = "flange_"
