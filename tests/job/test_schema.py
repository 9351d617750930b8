"""The published JSON Schema is that of the records, and accepts what the program accepts."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings

from digitizer.job.model import Job
from digitizer.job.schema import json_schema, schema_text
from digitizer.job.writing import job_json
from tests.job.jobs import TEXT, any_job, reference_fields
from tests.job.test_validation import setting

PUBLISHED = Path(__file__).parents[2] / "docs" / "reference" / "job.schema.json"
VALIDATOR = jsonschema.Draft202012Validator(json_schema())


def test_published_schema_is_that_of_the_records() -> None:
    """`python -m digitizer.job.schema > docs/reference/job.schema.json` has been run since the records changed."""
    assert json.loads(PUBLISHED.read_text()) == json.loads(schema_text())


def test_schema_is_sound() -> None:
    """The schema itself obeys its draft."""
    jsonschema.Draft202012Validator.check_schema(json_schema())


def test_reference_job_satisfies_the_schema() -> None:
    """The job with every record passes a second, independent validator."""
    VALIDATOR.validate(json.loads(TEXT))


@given(job=any_job())
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_whatever_is_written_satisfies_the_schema(job: Job) -> None:
    """Any allowed job, written, passes the second validator."""
    VALIDATOR.validate(json.loads(job_json(job)))


@pytest.mark.parametrize(
    ("place", "value"),
    [
        ("lengths[0].length_mm", -12),
        ("lengths[0].length_mm", "1500"),
        ("marks[0].colour", "red"),
        ("marks[0].kind", "kneel"),
        ("rectangles[0].corners", ["corner 0"]),
    ],
)
def test_schema_refuses_what_reading_refuses(place: str, value: object) -> None:
    """An editor that knows the schema marks the same fields."""
    fields = reference_fields()
    setting(place, value)(fields)
    assert not VALIDATOR.is_valid(fields)


def test_units_and_meanings_are_described() -> None:
    """Fields carry the explanations that stand beside them in the records."""
    definitions = json_schema()["$defs"]
    assert "same place" in definitions["Mark"]["description"]
    assert "15 in" in definitions["Settings"]["properties"]["b_offset_mm"]["description"]
