"""A small version of the published simulation: slips of the hand named, flat and bowed told apart, intervals."""

from __future__ import annotations

import pytest

from tests.coverage.bowed_blunders import SLIPS, named
from tests.coverage.bowed_table import belongs, done, shape_found
from tests.coverage.trials import covered, plausible

SEED = 61_000


@pytest.mark.slow
@pytest.mark.parametrize("words", SLIPS)
def test_slips_are_named(words: str) -> None:
    """Each kind of slip is named first in a job of its own."""
    assert named(SLIPS[words](SEED))


@pytest.mark.slow
@pytest.mark.parametrize("bowed", [False, True], ids=["flat", "bowed"])
def test_flat_and_bowed_are_told_apart(bowed: bool) -> None:
    """A flat face taken as flat is said to be flat enough, a bowed one to be bowed."""
    assert shape_found((SEED, bowed))[1]


@pytest.mark.slow
def test_intervals_hold_the_truth() -> None:
    """Coverage over three jobs is 92 … 98 %, as far as three jobs can tell."""
    found = [
        t for n in range(3) for t in done(("two", SEED + n)).trials if belongs(t.code, (".x", "_girth", "sagitta"))
    ]
    assert plausible(*covered(found))
