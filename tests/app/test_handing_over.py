"""Files to hand over: their fate is said before, they are what the command line writes, one failure stops no other."""

from __future__ import annotations

import errno
import os
from collections.abc import Sequence
from pathlib import Path

import pytest
from pypdf import PdfReader

from digitizer.app.handing_over import (
    Fate,
    Material,
    Planned,
    Product,
    Written,
    fault_of_stem,
    file_stem,
    hand_over,
    planned,
    sources_of,
)
from digitizer.cli.main import main
from digitizer.job.reading import photo_bytes, read_job
from digitizer.job.shelf import PhotoShelf
from digitizer.samples import sample_job
from digitizer.survey.evidence import gather
from digitizer.survey.measure import measure


class Listener:
    """Remembers what it was told, and stops before the file of a number."""

    def __init__(self, stop_before: int = 99) -> None:
        self.stop_before = stop_before
        self.files: list[Written] = []
        self.steps: list[tuple[int, int]] = []

    def working(self, words: str, done: int, total: int) -> None:
        if done == self.stop_before:
            raise InterruptedError
        self.steps.append((done, total))

    def wrote(self, file: Written) -> None:
        self.files.append(file)


@pytest.fixture(scope="module")
def material() -> Material:
    job_file = read_job(sample_job("tape_only"))
    evidence = gather(job_file)
    survey = measure(job_file.job, evidence.facts, evidence.sightings)
    return Material(survey, job_file.job, PhotoShelf(job_file))


def written(plan: Sequence[Planned], material: Material) -> dict[Product, Written]:
    listener = Listener()
    hand_over(plan, material, listener)
    return {file.product: file for file in listener.files}


def test_every_product_is_written_whole(tmp_path: Path, material: Material) -> None:
    """All files appear under the names that were shown, in a folder made for them, and nothing else does."""
    plan = planned(tmp_path / "out" / "boat", "runabout", tuple(Product))
    files = written(plan, material)
    assert {each.path for each in plan} == set((tmp_path / "out/boat").iterdir())
    for each in plan:
        file = files[each.product]
        assert (file.path, file.problem) == (each.path, "")
        assert file.size_bytes == each.path.stat().st_size > 0
    for product in (Product.REPORT, Product.TEMPLATE):
        assert files[product].pages == len(PdfReader(files[product].path).pages) > 1


def test_figures_are_those_of_the_command_line(tmp_path: Path, material: Material) -> None:
    """The window's files hold the same bytes as those of `digitizer measure` on the same job."""
    written(planned(tmp_path, "w", (Product.DIMENSIONS, Product.SURVEY)), material)
    job = str(sample_job("tape_only"))
    assert main(["measure", job, "--csv", str(tmp_path / "c.csv"), "--json", str(tmp_path / "c.json")]) == 0
    assert (tmp_path / "w-dimensions.csv").read_bytes() == (tmp_path / "c.csv").read_bytes()
    assert (tmp_path / "w-survey.json").read_bytes() == (tmp_path / "c.json").read_bytes()


def test_job_handed_over_is_complete_and_the_open_one_stays(tmp_path: Path, material: Material) -> None:
    """The copy has the photos inside; the open job still saves to its own file."""
    home = material.shelf.job_file
    written(planned(tmp_path, "boat", (Product.JOB,)), material)
    copy = read_job(tmp_path / "boat.transom")
    assert copy.job == material.job
    assert all(photo_bytes(copy, photo) for photo in copy.job.photos)
    assert material.shelf.job_file is home


def test_fate_of_each_file_is_told_before(tmp_path: Path) -> None:
    """New, replacing an older one of ours, or refused because something else lies there."""
    (tmp_path / "b.pdf").write_bytes(b"%PDF-1.4 older")
    (tmp_path / "b-dimensions.csv").write_bytes(b"my own notes")
    (tmp_path / "b.svg").mkdir()
    plan = {each.product: each for each in planned(tmp_path, "b", tuple(Product))}
    assert plan[Product.SURVEY].fate is Fate.NEW
    assert plan[Product.REPORT].fate is Fate.REPLACES
    assert plan[Product.REPORT].words.startswith("replaces the one of 20")
    assert "is not a table of dimensions" in plan[Product.DIMENSIONS].words
    assert plan[Product.SVG].fate is Fate.REFUSED


def test_refused_files_are_left_alone(tmp_path: Path, material: Material) -> None:
    """Somebody's notes survive an order that names them."""
    (tmp_path / "b-dimensions.csv").write_bytes(b"my own notes")
    files = written(planned(tmp_path, "b", (Product.DIMENSIONS, Product.SURVEY)), material)
    assert set(files) == {Product.SURVEY}
    assert (tmp_path / "b-dimensions.csv").read_bytes() == b"my own notes"


def test_open_job_is_never_replaced_by_its_copy(tmp_path: Path, material: Material) -> None:
    """Handing the job over onto itself is refused, and so is onto one of its photos."""
    written(planned(tmp_path, "boat", (Product.JOB,)), material)
    found = read_job(tmp_path / "boat.transom")
    sources = sources_of(found.job, PhotoShelf(found, {"photo": tmp_path / "loose.jpg"}))
    assert set(sources) == {tmp_path / "boat.transom", tmp_path / "loose.jpg"}
    (plan,) = planned(tmp_path, "boat", (Product.JOB,), sources)
    assert (plan.fate, "the job itself" in plan.words) == (Fate.REFUSED, True)


@pytest.mark.parametrize(
    ("folder", "words"),
    [("a_file", "a file, not a folder"), ("a_file/below", "can't be made"), ("new/below", "new file")],
)
def test_folder_is_judged_before(tmp_path: Path, folder: str, words: str) -> None:
    """A folder that isn't there is made; one that can't be is told at once."""
    (tmp_path / "a_file").write_bytes(b"")
    (plan,) = planned(tmp_path / folder, "b", (Product.REPORT,))
    assert words in plan.words


def test_folder_without_leave_to_write_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A read-only folder is seen before work begins."""
    monkeypatch.setattr(os, "access", lambda *_: False)  # the tests may run as root, who may write everything
    (plan,) = planned(tmp_path, "b", (Product.REPORT,))
    assert (plan.fate, plan.words) == (Fate.REFUSED, "writing is not allowed in this folder")


def test_full_disk_is_told_for_the_file_and_the_rest_goes_on(
    tmp_path: Path, material: Material, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One file that meets a full disk is named; the older version of it and the other files are whole."""
    fsync, calls = os.fsync, []
    (tmp_path / "b-dimensions.csv").write_bytes(b"code,subject,label older")

    def full_once(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 1:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        fsync(handle)

    monkeypatch.setattr(os, "fsync", full_once)
    files = written(planned(tmp_path, "b", (Product.DIMENSIONS, Product.SURVEY)), material)
    assert "the disk is full" in files[Product.DIMENSIONS].problem
    assert files[Product.SURVEY].problem == ""
    assert (tmp_path / "b-dimensions.csv").read_bytes() == b"code,subject,label older"


def test_stopping_leaves_whole_files_only(tmp_path: Path, material: Material) -> None:
    """Between two files one may stop; what was begun is whole, the rest is not there."""
    listener = Listener(stop_before=1)
    plan = planned(tmp_path, "b", (Product.DIMENSIONS, Product.SURVEY))
    with pytest.raises(InterruptedError):
        hand_over(plan, material, listener)
    assert [file.product for file in listener.files] == [Product.DIMENSIONS]
    assert [path.name for path in tmp_path.iterdir()] == ["b-dimensions.csv"]
    assert listener.steps == [(0, 2)]


@pytest.mark.parametrize(
    ("title", "stem"),
    [
        ("Runabout 19", "Runabout 19"),
        ("a/b: the “best”?", "a b the “best”"),
        ("...", "transom"),
        ("", "transom"),
        ("x" * 200, "x" * 80),
    ],
)
def test_names_come_from_the_title(title: str, stem: str) -> None:
    """Whatever a job is called, its files have a name that every file system takes."""
    assert file_stem(title) == stem
    assert fault_of_stem(stem) == ""


@pytest.mark.parametrize("stem", ["", "  ", "a/b", "..", "a\\b", "x."])
def test_name_that_leads_elsewhere_is_refused(stem: str) -> None:
    """A typed name can't leave the folder."""
    assert fault_of_stem(stem)
