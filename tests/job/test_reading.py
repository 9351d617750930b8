"""Reading jobs and their photos in both forms, and refusing what is no job."""

from __future__ import annotations

import os
import shutil
import timeit
from dataclasses import replace
from pathlib import Path

import pytest

from digitizer.errors import JobFileError, PhotoError
from digitizer.job import bundle
from digitizer.job.model import Photo
from digitizer.job.reading import JobFile, photo_bytes, read_job
from tests.job.jobs import REFERENCE, TEXT, write_fields, write_zip


@pytest.fixture
def plain(tmp_path: Path) -> JobFile:
    """A fresh copy of the reference job beside its photos."""
    folder = tmp_path / "job"
    shutil.copytree(REFERENCE, folder)
    return read_job(folder / "job.json")


@pytest.fixture
def bundled(tmp_path: Path) -> JobFile:
    """A fresh copy of the reference bundle."""
    return read_job(Path(shutil.copy(REFERENCE / "job.transom", tmp_path / "boat.transom")))


def test_both_forms_give_the_same_job_and_photos(plain: JobFile, bundled: JobFile) -> None:
    """The bundle is the plain form in one file."""
    assert plain.job == bundled.job
    assert (plain.bundled, bundled.bundled) == (False, True)
    for photo in plain.job.photos:
        assert photo_bytes(plain, photo) == photo_bytes(bundled, photo) == (REFERENCE / photo.file).read_bytes()


@pytest.mark.parametrize(("source", "name"), [("job.transom", "renamed.json"), ("job.json", "renamed.transom")])
def test_form_is_told_by_content(tmp_path: Path, source: str, name: str) -> None:
    """A file with the other form's name is still read as what it is."""
    path = Path(shutil.copy(REFERENCE / source, tmp_path / name))
    assert read_job(path).bundled is (source == "job.transom")


def test_byte_order_mark_is_no_obstacle(tmp_path: Path) -> None:
    """Some editors begin UTF-8 files with a mark; it is skipped."""
    (tmp_path / "job.json").write_text(TEXT, encoding="utf-8-sig")
    assert read_job(tmp_path / "job.json").job.boat.place == "Slip 3, über"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        pytest.param(b"", "the file is empty", id="empty"),
        pytest.param(b" \n", "the file is empty", id="blank"),
        pytest.param(b"\xff\xd8\xff\xe0 JFIF", "neither a job.json", id="photo"),
        pytest.param('{"title": "a"}'.encode("utf-16"), "neither a job.json", id="utf-16"),
        pytest.param(b"[]", "a job is one record", id="list"),
        pytest.param(b"{", "not valid JSON at line 1", id="broken"),
        pytest.param(b"PK\x03\x04", "the archive is damaged", id="archive-cut-off"),
    ],
)
def test_file_that_is_no_job_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    """Each kind of wrong file gets its own sentence, which names the file."""
    path = tmp_path / "job.json"
    path.write_bytes(content)
    with pytest.raises(JobFileError, match=words) as refused:
        read_job(path)
    assert str(refused.value).startswith(str(path))


def test_missing_file_is_refused(tmp_path: Path) -> None:
    """A mistyped name is told as that."""
    with pytest.raises(JobFileError, match="there is no such file"):
        read_job(tmp_path / "jbo.json")


def test_folder_is_refused_with_the_file_to_give(tmp_path: Path) -> None:
    """Giving the folder gets the name to give instead."""
    with pytest.raises(JobFileError, match=r"this is a folder: give the job file in it, such as .*job\.json"):
        read_job(tmp_path)


def test_pipe_is_refused(tmp_path: Path) -> None:
    """Something that would never end is not waited for."""
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(JobFileError, match="not an ordinary file"):
        read_job(tmp_path / "pipe")


def test_huge_text_is_refused_unread(tmp_path: Path) -> None:
    """A text beyond the limit is no job, and only the limit is read of it."""
    path = tmp_path / "job.json"
    with path.open("wb") as stream:
        stream.write(b"{")
        stream.truncate(10**12)  # sparse: takes no room on the disk
    with pytest.raises(JobFileError, match="larger than 20 MB"):
        read_job(path)


def test_unreadable_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fails while reading is told in a sentence."""

    def fail(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = write_fields(tmp_path, {})
    monkeypatch.setattr(Path, "open", fail)
    with pytest.raises(JobFileError, match="can't be read"):
        read_job(path)


def test_missing_photo_is_named_with_its_folder(plain: JobFile) -> None:
    """A photo that wasn't sent along is named, with where to put it."""
    photo = plain.job.photos[0]
    (plain.path.parent / photo.file).unlink()
    with pytest.raises(PhotoError, match=r"photos/stern\.png: no such photo in .*job: put it there") as refused:
        photo_bytes(plain, photo)
    assert refused.value.file == "photos/stern.png"


def test_photo_missing_from_the_bundle_is_named(bundled: JobFile) -> None:
    """A bundle without one of its photos says which."""
    with pytest.raises(PhotoError, match=r"no such photo in .*boat\.transom"):
        photo_bytes(bundled, Photo("other", "other.png"))


@pytest.mark.parametrize("form", ["plain", "bundled"])
def test_replaced_photo_is_refused(form: str, request: pytest.FixtureRequest) -> None:
    """Marks belong to one photo: another in its place is refused by its fingerprint."""
    job_file: JobFile = request.getfixturevalue(form)
    photo = replace(job_file.job.photos[0], file=job_file.job.photos[1].file)
    with pytest.raises(PhotoError, match=r"this is not the photo that was marked .*: put the original back, or mark"):
        photo_bytes(job_file, photo)


def test_photo_without_fingerprint_passes(plain: JobFile) -> None:
    """A job written by hand needs no fingerprints, and capitals in one don't matter."""
    photo = plain.job.photos[0]
    assert photo.sha256
    assert photo_bytes(plain, replace(photo, sha256=None)) == photo_bytes(
        plain, replace(photo, sha256=photo.sha256.upper())
    )


@pytest.mark.parametrize("name", ["../secret.png", "link.png", "folder_link/secret.png"])
def test_photo_outside_the_folder_is_refused(plain: JobFile, name: str) -> None:
    """Neither steps upward nor symbolic links reach a file outside the job's folder."""
    folder = plain.path.parent
    (folder.parent / "secret.png").write_bytes(b"secret")
    (folder / "link.png").symlink_to(folder.parent / "secret.png")
    (folder / "folder_link").symlink_to(folder.parent)
    with pytest.raises(PhotoError, match="outside the job's folder"):
        photo_bytes(plain, Photo("p", name))


def test_absolute_photo_is_refused(plain: JobFile) -> None:
    """An absolute name leads out of the folder even where no check of names came before."""
    with pytest.raises(PhotoError, match="outside the job's folder"):
        photo_bytes(plain, Photo("p", str(REFERENCE / "photos" / "stern.png")))


def test_link_in_a_circle_is_no_photo(plain: JobFile) -> None:
    """A symbolic link to itself is as good as a missing photo."""
    (plain.path.parent / "circle.png").symlink_to("circle.png")
    with pytest.raises(PhotoError):
        photo_bytes(plain, Photo("p", "circle.png"))


def test_huge_photo_is_refused(plain: JobFile, monkeypatch: pytest.MonkeyPatch) -> None:
    """A photo beyond the limit is refused after reading no more than the limit."""
    monkeypatch.setattr(bundle, "MAX_PHOTO_BYTES", 100)
    with pytest.raises(PhotoError, match="larger than"):
        photo_bytes(plain, plain.job.photos[0])


def test_bundle_without_a_job_is_refused(tmp_path: Path) -> None:
    """An archive of a folder, as file managers make it, has no job.json at its top."""
    path = write_zip(tmp_path / "boat.transom", [("boat/job.json", b"{}")])
    with pytest.raises(JobFileError, match=r"no job\.json at its top"):
        read_job(path)


def test_reading_sixty_marks_takes_no_time_to_notice(tmp_path: Path) -> None:
    """Once the libraries are loaded, a job of ordinary size reads well within 20 ms."""
    marks = [{"id": f"m{i}", "photo": "p", "kind": "keel", "x_px": i + 0.123456, "y_px": 1234.567} for i in range(60)]
    path = write_fields(tmp_path, {"photos": [{"id": "p", "file": "p.jpg"}], "marks": marks})
    read_job(path)
    assert min(timeit.repeat(lambda: read_job(path), number=1, repeat=10)) < 0.020  # s, about 1.5 ms on a small server
