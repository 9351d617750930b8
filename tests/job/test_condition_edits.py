"""What a surveyor does to a condition survey: each verb leaves a job that fits together."""

from __future__ import annotations

from dataclasses import replace

from digitizer.job import condition_edits as verbs
from digitizer.job import edits
from digitizer.job.edits import Click
from digitizer.job.model import Defect, DefectKind, Job, MarkKind, Photo, PhotoKind, Sound
from digitizer.job.validation import check_references

START = Job(photos=(Photo("p", "p.jpg"), Photo("q", "q.jpg", kind=PhotoKind.CLOSE_UP)))


def crack(job: Job = START, name: str | None = None, *places: int) -> Job:
    return verbs.with_defect_marks(job, name, MarkKind.CRACK, [Click("p", x, 5.0) for x in places or (1, 9)])


def test_first_click_brings_the_defect() -> None:
    """A crack comes into being with its first mark and takes the next ones when it is named."""
    job = crack(crack(), "crack", 20)
    assert [(d.id, d.kind) for d in job.defects] == [("crack", DefectKind.CRACK)]
    assert [(m.of, m.x_px) for m in job.marks] == [("crack", 1), ("crack", 9), ("crack", 20)]
    assert check_references(job) == ()


def test_second_crack_has_a_name_of_its_own() -> None:
    """Also where only marks bear the first one's name, without a record."""
    job = crack(replace(crack(), defects=()))
    assert job.defects == (Defect("crack_2", DefectKind.CRACK),)


def test_new_marks_join_listed_points() -> None:
    """A defect whose order is written down measures later marks too."""
    job = crack()
    job = edits.with_record(job, "defects", replace(job.defects[0], points=("crack", "crack_2")))
    assert crack(job, "crack", 20).defects[0].points == ("crack", "crack_2", "crack_3")


def test_removed_defect_takes_its_marks_with_it() -> None:
    """And nothing else."""
    job = crack(crack())
    assert verbs.without_defect(job, "crack_2") == crack()


def test_removed_mark_leaves_no_name_behind() -> None:
    """Listed points, readings and soundings whose mark is gone would make the job unreadable."""
    job = verbs.with_sounding(verbs.with_meter_reading(crack(), Click("p", 5, 5), 12.0), Click("p", 6, 6), Sound.DULL)
    job = edits.with_record(job, "defects", replace(job.defects[0], points=("crack", "crack_2")))
    for mark in job.marks:
        job = edits.without_record(job, "marks", mark.id)
        assert check_references(job) == ()
    assert (job.meter_readings, job.soundings) == ((), ())
    assert job.defects[0].points == ()


def test_removed_close_up_is_named_nowhere() -> None:
    """The defect stays, its photo is gone."""
    job = verbs.with_close_up(crack(), "crack", "q", shows=True)
    assert job.defects[0].close_ups == ("q",)
    assert check_references(job) == ()
    assert edits.without_record(job, "photos", "q").defects[0].close_ups == ()


def test_defect_without_marks_is_kept() -> None:
    """Its note and priority are the surveyor's, so an edit elsewhere never takes it out."""
    job = replace(crack(), defects=(Defect("noted", note="soft underfoot"), *crack().defects))
    assert "noted" in [d.id for d in edits.without_record(job, "marks", "crack").defects]


def test_reading_is_of_the_last_meter_and_the_first_brings_one() -> None:
    """Removing a meter takes its readings with it."""
    job = verbs.with_meter_reading(START, Click("p", 5, 5), 12.0)
    job = verbs.with_meter_reading(verbs.with_meter(job), Click("p", 7, 7), 15.0)
    assert [r.meter for r in job.meter_readings] == ["meter", "meter_2"]
    assert [r.value for r in edits.without_record(job, "meters", "meter").meter_readings] == [15.0]
