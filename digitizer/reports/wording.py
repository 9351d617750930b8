"""What people typed, made harmless for one line of a drawing, whatever program shows it."""

from __future__ import annotations

import unicodedata

_DROPPED = ("Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp")
"""Control and formatting signs (those that turn the direction of writing too), halves of letters, unknown signs."""


def one_line(text: str, longest: int = 120) -> str:
    """
    A text on one line, shortened with an ellipsis.

    Letters of all scripts stay; what could steer a program or turn the line round goes.
    """
    kept = "".join(" " if unicodedata.category(sign) in _DROPPED else sign for sign in text[: 4 * longest])
    tidy = " ".join(kept.split())
    return tidy if len(tidy) <= longest else tidy[: longest - 1] + "…"
