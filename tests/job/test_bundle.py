"""Bundles from strangers: each trick of an archive is refused with its sentence."""

from __future__ import annotations

import io
import struct
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from digitizer.errors import JobFileError, PhotoError
from digitizer.job import bundle
from digitizer.job.model import Photo
from digitizer.job.reading import JobFile, photo_bytes, read_job
from tests.job.jobs import write_zip

JOB = ("job.json", b'{"photos": [{"id": "p", "file": "p.png"}]}')
LOCAL, CENTRAL = b"PK\x03\x04", b"PK\x01\x02"


def archive(*entries: tuple[str, bytes], compression: int = zipfile.ZIP_STORED) -> bytes:
    stream = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(stream, "w", compression) as out:
        warnings.simplefilter("ignore")  # zipfile warns of the repeated names meant here
        for name, data in (JOB, *entries):
            out.writestr(name, data)
    return stream.getvalue()


def with_header(data: bytes, entry: int, local: int, central: int, value: bytes) -> bytes:
    """The archive with bytes written at an offset of one entry's two headers."""
    changed = bytearray(data)
    for signature, offset in ((LOCAL, local), (CENTRAL, central)):
        start = -1
        for _ in range(entry + 1):
            start = data.index(signature, start + 1)
        changed[start + offset : start + offset + len(value)] = value
    return bytes(changed)


def refused(tmp_path: Path, data: bytes) -> str:
    path = tmp_path / "boat.transom"
    path.write_bytes(data)
    with pytest.raises(JobFileError) as refusal:
        read_job(path)
    assert str(refusal.value).startswith(str(path))
    return str(refusal.value)


@pytest.mark.parametrize("name", ["../p.png", "/p.png", "C:/p.png", "a/../../p.png", "a\\..\\p.png"])
def test_entry_leading_out_is_refused(tmp_path: Path, name: str) -> None:
    """No entry may name a place outside the bundle, even if nothing is ever unpacked."""
    assert "entry " in refused(tmp_path, archive((name, b"photo")))


def test_folders_in_the_archive_are_no_obstacle(tmp_path: Path) -> None:
    """Archives made by hand list their folders too."""
    path = write_zip(tmp_path / "boat.transom", [JOB, ("photos/", b""), ("photos/p.png", b"photo")])
    assert read_job(path).bundled


def test_deflated_bundle_is_read(tmp_path: Path) -> None:
    """A bundle packed by another program, compressed, is as good."""
    path = write_zip(tmp_path / "boat.transom", [JOB, ("p.png", b"photo" * 100)], zipfile.ZIP_DEFLATED)
    found = read_job(path)
    assert photo_bytes(found, found.job.photos[0]) == b"photo" * 100


@pytest.mark.parametrize(
    ("data", "words"),
    [
        pytest.param(archive(("p.png", b"1"), ("p.png", b"2")), "the name is there twice", id="duplicate"),
        pytest.param(archive(*[(f"{i}", b"") for i in range(500)]), "more than 500 entries", id="too-many"),
        pytest.param(
            with_header(archive(("p.png", b"1")), 1, 6, 8, struct.pack("<H", 1)), "it is encrypted", id="encrypted"
        ),
        pytest.param(archive(("p.png", b"1"), compression=zipfile.ZIP_LZMA), "compression is not one", id="lzma"),
        pytest.param(
            with_header(archive(("p.png", b"1")), 1, 22, 24, struct.pack("<L", 300_000_000)),
            "larger than 200 MB",
            id="declared-size",
        ),
        pytest.param(archive(("p.png", b"1"))[:-30], "damaged", id="cut-off"),
        pytest.param(b"PK\x05\x06" + bytes(18), "no job.json", id="empty-archive"),
    ],
)
def test_hostile_archive_is_refused(tmp_path: Path, data: bytes, words: str) -> None:
    """What no bundle of ours holds is refused when it is opened."""
    assert words in refused(tmp_path, data)


def test_bundle_beyond_the_whole_limit_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Many entries, each within its limit, are added up, packed and unpacked."""
    data = archive(("p.png", bytes(60_000)), ("q.png", bytes(60_000)), compression=zipfile.ZIP_DEFLATED)
    monkeypatch.setattr(bundle, "MAX_BUNDLE_BYTES", 100_000)
    assert "unpacked, it would exceed" in refused(tmp_path, data)
    monkeypatch.setattr(bundle, "MAX_BUNDLE_BYTES", 100)
    assert "larger than" in refused(tmp_path, data)


def test_long_list_of_entries_is_refused_unread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A million entries are refused by the size of their list, before any is held in memory."""
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 1, 1, 1_000_000, 0, 0)
    monkeypatch.setattr(zipfile, "ZipFile", None)  # calling it would fail the test
    assert "more than 500 entries" in refused(tmp_path, LOCAL + bytes(1_000_000) + end)


def test_list_beyond_four_gigabytes_is_refused_unread(tmp_path: Path) -> None:
    """The 64-bit list that overrides the ordinary one is not followed."""
    data = archive()
    end = data.index(b"PK\x05\x06")
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, 0, 1)
    assert "beyond 4 GB" in refused(tmp_path, data[:end] + locator + data[end:])


def photo_refusal(tmp_path: Path, data: bytes) -> str:
    path = tmp_path / "boat.transom"
    path.write_bytes(data)
    found = read_job(path)
    with pytest.raises(PhotoError) as refusal:
        photo_bytes(found, found.job.photos[0])
    assert refusal.value.file == "p.png"
    return str(refusal.value)


def understated(data: bytes) -> bytes:
    """The photo's header claims ten bytes."""
    return with_header(data, 1, 22, 24, struct.pack("<L", 10))


def spoilt(data: bytes) -> bytes:
    at = data.index(b"photo photo")
    return data[:at] + b"other" + data[at + 5 :]


@pytest.mark.parametrize("spoil", [understated, spoilt], ids=["size-understated", "content-changed"])
def test_damaged_photo_is_refused_when_read(tmp_path: Path, spoil: Callable[[bytes], bytes]) -> None:
    """A photo that isn't what its header says is refused; the job itself still opens."""
    assert "the archive is damaged" in photo_refusal(tmp_path, spoil(archive(("p.png", b"photo photo photo"))))


def test_understated_bomb_stays_small(tmp_path: Path) -> None:
    """A hundred megabytes of zeros that claim to be ten bytes are never unpacked."""
    data = archive(("p.png", bytes(100_000_000)), compression=zipfile.ZIP_DEFLATED)
    assert "the archive is damaged" in photo_refusal(tmp_path, understated(data))


def test_actual_size_is_limited_whatever_the_header_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Reading stops at the limit even when opening let the entry pass."""
    path = write_zip(tmp_path / "boat.transom", [JOB, ("p.png", bytes(2000))])
    found = read_job(path)
    with bundle.opened(path) as opened, pytest.raises(JobFileError, match="larger than"):
        bundle.content(opened, "p.png", 1999)
    with bundle.opened(path) as opened:
        assert len(bundle.content(opened, "p.png", 2000)) == 2000
    assert found == JobFile(found.job, path, bundled=True)


def test_job_beyond_its_limit_is_refused(tmp_path: Path) -> None:
    """A compressed job.json may not unpack to more than a plain one may have."""
    path = write_zip(tmp_path / "b", [("job.json", b"{" + b" " * 20_000_001)], zipfile.ZIP_DEFLATED)
    with pytest.raises(JobFileError, match=r"job\.json is larger than 20 MB"):
        read_job(path)


def test_archive_inside_the_bundle_is_refused(tmp_path: Path) -> None:
    """A zipped photo inside the bundle gets the advice to unpack it."""
    assert "an archive inside the bundle: unpack it" in photo_refusal(tmp_path, archive(("p.png", archive())))


def test_archive_in_place_of_the_job_is_refused(tmp_path: Path) -> None:
    """A bundle inside a bundle is not followed."""
    path = write_zip(tmp_path / "boat.transom", [("job.json", archive())])
    with pytest.raises(JobFileError, match="an archive inside the bundle"):
        read_job(path)


def test_bundle_with_a_comment_is_read(tmp_path: Path) -> None:
    """The list of entries is found before an archive's comment too."""
    path = tmp_path / "boat.transom"
    with zipfile.ZipFile(path, "w") as out:
        out.writestr(*JOB)
        out.comment = b"from the yard" * 100
    assert read_job(path).job.photos == (Photo("p", "p.png"),)
