"""What a search in a photo returns where there is nothing to find."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class NotFound:
    """
    No answer, and why. Falsy, so that ``if found:`` reads as it should.

    Parameters
    ----------
    reason
        A sentence for the person at the photo.
    """

    reason: str

    def __bool__(self) -> bool:
        return False
