"""Every text that the window shows passes here on its way, so that another language is one file of translations."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import QCoreApplication


def tr(text: str, **values: object) -> str:
    """
    The text in the user's language, `values` put into its braces.

    >>> tr("{count} marks", count=3)
    '3 marks'
    """
    translated = QCoreApplication.translate("digitizer", text)
    return translated.format(**values) if values else translated


def tip(text: str) -> str:
    """A text for a tool tip, which would otherwise take what a user typed for markup."""
    return f"<p>{escape(text)}</p>".replace("\n", "<br>") if text else ""
