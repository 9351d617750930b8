"""Whatever bytes a stranger sends as a job, the answer is a job or a sentence, never a crash."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from digitizer.errors import DigitizerError
from digitizer.job.fields import job_from_text
from digitizer.job.model import Job
from digitizer.job.reading import photo_bytes, read_job
from digitizer.job.writing import job_json
from tests.job.jobs import REFERENCE, reference_fields

BUNDLE = (REFERENCE / "job.transom").read_bytes()
HEADERS = BUNDLE.index(b"PK\x01\x02")
FUZZ = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

scraps = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=10), inner, max_size=3),
    max_leaves=5,
)


def open_all(path: Path) -> None:
    """Read a job and all its photos, as the program would."""
    found = read_job(path)
    for photo in found.job.photos:
        with suppress(DigitizerError):
            photo_bytes(found, photo)


@st.composite
def damaged_bundles(draw: st.DrawFn) -> bytes:
    """The reference bundle with some bytes changed, mostly where its headers are, perhaps cut off."""
    data = bytearray(BUNDLE)
    places = st.integers(HEADERS, len(data) - 1) | st.integers(0, len(data) - 1) | st.integers(0, 60)
    for place, byte in draw(st.lists(st.tuples(places, st.integers(0, 255)), min_size=1, max_size=4)):
        data[place] = byte
    return bytes(data[: draw(st.just(len(data)) | places)])


@st.composite
def mutated_fields(draw: st.DrawFn) -> Any:
    """The reference job with one value somewhere in it replaced by another from the job or by any scrap of JSON."""
    fields = reference_fields()
    node: Any = fields
    while True:
        key = draw(st.sampled_from(sorted(node) if isinstance(node, dict) else range(len(node))))
        if not isinstance(node[key], (dict, list)) or not node[key] or draw(st.booleans()):
            break
        node = node[key]
    node[key] = draw(scraps | st.sampled_from(["m1", "stern", "drain", "keel", 0, -1, 1e308, [], {}]))
    return fields


@given(data=st.binary(max_size=200) | st.binary(max_size=100).map(lambda tail: b"PK\x03\x04" + tail))
@FUZZ
def test_random_bytes_are_refused_in_words(tmp_path: Path, data: bytes) -> None:
    """No random file is a job, and none brings the program down."""
    (tmp_path / "job").write_bytes(data)
    with pytest.raises(DigitizerError):
        read_job(tmp_path / "job")


@given(data=damaged_bundles())
@FUZZ
def test_damaged_bundle_opens_or_is_refused_in_words(tmp_path: Path, data: bytes) -> None:
    """A bundle damaged on its way either still reads or is refused."""
    (tmp_path / "job").write_bytes(data)
    with suppress(DigitizerError):
        open_all(tmp_path / "job")


def answer(text: str) -> Job | str:
    """The job, or the sentence that refuses it."""
    try:
        return job_from_text(text, "job.json")
    except DigitizerError as refused:
        return str(refused)


@given(fields=mutated_fields())
@FUZZ
def test_mutated_job_reads_or_is_refused_in_words(fields: Any) -> None:
    """A job with one value changed is refused in printable words, or reads, and then round-trips."""
    found = answer(json.dumps(fields))
    if isinstance(found, str):
        assert found.replace("\n", "").isprintable()
    else:
        assert repr(answer(job_json(found))) == repr(found)


@given(text=st.text(alphabet='{}[]":,0123456789.eE+-truefalsn\\u \n"idx', max_size=60))
@FUZZ
def test_random_json_reads_or_is_refused_in_words(text: str) -> None:
    """Text that looks like JSON is a job or gets a sentence."""
    with suppress(DigitizerError):
        job_from_text(text, "job.json")
