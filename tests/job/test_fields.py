"""The border: each wrong value is told in words, with its place as a person counts to it."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest

from digitizer.errors import JobFileError, NewerJobFileError
from digitizer.job.fields import job_from_text
from digitizer.job.model import FORMAT_VERSION, Job, Settings
from tests.job.jobs import TEXT, reference_fields
from tests.job.test_validation import setting


def refusal_of(text: str) -> JobFileError:
    with pytest.raises(JobFileError) as refused:
        job_from_text(text, "job.json")
    return refused.value


def test_empty_object_is_a_job_of_defaults() -> None:
    """Nothing in a job is compulsory."""
    assert job_from_text("{}", "job.json") == Job()
    assert Job().settings == Settings()


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        ("lengths[0].length_mm", -12, "must be greater than 0, found -12"),
        ("lengths[0].length_mm", float("nan"), "must be a finite number, found NaN"),
        ("lengths[0].length_mm", float("inf"), "must be a finite number, found Infinity"),
        ("lengths[0].length_mm", 1e6, "must be at most 100000, found 1000000.0"),
        ("lengths[0].length_mm", "1500", 'must be a number, found "1500"'),
        ("lengths[0].length_mm", None, "must be a number, found null"),
        ("lengths[0].length_mm", True, "must be a number, found true"),
        ("lengths[0].active", 1, "must be true or false, found 1"),
        ("lengths[0].colour", "red", "is not a field of this record: check its spelling"),
        ("marks[3].kind", "kneel", "must be 'reference_line', 'keel'"),
        ("marks[3].side", "left", "must be 'port', 'starboard' or 'centre', found \"left\""),
        ("marks[3].u_definition_mm", -1, "must be at least 0, found -1"),
        ("marks[3].id", "", 'is too short (1 or more characters), found ""'),
        ("marks[3].id", "i" * 81, "is too long (up to 80 characters)"),
        ("marks[3].id", 3, "must be text in quotes, found 3"),
        ("marks[3]", "keel", 'must be a record in { }, found "keel"'),
        ("marks", {}, "must be a list in [ ], found {}"),
        ("photos[0].width_px", 400.5, "must be a whole number, found 400.5"),
        ("photos[0].width_px", "400", 'must be a whole number, found "400"'),
        ("photos[0].width_px", 10**30, "must be at most 100000"),
        ("rectangles[0].corners", ["corner 0"] * 5, "must have 4 entries, found 5"),
        ("rake.rake_deg", 60, "must be less than 60, found 60"),
        ("boat", "Invented", 'must be a record in { }, found "Invented"'),
    ],
    ids=lambda value: str(value)[:30],
)
def test_wrong_value_is_told_in_words(place: str, value: object, words: str) -> None:
    """One wrong field gives one sentence: where, what it must be, what was found."""
    fields = reference_fields()
    setting(place, value)(fields)
    refused = refusal_of(json.dumps(fields))
    assert refused.places == (place,)
    assert f"{place}: {words}" in str(refused)
    assert "\n" not in str(refused)


def test_missing_field_is_named() -> None:
    """A mark without its photo says so."""
    fields = reference_fields()
    del fields["marks"][3]["photo"]
    assert str(refusal_of(json.dumps(fields))) == "job.json: marks[3].photo: is missing"


def test_all_faults_are_told_at_once() -> None:
    """Three faults in three records come in one refusal."""
    fields = reference_fields()
    for place, value in (("marks[0].x_px", "1"), ("lengths[1].u_mm", 0), ("face_lean.lean_deg", 200)):
        setting(place, value)(fields)
    refused = refusal_of(json.dumps(fields))
    assert set(refused.places) == {"marks[0].x_px", "lengths[1].u_mm", "face_lean.lean_deg"}
    assert str(refused).startswith("job.json: 3 things in this job need correcting:")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param('{"title": "a",\n "date": }', "line 2, column 10", id="value-missing"),
        pytest.param("hello", "line 1, column 1", id="no-json"),
        pytest.param("[1, 2]", "a job is one record in { }", id="list"),
        pytest.param("null", "a job is one record in { }", id="null"),
        pytest.param('{"title": "a", "title": "b"}', 'field "title" is given twice', id="repeated-at-top"),
        pytest.param(
            '{"marks": [{"id": "keel", "x_px": 1, "x_px": 2}]}',
            'field "x_px" of the record with id "keel" is given twice',
            id="repeated-in-record",
        ),
        pytest.param("[" * 100_000, "far beyond", id="deeply-nested"),
        pytest.param('{"format": ' + "9" * 10_000 + "}", "far beyond", id="endless-number"),
        pytest.param('{"title": "\x00"}', "line 1, column 12", id="control-character"),
    ],
)
def test_text_that_is_no_job_is_refused(text: str, words: str) -> None:
    """Broken JSON says line and column; whole but wrong JSON says what a job is."""
    assert words in str(refusal_of(text))


def test_newer_format_is_told_before_anything_else() -> None:
    """A later program's job is not judged by today's rules."""
    with pytest.raises(NewerJobFileError):
        job_from_text(json.dumps({"format": FORMAT_VERSION + 1, "marks": "anything"}), "job.json")


def test_terminal_codes_in_a_field_name_are_not_passed_on() -> None:
    """What a stranger wrote can't command the terminal that shows the message."""
    assert "\x1b" not in str(refusal_of(json.dumps({"\x1b[31mred": 1})))


@pytest.mark.parametrize(
    ("place", "value"), [("photos[0].camera", "\x1b[31m"), ("marks[0].id", "m1\x9b"), ("targets[0].dictionary", "\x1b")]
)
def test_terminal_codes_in_a_value_are_not_passed_on(place: str, value: str) -> None:
    """The same holds for values that lead nowhere."""
    fields = reference_fields()
    setting(place, value)(fields)
    fields["marks"].append(fields["marks"][0])
    assert str(refusal_of(json.dumps(fields))).replace("\n", "").isprintable()


@pytest.mark.parametrize(
    "text", ['{"title": "\\ud800"}', '{"title": ' + "[" * 400 + "]" * 400 + "}"], ids=["surrogate", "deep"]
)
def test_text_beyond_the_border_is_refused_in_words(text: str) -> None:
    """What the standard parser takes and the stricter one doesn't still gets a sentence."""
    assert "the text holds what no job does" in str(refusal_of(text))


def nested(value: Any, depth: int) -> Any:
    return value if depth == 0 else {"a": nested(value, depth - 1)}


def test_deep_but_valid_json_is_refused_at_its_place() -> None:
    """Nesting within what the parser takes ends as an unknown field."""
    assert refusal_of(json.dumps({"boat": nested(1, 50)})).places == ("boat.a",)


def test_records_and_reading_import_without_pydantic() -> None:
    """A program that reads no job doesn't pay for the border."""
    code = (
        "import sys, digitizer.job.model, digitizer.job.reading, digitizer.job.writing; "
        "sys.exit('pydantic' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_whole_numbers_serve_as_lengths() -> None:
    """A person may write 1500 for 1500.0."""
    assert job_from_text(TEXT.replace("812.5", "812"), "job.json").lengths[1].length_mm == 812.0


def test_endless_list_is_refused_before_its_records() -> None:
    """A million faulty records are refused by their number, not one by one."""
    refused = refusal_of('{"marks": [' + "{}," * 1_000_000 + "{}]}")
    assert str(refused) == "job.json: marks: has more than 10000 records: split the job"
    assert refused.places == ("marks",)
