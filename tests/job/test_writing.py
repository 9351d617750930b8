"""Writing a job: readable, exact, whole or not at all."""

from __future__ import annotations

import errno
import json
import os
import zipfile
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from digitizer.errors import JobFileError, PhotoError
from digitizer.job.fields import job_from_text
from digitizer.job.model import Job, KnownLength, Mark, MarkKind, Photo
from digitizer.job.reading import JobFile, photo_bytes, read_job
from digitizer.job.writing import job_json, write_bundle, write_job_json
from tests.job.jobs import REFERENCE, any_job

SMALL = Job(
    photos=(Photo("stern", "stern.jpg"),),
    marks=(
        Mark("keel", "stern", MarkKind.KEEL, 0.1 + 0.2, -0.0),
        Mark("end", "stern", MarkKind.LENGTH_END, 5.0, 1e-17),
    ),
    lengths=(KnownLength("rule", "keel", "end", 1500.0),),
)


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@given(job=any_job())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_reading_gives_back_any_job(job: Job) -> None:
    """Whatever allowed values the records hold, writing and reading give an equal job, bit for bit."""
    with pytest.MonkeyPatch.context() as patch:  # the names in a random job lead nowhere
        patch.setattr("digitizer.job.fields.check_references", lambda _: ())
        assert repr(job_from_text(job_json(job), "job.json")) == repr(job)


def test_usual_values_are_left_out() -> None:
    """A person sees only what was said: a mark is one line without its defaults."""
    assert job_json(SMALL).splitlines() == [
        "{",
        '  "format": 1,',
        '  "photos": [',
        '    {"id": "stern", "file": "stern.jpg"}',
        "  ],",
        '  "marks": [',
        '    {"id": "keel", "photo": "stern", "kind": "keel", "x_px": 0.30000000000000004, "y_px": -0.0},',
        '    {"id": "end", "photo": "stern", "kind": "length_end", "x_px": 5, "y_px": 1e-17}',
        "  ],",
        '  "lengths": [',
        '    {"id": "rule", "from_point": "keel", "to_point": "end", "length_mm": 1500}',
        "  ]",
        "}",
    ]


def test_plain_job_reads_back_with_its_backup(tmp_path: Path) -> None:
    """The plain form round-trips, and the version before stays beside it."""
    path = tmp_path / "job.json"
    write_job_json(SMALL, path)
    write_job_json(replace(SMALL, title="second"), path)
    assert read_job(path).job == replace(SMALL, title="second")
    assert json.loads((tmp_path / "job.json.bak").read_text()).get("title") is None


def test_bundle_reads_back_with_untouched_photos(tmp_path: Path) -> None:
    """Job and photo bytes come out of the bundle as they went in."""
    path = tmp_path / "boat.transom"
    write_bundle(SMALL, lambda _: b"\xff\xd8 photo", path)
    found = read_job(path)
    assert found == JobFile(SMALL, path, bundled=True)
    assert photo_bytes(found, SMALL.photos[0]) == b"\xff\xd8 photo"


def test_bundling_the_reference_job_anew_gives_the_same_bytes(tmp_path: Path) -> None:
    """The same job and photos make the same file, here and on every machine."""
    plain = read_job(REFERENCE / "job.json")
    write_bundle(plain.job, partial(photo_bytes, plain), tmp_path / "anew.transom")
    assert (tmp_path / "anew.transom").read_bytes() == (REFERENCE / "job.transom").read_bytes()


def test_bundle_stores_without_compression_or_time(tmp_path: Path) -> None:
    """Entries carry no clock and no compression, on which libraries differ."""
    write_bundle(SMALL, lambda _: bytes(1000), tmp_path / "boat.transom")
    with zipfile.ZipFile(tmp_path / "boat.transom") as archive:
        assert {(e.date_time[0], e.compress_type) for e in archive.infolist()} == {(1980, zipfile.ZIP_STORED)}


def test_bundle_can_be_rewritten_from_itself(tmp_path: Path) -> None:
    """Saving a bundle over itself takes the photos from the old file before that goes."""
    path = tmp_path / "boat.transom"
    write_bundle(SMALL, lambda _: b"photo", path)
    old = read_job(path)
    write_bundle(replace(SMALL, title="again"), partial(photo_bytes, old), path)
    assert photo_bytes(read_job(path), SMALL.photos[0]) == b"photo"
    assert names(tmp_path) == {"boat.transom", "boat.transom.bak"}


def test_full_disk_leaves_the_old_bundle(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a full disk the old bundle is intact, nothing is left beside it, and one sentence says so."""

    def fail(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    path = tmp_path / "boat.transom"
    write_bundle(SMALL, lambda _: b"photo", path)
    before = path.read_bytes()
    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(JobFileError, match=r"boat\.transom: the disk is full, so nothing was written"):
        write_bundle(replace(SMALL, title="again"), lambda _: b"photo", path)
    assert path.read_bytes() == before
    assert names(tmp_path) == {"boat.transom"}


def test_wrong_photo_is_not_bundled(tmp_path: Path) -> None:
    """A photo that isn't the one marked stops the bundle before the old one is touched."""
    job = replace(SMALL, photos=(replace(SMALL.photos[0], sha256="0" * 64),))
    with pytest.raises(PhotoError, match="not the photo that was marked"):
        write_bundle(job, lambda _: b"another", tmp_path / "boat.transom")
    assert names(tmp_path) == set()


@pytest.mark.parametrize(
    ("job", "place"),
    [
        pytest.param(replace(SMALL, photos=()), "marks[0].photo", id="photo-missing"),
        pytest.param(
            replace(SMALL, lengths=(KnownLength("r", "keel", "end", -1.0),)), "lengths[0].length_mm", id="negative"
        ),
        pytest.param(
            replace(SMALL, lengths=(KnownLength("r", "keel", "end", float("nan")),)), "lengths[0].length_mm", id="nan"
        ),
    ],
)
def test_job_that_could_not_be_read_again_is_not_written(tmp_path: Path, job: Job, place: str) -> None:
    """A job with a fault is refused while the person can still mend it, with its place."""
    with pytest.raises(JobFileError, match=r"was not written") as refused:
        write_job_json(job, tmp_path / "job.json")
    assert place in refused.value.places
    assert names(tmp_path) == set()
