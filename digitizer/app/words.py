"""Every text that the window shows passes here on its way, so that another language is one file of translations."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication


def tr(text: str, **values: object) -> str:
    """
    The text in the user's language, `values` put into its braces.

    >>> tr("{count} marks", count=3)
    '3 marks'
    """
    translated = QCoreApplication.translate("digitizer", text)
    return translated.format(**values) if values else translated
