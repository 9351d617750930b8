"""The open points: what is missing, weak or contradictory, most helpful first, without jargon."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from digitizer.job.model import Fitting, Job, Mark, MarkKind, Photo
from digitizer.survey.foresight import Better, Foresight, Reach
from digitizer.survey.model import Finding, Improvement, Quantity, Severity, Survey
from digitizer.survey.point_words import ASKED, INTERNAL, SHOWN
from digitizer.survey.points import PointKind, open_points
from tests.survey.exact import a_case

JARGON = re.compile(
    r"\bw =|\bEn\b|residual|redundan|adjust|covariance|\bpx\b|pixel|EXIF|sigma|standardi|\bpose\b|outlier|snap|"
    r"observation|calibrat|parameter|\bu =|uncertaint",
    re.IGNORECASE,
)


def finding(code: str, subject: str = "keel", severity: Severity = Severity.WARNING) -> Finding:
    """A finding of some code."""
    return Finding(code, severity, subject, "w = +4.1, residual 3 px")


@pytest.fixture(scope="module")
def survey() -> Survey:
    """A faultless job with one board, its own findings taken away."""
    return replace(a_case().survey(), findings=(), improvements=())


def words(points: tuple) -> str:  # type: ignore[type-arg]
    """Everything that the points say."""
    return " ".join(f"{p.what} {p.ask}" for p in points)


@pytest.mark.parametrize("code", sorted(ASKED))
def test_every_finding_is_said_without_jargon(survey: Survey, code: str) -> None:
    """What a customer reads holds none of the words of the craft, and nothing is left in braces."""
    found = open_points(a_case().job, replace(survey, findings=(finding(code),)))
    assert not JARGON.search(words(found))
    assert "{" not in words(found)
    assert any(p.weight == ASKED[code].weight for p in found)


@pytest.mark.parametrize("said", SHOWN.values(), ids=SHOWN)
def test_every_missing_step_is_said_without_jargon(said) -> None:  # type: ignore[no-untyped-def]
    """The same for what the job holds nothing of."""
    assert not JARGON.search(said.what + said.ask)


def test_empty_job_asks_for_a_photo_first() -> None:
    """With nothing at all the first thing is a photo, the second something of known length."""
    found = open_points(Job(), None)
    assert "photo" in found[0].what
    assert "known length" in found[1].what
    assert all(p.kind is PointKind.MISSING for p in found)


def test_job_that_can_not_be_measured_has_its_page() -> None:
    """The refusal becomes a request, its own words stay inside."""
    job = Job(photos=(Photo("p", "p.jpg"),), marks=(Mark("keel", "p", MarkKind.KEEL, 1.0, 1.0),))
    found = open_points(job, None, "Nothing fixes scale: rank defect of the normal matrix")
    assert "rank" not in words(found)
    assert "can't be measured yet" in found[0].what


def test_contradictions_come_before_what_is_only_weak(survey: Survey) -> None:
    """A tape figure that disagrees stands before an oblique photo, whatever the order of the findings."""
    found = open_points(a_case().job, replace(survey, findings=(finding("oblique"), finding("tape_disagrees"))))
    kinds = [p.kind for p in found]
    assert kinds.index(PointKind.CONTRADICTORY) < kinds.index(PointKind.WEAK)
    assert [p.weight for p in found] == sorted((p.weight for p in found), reverse=True)


def test_additions_stand_in_the_order_of_their_help(survey: Survey) -> None:
    """The most helpful addition first, with what it would do; marks put again are no customer's business."""
    improvements = (
        Improvement("placing the marks again at a higher zoom (to 0.3 px)", "Chine beam", Quantity.LENGTH, 12.0, 2.0),
        Improvement("a tape figure across the chines (± 2 mm)", "Chine beam", Quantity.LENGTH, 12.0, 3.0),
        Improvement("a second straight line", "Deadrise port", Quantity.ANGLE, 0.6, 0.2),
    )
    found = open_points(a_case().job, replace(survey, improvements=improvements))
    asked = [p for p in found if "would make it" in p.ask]
    assert [p.what for p in asked] == ["Chine beam: known to ± 12 mm only.", "Deadrise port: known to ± 0.60° only."]
    assert asked[0].ask == "Please add a length by tape across the chines. That would make it ± 3.0 mm."
    assert "px" not in words(found)


def test_a_request_is_made_once(survey: Survey) -> None:
    """Two findings that ask for the same make one point."""
    found = open_points(a_case().job, replace(survey, findings=(finding("no_rake"), finding("rake_unusual"))))
    asks = [p.ask for p in found]
    assert len(asks) == len(set(asks))


def test_things_are_called_by_their_names(survey: Survey) -> None:
    """A fitting by its name and not by its id."""
    job = replace(a_case().job, fittings=(Fitting("f_17", name="the {old} drain"),))
    found = open_points(job, replace(survey, findings=(finding("outlier", "f_17"),)))
    assert "the {old} drain" in words(found)
    assert "f_17" not in words(found)


@pytest.mark.parametrize("code", [*sorted(INTERNAL), "flange_conflict"])
def test_what_we_settle_ourselves_is_not_asked(survey: Survey, code: str) -> None:
    """Findings about our own marks leave no point."""
    plain = open_points(a_case().job, survey)
    assert open_points(a_case().job, replace(survey, findings=(finding(code),))) == plain


def test_unknown_findings_are_asked_in_plain_words(survey: Survey) -> None:
    """A finding that nobody has found words for is still a point when it is loud, and its own text stays inside."""
    found = open_points(a_case().job, replace(survey, findings=(finding("brand_new", severity=Severity.SERIOUS),)))
    assert not JARGON.search(words(found))
    assert any("keel" in p.what for p in found)


def test_every_code_of_the_program_has_words_or_a_reason() -> None:
    """Each finding that the survey can make is asked for, or named as our own business."""
    import inspect

    from digitizer.survey import condition, findings, measure, rake, rake_findings

    source = "".join(inspect.getsource(m) for m in (condition, findings, measure, rake, rake_findings))
    codes = set(re.findall(r'Finding\(\s*"(\w+)"', source))
    assert len(codes) > 20
    assert codes - set(ASKED) - INTERNAL - {"advice"} == set()


def test_photos_that_are_not_marked_yet_ask_for_what_would_help_them_most() -> None:
    """In the owner's words, with what it would come to; nothing is asked where nothing would help."""
    better = Better("a tape figure across the chines (± 2 mm)", Reach(4.0, 0.2))
    found = Foresight(("photo",), "board", 1.0, 2400.0, Reach(8.0, 0.25), "port chine", 9.0, (better,))
    point = next(p for p in open_points(Job(), None, "refused", found) if p.kind is PointKind.WEAK)
    assert "± 8.0 mm and ± 0.25°" in point.what
    assert point.ask == (
        "Please see to a tape figure across the chines (± 2 mm). That would make it ± 4.0 mm and ± 0.20°."
    )
    assert not JARGON.search(words((point,)))
    good = replace(found, better=())
    assert not any(p.kind is PointKind.WEAK for p in open_points(Job(), None, "refused", good))
