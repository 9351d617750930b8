"""Records of a job that don't fit together, each told with its place."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from digitizer.errors import JobFileError
from digitizer.job.fields import job_from_text
from digitizer.job.model import Job, KnownLength, Mark, MarkKind, Photo, StraightLine, Target, TargetKind
from digitizer.job.problems import refusal
from digitizer.job.validation import check_references, name_fault
from tests.job.jobs import TEXT, Fields, reference_fields

REFERENCE_JOB = job_from_text(TEXT, "job.json")


def setting(path: str, value: object) -> Callable[[Fields], None]:
    """A change of one field, such as ``marks[3].photo``."""
    *steps, last = path.replace("[", ".").replace("]", "").split(".")

    def change(fields: Any) -> None:
        for step in steps:
            fields = fields[int(step) if step.isdigit() else step]
        fields[int(last) if last.isdigit() else last] = value

    return change


def problems(change: Callable[[Fields], None]) -> JobFileError:
    fields = reference_fields()
    change(fields)
    with pytest.raises(JobFileError) as refused:
        job_from_text(json.dumps(fields), "job.json")
    return refused.value


def test_sound_job_has_no_problems() -> None:
    """The reference job, which has every record, passes."""
    assert check_references(REFERENCE_JOB) == ()


LISTS = [name for name, value in reference_fields().items() if isinstance(value, list) and name != "sightings"]


@pytest.mark.parametrize("name", LISTS)
def test_id_used_twice_is_refused(name: str) -> None:
    """In each list an id names one record only."""
    refused = problems(lambda fields: fields[name].append(dict(fields[name][0])))
    assert f"{name}[{len(reference_fields()[name])}].id" in refused.places
    assert "is already used by" in str(refused)


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        ("photos[0].camera", "nobody", "no camera"),
        ("photos[0].file", "/etc/passwd", "relative to the job"),
        ("photos[0].file", "../stern.png", "inside the job's folder"),
        ("photos[0].file", "C:/stern.png", "relative to the job"),
        ("photos[0].file", "photos\\stern.png", "with / rather"),
        ("photos[0].file", "photos/", "names a folder"),
        ("photos[0].file", "Job.json", "the job itself"),
        ("photos[1].file", "photos/stern.png", "already used"),
        ("photos[0].sha256", "g" * 64, "hexadecimal"),
        ("marks[0].photo", "nobody", "no photo"),
        ("marks[0].x_px", -0.51, "outside photo"),
        ("marks[0].x_px", 399.51, "outside photo"),
        ("marks[0].y_px", 299.51, "outside photo"),
        ("marks[0].of", "batten", "no reference line"),
        ("marks[4].of", "nobody", "no line, fitting, rectangle or pattern"),
        ("marks[8].of", "string", "no fitting"),
        ("marks[8].of", None, "must name its fitting"),
        ("marks[9].of", None, "must name its fitting"),
        ("marks[10].of", "sheet", "no fitting"),
        ("marks[12].of", None, "must name its rectangle"),
        ("marks[12].of", "drain", "no rectangle"),
        ("marks[13].of", None, "must name its line"),
        ("marks[13].of", "sheet", "no line"),
        ("lines[1].reference", True, "there is only one"),
        ("lengths[0].from_point", "nobody", "no point"),
        ("lengths[0].to_point", "nobody", "no point"),
        ("lengths[0].to_point", "m1", "to itself"),
        ("lengths[1].instrument", "nobody", "no instrument"),
        ("deadrise_readings[0].side", "centre", "to port or to starboard"),
        ("rectangles[0].corners[2]", "nobody", "no point"),
        ("rectangles[0].corners", ["corner 0", "corner 1", "corner 0", "corner 3"], "one point twice"),
        ("targets[0].square_mm", None, "the size of its squares"),
        ("targets[0].square_mm", 41.0, "greater than marker_mm"),
        ("targets[0].columns", 1, "at least 2"),
        ("targets[0].rows", 1, "at least 2"),
        ("targets[0].dictionary", "DICT_5X6_100", "no marker dictionary"),
        ("targets[1].separation_mm", None, "the gap between"),
        ("targets[2].check_bar_nominal_mm", None, "is needed beside"),
        ("sightings[0].target", "nobody", "no target"),
        ("sightings[0].photo", "nobody", "no photo"),
        ("sightings[0].x_px", [1.0], "one value for each of the 2"),
        ("sightings[0].y_px", [1.0, 2.0, 3.0], "one value for each of the 2"),
        ("sightings[0].u_px[1]", 0.0, "found 0"),
        ("sightings[0].corner_ids", [7, 7], "different numbers"),
        ("sightings[0].corner_ids", [-1, 7], "different numbers"),
        ("mirror_pairs[0].port", "nobody", "no point"),
        ("mirror_pairs[0].starboard", "nobody", "no point"),
        ("angles[0].first[1]", "nobody", "no point"),
        ("angles[0].second", ["m1", "m1"], "one point twice"),
        ("gravity_lines[0].points[0]", "nobody", "no point"),
        ("settings.stations_mm", [1.0] * 201, "up to 200 stations"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_contradiction_is_told_with_its_place(place: str, value: object, words: str) -> None:
    """Each record that names something missing or contradicts itself is refused at that field; the rest is sound."""
    refused = problems(setting(place, value))
    assert refused.places == (place,)
    assert words in str(refused)


def job_with(*marks: Mark, lines: tuple[StraightLine, ...] = ()) -> Job:
    return Job(photos=(Photo("p", "p.jpg"),), marks=marks, lines=lines)


def test_reference_marks_need_no_line_record() -> None:
    """A job without a line record may mark the reference line: it is then taken to be a string."""
    assert check_references(job_with(Mark("a", "p", MarkKind.REFERENCE_LINE, 1.0, 2.0))) == ()


def test_reference_mark_naming_a_missing_line_is_refused() -> None:
    """A name that is given must lead to the reference line."""
    mark = Mark("a", "p", MarkKind.REFERENCE_LINE, 1.0, 2.0, of="string")
    assert [p.place for p in check_references(job_with(mark))] == ["marks[0].of"]
    assert check_references(job_with(mark, lines=(StraightLine("string", reference=True),))) == ()


@pytest.mark.parametrize("kind", [MarkKind.CRACK, MarkKind.AREA, MarkKind.PAD, MarkKind.GRID, MarkKind.WATERLINE])
def test_surveyors_own_groups_need_no_record(kind: MarkKind) -> None:
    """Cracks, areas and the like are told apart by any name in `of`."""
    assert check_references(job_with(Mark("a", "p", kind, 1.0, 2.0, of="crack 2"))) == ()


def test_marks_pass_where_the_picture_size_is_not_recorded() -> None:
    """Without a recorded size any position may be inside."""
    assert check_references(job_with(Mark("a", "p", MarkKind.KEEL, 90_000.0, -5.0))) == ()


def test_mark_on_the_very_edge_is_inside() -> None:
    """Pixel centres are whole numbers, so the picture reaches half a pixel beyond them."""
    photo = Photo("p", "p.jpg", width_px=10, height_px=10)
    marks = (Mark("a", "p", MarkKind.KEEL, -0.5, -0.5), Mark("b", "p", MarkKind.KEEL, 9.5, 9.5))
    assert check_references(Job(photos=(photo,), marks=marks)) == ()


@pytest.mark.parametrize(
    ("target", "last"),
    [
        pytest.param(Target("t", TargetKind.ARUCO_MARKER, "DICT_4X4_50", first_id=49), 49, id="marker"),
        pytest.param(Target("t", TargetKind.ARUCO_GRID, "DICT_4X4_50", 5, 9, None, 40.0, 9.0, 5), 49, id="grid"),
        pytest.param(Target("t", TargetKind.CHARUCO, "DICT_4X4_50", 11, 9, 50.0, 40.0, first_id=1), 49, id="charuco"),
        pytest.param(Target("t", TargetKind.ARUCO_MARKER, "DICT_APRILTAG_16h5", first_id=29), 29, id="16h5"),
        pytest.param(Target("t", TargetKind.ARUCO_MARKER, "DICT_ARUCO_ORIGINAL", first_id=1023), 1023, id="original"),
    ],
)
def test_target_fits_its_dictionary_to_the_last_marker(target: Target, last: int) -> None:
    """The dictionary's last marker may be used and no marker beyond it."""
    assert check_references(Job(targets=(target,))) == ()
    beyond = Target(**{**vars(target), "first_id": target.first_id + 1})
    (problem,) = check_references(Job(targets=(beyond,)))
    assert problem.place == "targets[0].dictionary"
    assert problem.text.endswith(f"markers up to {last}, and this target would need {last + 1}")


def test_dictionary_sizes_are_those_of_the_detector() -> None:
    """The sizes kept here are the ones OpenCV's dictionaries have."""
    aruco = pytest.importorskip("cv2").aruco
    for name in [name for name in dir(aruco) if name.startswith("DICT_")]:
        size = len(aruco.getPredefinedDictionary(getattr(aruco, name)).bytesList)
        last = Target("t", TargetKind.ARUCO_MARKER, name, first_id=size - 1)
        beyond = Target("t", TargetKind.ARUCO_MARKER, name, first_id=size)
        assert check_references(Job(targets=(last,))) == (), name
        assert len(check_references(Job(targets=(beyond,)))) == 1, name


def test_first_ten_problems_are_told_and_the_rest_counted() -> None:
    """A thoroughly broken job gives a list a person can read, and all places to a program."""
    marks = tuple(Mark(f"m{i}", "nowhere", MarkKind.KEEL, 0.0, 0.0) for i in range(25))
    refused = refusal("job.json", check_references(Job(marks=marks)))
    assert str(refused).count("\n") == 11
    assert "25 things" in str(refused)
    assert str(refused).endswith("… and 15 more")
    assert len(refused.places) == 25


@pytest.mark.parametrize(
    "name", ["stern.jpg", "photos/stern view.jpg", "Fotos/Heck größer.heic", "a/b/c.png", ".hidden"]
)
def test_plain_names_are_allowed(name: str) -> None:
    """Names in the job's folder and folders within pass."""
    assert name_fault(name) is None


@pytest.mark.parametrize(
    "name", ["/a", "a/../b", "..", "./a", "a//b", "c:a", "a\\b", "a\x00b", "a\nb", "", "//host/a", "a\x1b[31m"]
)
def test_names_leading_elsewhere_are_refused(name: str) -> None:
    """Absolute names, drives, steps upward and unprintable characters don't pass."""
    assert name_fault(name)


def test_length_may_end_at_a_target() -> None:
    """A target's id is a point for lengths: the middle of its print."""
    target = Target("board", TargetKind.ARUCO_MARKER)
    length = KnownLength("span", "keel", "board", 500.0)
    job = replace(job_with(Mark("keel", "p", MarkKind.KEEL, 1.0, 2.0)), targets=(target,), lengths=(length,))
    assert check_references(job) == ()


@pytest.mark.parametrize("u", [0.0, 1e-300, 1e300])
def test_absurd_uncertainty_is_refused(u: float) -> None:
    """An uncertainty that would silence every other observation, or be silenced itself, is a slip of the hand."""
    assert problems(setting("marks[0].u_px", u)).places == ("marks[0].u_px",)
