"""What is wrong with a job, where in its file, and how it is told."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from digitizer.errors import JobFileError

_SHOWN = 10


@dataclass(frozen=True)
class Problem:
    """Something wrong at a place in the file such as ``marks[3].photo``."""

    place: str
    text: str


def refusal(name: str, problems: Sequence[Problem]) -> JobFileError:
    """One error that tells of all problems, the first ten in full."""
    lines = [f"{problem.place}: {problem.text}" for problem in problems[:_SHOWN]]
    if len(problems) > _SHOWN:
        lines.append(f"… and {len(problems) - _SHOWN} more")
    places = tuple(problem.place for problem in problems)
    if len(problems) == 1:
        return JobFileError(f"{name}: {lines[0]}", places)
    return JobFileError("\n  ".join([f"{name}: {len(problems)} things in this job need correcting:", *lines]), places)


def quoted(text: str) -> str:
    """A stranger's text in quotes, without anything a terminal would obey."""
    return f'"{text}"' if text.isprintable() else json.dumps(text)


def repeated(name: str, field: str, values: Iterable[str]) -> Iterator[Problem]:
    """A problem for each value of a list that an earlier one has."""
    first: dict[str, int] = {}
    for i, value in enumerate(values):
        earlier = first.setdefault(value, i)
        if earlier != i:
            yield Problem(
                f"{name}[{i}].{field}", f"{quoted(value)} is already used by {name}[{earlier}]: give each its own"
            )


def unknown(place: str, value: str, what: str, known: Iterable[str]) -> Iterator[Problem]:
    """A problem if a name leads nowhere."""
    if value not in known:
        yield Problem(place, f"there is no {what} {quoted(value)} in this job: correct the name or add it")
