"""Where results may go."""

from pathlib import Path

import pytest

from digitizer.errors import ReportError
from digitizer.reports.destinations import Kind, check_destination


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        pytest.param(b"%PDF-1.7 an older report", Kind.PDF, id="older-report"),
        pytest.param(b'{"format": 1, "survey": {"program_version": "0.1.0"', Kind.SURVEY, id="older-survey"),
        pytest.param(b"code,subject,label,group", Kind.DIMENSIONS, id="older-table"),
        pytest.param(b"", Kind.PDF, id="empty-file"),
    ],
)
def test_older_result_may_be_replaced(tmp_path: Path, content: bytes, kind: Kind) -> None:
    """A file of the same kind, or an empty one, gives way."""
    path = tmp_path / "result"
    path.write_bytes(content)
    check_destination(path, kind)


@pytest.mark.parametrize("kind", Kind)
def test_file_of_another_kind_stays(tmp_path: Path, kind: Kind) -> None:
    """Somebody's letter is not replaced by a result."""
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear owner,")
    with pytest.raises(ReportError, match="choose another name"):
        check_destination(letter, kind)


def test_job_and_photos_are_never_replaced(tmp_path: Path) -> None:
    """A source is refused even under another name for the same file."""
    job = tmp_path / "job.json"
    job.write_text('{"program_version": "a job that looks like a survey"}')
    alias = tmp_path / "alias.json"
    alias.symlink_to(job)
    for path in (job, alias):
        with pytest.raises(ReportError, match="the job itself or one of its photos"):
            check_destination(path, Kind.SURVEY, [job])


def test_free_name_is_fine(tmp_path: Path) -> None:
    """Nothing is refused where nothing exists."""
    check_destination(tmp_path / "new.pdf", Kind.PDF, [tmp_path / "missing.jpg"])
