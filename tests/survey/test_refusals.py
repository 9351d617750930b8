"""What is refused, each with the sentence that says what to do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from digitizer.errors import AdjustmentError, RankDeficientError
from digitizer.job.model import KnownLength, Mark, MarkKind, Role, Side
from tests.builders import HEIGHT_PX, WIDTH_PX
from tests.survey.exact import Board, Case, Spot, a_case, all_spots, outline_spots, string_spots

TAPED = (("chine_port", "chine_starboard"), ("top_port", "top_starboard"), ("chine_port", "top_starboard"),
         ("keel", "top_port"))  # fmt: skip


def taped() -> Case:
    case = a_case(boards=())
    for first, second in TAPED:
        case = case.with_length(first, second)
    return case


def remarked(case: Case, change: Callable[[Mark], Mark | None]) -> Case:
    """The case with every mark changed, or dropped."""
    return case.but(marks=tuple(m for mark in case.job.marks if (m := change(mark)) is not None))


def exchanged(mark: Mark) -> Mark:
    other = {Side.PORT: Side.STARBOARD, Side.STARBOARD: Side.PORT}
    return replace(mark, side=other[Side(mark.side)]) if mark.side else mark


def mirrored(mark: Mark) -> Mark:
    return replace(mark, x_px=WIDTH_PX - 1 - mark.x_px)


def upside_down(mark: Mark) -> Mark:
    return replace(mirrored(mark), y_px=HEIGHT_PX - 1 - mark.y_px)


def on_one_line(mark: Mark) -> Mark:
    return replace(mark, y_px=1200.0 + 0.1 * mark.x_px)


def only(*names: str) -> Callable[[Mark], Mark | None]:
    return lambda mark: mark if mark.id.startswith(names) else None


def without(kind: MarkKind) -> Callable[[Mark], Mark | None]:
    return lambda mark: None if mark.kind is kind else mark


def keel_above(case: Case) -> Case:
    spots = dict(case.spots) | {"keel": Spot(0.0, 960.0, MarkKind.KEEL)}
    return a_case(
        {n: s for n, s in spots.items() if s.kind in (MarkKind.KEEL, MarkKind.REFERENCE_LINE, MarkKind.CHINE)}
    )


REFUSALS = {
    "sides-exchanged": (
        lambda: remarked(a_case(), exchanged),
        r"^Port and starboard are exchanged at chine_inner_port, .*: seen from astern, starboard is on the right\. "
        r"Exchange the sides, or flip the photo back if it is mirrored\.$",
    ),
    "one-side-exchanged": (
        lambda: remarked(a_case(), lambda m: exchanged(m) if m.id == "top_port" else m),
        r"^Port and starboard are exchanged at top_port: ",
    ),
    "photo-mirrored": (lambda: remarked(taped(), mirrored), "^Port and starboard are exchanged at "),
    "photo-upside-down": (
        lambda: remarked(taped(), upside_down),
        r"^The keel lies above the reference line: exchange the marks, or turn the photo the right way up\.$",
    ),
    "keel-above-the-line": (lambda: keel_above(a_case()), "^The keel lies above the reference line: "),
    "all-on-one-line": (
        lambda: remarked(a_case(), on_one_line),
        r"^All marks lie on one line: mark the keel and the chines as well as the reference line\.$",
    ),
    "outside-the-picture": (
        lambda: a_case().with_mark_moved("keel", dx=3000.0),
        r"^Mark keel lies outside photo astern at \([0-9.]+, [0-9.]+\) px; the picture is 4000 × 3000: move the mark, "
        r"or check that it belongs to this photo\.$",
    ),
    "no-marks": (lambda: a_case().but(marks=()), "^No photo holds a mark on the transom: mark at least the keel, "),
    "all-marks-off": (
        lambda: remarked(a_case(), lambda m: replace(m, active=False)),
        "^No photo holds a mark on the transom",
    ),
    "photo-off": (
        lambda: a_case().but(photos=(replace(a_case().job.photos[0], active=False),)),
        "^No photo holds a mark on the transom",
    ),
    "one-mark": (lambda: remarked(a_case(), only("keel")), "^One mark alone measures nothing: mark the reference line"),
    "no-origin": (
        lambda: remarked(remarked(a_case(), without(MarkKind.KEEL)), without(MarkKind.BOTTOM_EDGE)),
        "^Nothing gives the keel point: mark the keel, or two or more points on each bottom edge",
    ),
}


@pytest.mark.parametrize(("make", "sentence"), REFUSALS.values(), ids=REFUSALS)
def test_refused(make: Callable[[], Case], sentence: str) -> None:
    """The job is refused in a sentence that names what is wrong and what to do."""
    with pytest.raises(AdjustmentError, match=sentence):
        make().survey()


UNKEPT = KnownLength("beam", "chine_port", "chine_starboard", 2300.0)
NO_SCALE = {
    "nothing-known": lambda: a_case(boards=()),
    "length-switched-off": lambda: a_case(boards=()).but(lengths=(replace(UNKEPT, active=False),)),
    "length-kept-out-as-a-check": lambda: a_case(boards=()).but(lengths=(replace(UNKEPT, role=Role.CHECK),)),
    "one-end-not-marked": lambda: a_case(boards=()).but(lengths=(replace(UNKEPT, from_point="elsewhere"),)),
    "board-switched-off": lambda: a_case().but(targets=(replace(Board().record, active=False),)),
}


@pytest.mark.parametrize("make", NO_SCALE.values(), ids=NO_SCALE)
def test_no_scale(make: Callable[[], Case]) -> None:
    """Where nothing has a known length, the refusal says that it is the scale, and how to give it one."""
    with pytest.raises(RankDeficientError, match=r"^Nothing fixes the scale: add one known length, for example") as e:
        make().survey()
    assert e.value.undetermined == ("the scale",)


def test_no_scale_because_the_target_was_not_found() -> None:
    """A target that no photo shows is named in the refusal."""
    case = replace(a_case(), sightings=())
    with pytest.raises(RankDeficientError, match=r"\(the target board was not found in any photo\)"):
        case.survey()


def test_one_length_leaves_the_tilt_open() -> None:
    """One known length alone leaves the camera's place open: the refusal names the photo and what would settle it."""
    case = a_case(boards=()).with_length("chine_port", "chine_starboard")
    with pytest.raises(RankDeficientError, match=r"^Nothing fixes where the camera of astern stood: add a printed"):
        case.survey()


def test_tilt_all_but_undetermined() -> None:
    """Where coarse widths hold the tilt so loosely that first order says nothing, that is refused too."""
    case = a_case(boards=()).with_length("chine_port", "chine_starboard", u=20.0)
    for first, second in (("top_port", "top_starboard"), ("chine_port", "top_port")):
        case = case.with_length(first, second, u=20.0)
    with pytest.raises(RankDeficientError, match=r"^Nothing fixes how photo astern is tilted .* roughly square") as e:
        case.survey()
    assert e.value.undetermined == ("how photo astern is tilted against the transom",)


def test_a_free_target_alone_does_not_place_the_transom() -> None:
    """A board held in front of the transom says nothing of where the face is: refused, not guessed."""
    board = Board(x=-300.0, y=500.0, z=400.0, tilt_deg=(8.0, -15.0), flush=False)
    with pytest.raises(RankDeficientError, match=r"^Nothing fixes .*known lengths"):
        a_case(boards=[board]).survey()


def test_lengths_that_contradict_one_another_beyond_sense() -> None:
    """A beam given as 230 mm beside others in metres is either named as wrong or refused, never averaged in silence."""
    case = taped()
    lengths = tuple(replace(k, length_mm=230.0) if k.from_point == "keel" else k for k in case.job.lengths)
    try:
        survey = case.but(lengths=lengths).survey()
    except AdjustmentError:
        return
    assert {"outlier", "undecided", "global_test"} & {f.code for f in survey.findings}


def test_a_line_across_the_picture_is_not_one_line_when_something_is_off_it() -> None:
    """Marks on one line but for the keel are no degenerate job."""
    spots = string_spots() | {
        n: s for n, s in outline_spots().items() if n in ("keel", "chine_port", "chine_starboard")
    }
    assert a_case(spots).survey().dimensions


def test_marks_on_the_picture_border_are_inside() -> None:
    """The border of the picture is half a pixel beyond the centre of its first and last pixels."""
    border = (Mark("corner", "astern", MarkKind.OUTLINE, -0.5, HEIGHT_PX - 0.5),)
    case = a_case()
    assert case.but(marks=case.job.marks + border).survey().dimensions
    beyond = (replace(border[0], x_px=float(np.nextafter(-0.5, -1.0))),)
    with pytest.raises(AdjustmentError, match="lies outside photo"):
        case.but(marks=case.job.marks + beyond).survey()


def test_cancelled() -> None:
    """Work that is cancelled ends without an answer."""
    from digitizer.survey.measure import measure

    case = a_case(all_spots())
    with pytest.raises(InterruptedError):
        measure(case.job, case.facts, case.sightings, cancelled=lambda: True)
