"""
Bad input through the whole command: refused with a sentence that says what to do, and nothing overwritten.

Each case asks for a report where an older report lies; afterwards that one must be there, byte for byte.
"""

import json
import math
import os
import resource
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from digitizer.cli.main import main
from tests.cli.jobs import Record, copied, marks

OLD = b"%PDF-1.4 the older report"


def refused(job: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What the command says when it refuses to report on `job`; checks that it left everything as it was."""
    before = {path: path.read_bytes() for path in out.parent.iterdir() if path.is_file()} if out.parent.is_dir() else {}
    assert main(["report", str(job), "--out", str(out)]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("digitizer: ")
    assert "Traceback" not in said.err
    after = {path: path.read_bytes() for path in before}
    assert after == before
    assert not list(out.parent.glob(".*.part"))
    return said.err


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """An older report where the new one should go."""
    folder = tmp_path / "results"
    folder.mkdir()
    path = folder / "report.pdf"
    path.write_bytes(OLD)
    return path


def without_fingerprint(record: Record) -> None:
    del record["photos"][0]["sha256"]


def missing(photo: Path) -> None:
    photo.unlink()


def truncated(photo: Path) -> None:
    photo.write_bytes(photo.read_bytes()[:1_000_000])


def text(photo: Path) -> None:
    photo.write_text("This is a letter, not a photo.\n" * 20)


def empty(photo: Path) -> None:
    photo.write_bytes(b"")


def bomb(photo: Path) -> None:
    """A half-megabyte PNG that unfolds to 900 megapixels."""
    side = 30_000

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0))
    rows = zlib.compress(bytes(side * (1 + side // 8)), 1)
    photo.write_bytes(b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", rows) + chunk(b"IEND", b""))


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        pytest.param(missing, "no such photo", id="missing"),
        pytest.param(truncated, "photo_1.jpg", id="truncated-jpeg"),
        pytest.param(text, "photo_1.jpg", id="text-named-jpg"),
        pytest.param(empty, "empty", id="zero-bytes"),
        pytest.param(bomb, "megapixels", id="bomb-of-30000-by-30000"),
    ],
)
def test_photo_that_cannot_be_used(
    tmp_path: Path, out: Path, capsys: pytest.CaptureFixture[str], spoil: Callable[[Path], None], words: str
) -> None:
    """A photo that is missing, damaged or absurd is named, with one sentence."""
    job = copied(tmp_path, without_fingerprint)
    spoil(tmp_path / "photo_1.jpg")
    said = refused(job, out, capsys)
    assert "photo_1.jpg" in said
    assert words in said
    assert said.count("\n") == 1


def test_photo_replaced_after_marking(tmp_path: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A photo whose fingerprint differs from the job's is refused, whatever it shows."""
    job = copied(tmp_path)
    photo = tmp_path / "photo_1.jpg"
    photo.write_bytes(photo.read_bytes() + b"\0")
    said = refused(job, out, capsys)
    assert "not the photo that was marked" in said
    assert said.count("\n") == 1


def from_a_later_program(record: Record) -> None:
    record["format"] = 99


def length_not_a_number(record: Record) -> None:
    record["lengths"][0]["length_mm"] = math.nan


def negative_length(record: Record) -> None:
    record["lengths"][0]["length_mm"] = -1500


def mark_outside(record: Record) -> None:
    marks(record, "keel")[0]["y_px"] = 3400.0


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        pytest.param(from_a_later_program, "format 99", id="newer-version"),
        pytest.param(length_not_a_number, "lengths[0].length_mm", id="nan-length"),
        pytest.param(negative_length, "lengths[0].length_mm", id="negative-length"),
        pytest.param(mark_outside, "3400", id="mark-outside-the-picture"),
    ],
)
def test_job_that_cannot_be_read_as_it_stands(
    tmp_path: Path, out: Path, capsys: pytest.CaptureFixture[str], edit: Callable[[Record], None], words: str
) -> None:
    """A job with something impossible in it is refused with its place."""
    said = refused(copied(tmp_path, edit), out, capsys)
    assert words in said
    assert said.count("\n") == 1


def test_malformed_json_says_where(tmp_path: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A job cut off in the middle is refused with the line of the trouble."""
    job = copied(tmp_path)
    lines = json.dumps(json.loads(job.read_text()), indent=1).splitlines()
    job.write_text("\n".join([*lines[:9], "  oops", *lines[9:]]))
    assert "line 10" in refused(job, out, capsys)


def no_scale(record: Record) -> None:
    record["targets"], record["lengths"] = [], []


def on_one_line(record: Record) -> None:
    record["targets"] = []
    for mark in record["marks"]:
        mark["y_px"] = 1200.0 + 0.01 * mark["x_px"]


def keel_above_the_line(record: Record) -> None:
    marks(record, "keel")[0]["y_px"] = 700.0


def sides_exchanged(record: Record) -> None:
    other = {"port": "starboard", "starboard": "port"}
    for mark in record["marks"]:
        if "side" in mark:
            mark["side"] = other[mark["side"]]


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        pytest.param(no_scale, "scale", id="no-scale"),
        pytest.param(on_one_line, "line", id="all-marks-on-one-line"),
        pytest.param(keel_above_the_line, "keel", id="keel-above-the-reference-line"),
        pytest.param(sides_exchanged, "starboard", id="port-and-starboard-exchanged"),
    ],
)
def test_evidence_that_makes_no_transom(
    tmp_path: Path, out: Path, capsys: pytest.CaptureFixture[str], edit: Callable[[Record], None], words: str
) -> None:
    """Evidence that can't be a transom is refused by what is wrong with it."""
    said = refused(copied(tmp_path, edit), out, capsys)
    assert words in said
    assert said.count("\n") == 1


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with nothing wrong."""
    return copied(tmp_path_factory.mktemp("job"))


@pytest.mark.parametrize(
    ("place", "words"),
    [
        pytest.param("nowhere/report.pdf", "folder", id="no-such-folder"),
        pytest.param("results", "folder", id="a-folder"),
        pytest.param("results/report.pdf/report.pdf", "folder", id="below-a-file"),
    ],
)
def test_output_that_has_no_place(
    tmp_path: Path, job: Path, out: Path, capsys: pytest.CaptureFixture[str], place: str, words: str
) -> None:
    """A report with nowhere to go is refused, and the folder stays as it was."""
    assert words in refused(job, tmp_path / place, capsys)
    assert out.read_bytes() == OLD


def test_output_over_somebodys_file(job: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is no report is not replaced by one."""
    out.write_text("notes of a year")
    assert "not a PDF" in refused(job, out, capsys)


def test_output_over_the_photo(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The photo stays when a slip of the hand names it as the report."""
    assert "the job itself or one of its photos" in refused(job, job.parent / "photo_1.jpg", capsys)


@pytest.mark.skipif(os.name != "posix", reason="permissions of POSIX systems")
def test_folder_that_may_not_be_written(job: Path, out: Path) -> None:
    """A folder that the user may not write is said to be that; root turns into nobody just before writing."""
    script = (
        "import os\n"
        "import digitizer.files as files\n"
        "from digitizer.cli.main import run\n"
        "named = files._beside\n"
        "def as_nobody(path):\n"
        "    if os.geteuid() == 0:\n"
        "        os.seteuid(65534)\n"
        "    return named(path)\n"
        "files._beside = as_nobody\n"
        "run()\n"
    )
    out.parent.chmod(0o555)
    try:
        command = [sys.executable, "-c", script, "report", str(job), "--out", str(out)]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    finally:
        out.parent.chmod(0o755)
    assert done.returncode == 1
    assert "writing is not allowed here" in done.stderr
    assert done.stderr.count("\n") == 1
    assert out.read_bytes() == OLD


def test_disk_that_is_full(job: Path, out: Path) -> None:
    """A report that the disk can't take leaves the older one alone; here a limit of 20 kB plays the full disk."""
    done = subprocess.run(
        [sys.executable, "-m", "digitizer", "report", str(job), "--out", str(out)],
        capture_output=True,
        text=True,
        timeout=60,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000)),
    )
    assert done.returncode == 1
    assert "could not be written" in done.stderr
    assert done.stderr.count("\n") == 1
    assert [path.name for path in out.parent.iterdir()] == ["report.pdf"]
    assert out.read_bytes() == OLD
