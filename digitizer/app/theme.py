"""Light, dark or as the platform is: asked of the platform first, painted by ourselves where it doesn't know how."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from digitizer.job.preferences import Theme

_Role = QPalette.ColorRole
_SCHEMES = {Theme.LIGHT: Qt.ColorScheme.Light, Theme.DARK: Qt.ColorScheme.Dark}
_COLOURS: dict[Theme, dict[QPalette.ColorRole, str]] = {
    Theme.LIGHT: {
        _Role.Window: "#f2f2f0",
        _Role.WindowText: "#1d2733",
        _Role.Base: "#ffffff",
        _Role.AlternateBase: "#f4f5f6",
        _Role.Text: "#1d2733",
        _Role.PlaceholderText: "#687380",
        _Role.Button: "#ecece9",
        _Role.ButtonText: "#1d2733",
        _Role.ToolTipBase: "#fffbe6",
        _Role.ToolTipText: "#1d2733",
        _Role.Highlight: "#1f6aa5",
        _Role.HighlightedText: "#ffffff",
        _Role.Link: "#1a5f96",
        _Role.LinkVisited: "#1a5f96",
    },
    Theme.DARK: {
        _Role.Window: "#24272c",
        _Role.WindowText: "#e8ebef",
        _Role.Base: "#343941",
        _Role.AlternateBase: "#3a4048",
        _Role.Text: "#e8ebef",
        _Role.PlaceholderText: "#9aa4af",
        _Role.Button: "#444a53",
        _Role.ButtonText: "#e8ebef",
        _Role.ToolTipBase: "#3a3f46",
        _Role.ToolTipText: "#e8ebef",
        _Role.Highlight: "#2f7fbf",
        _Role.HighlightedText: "#ffffff",
        _Role.Link: "#82bdf0",
        _Role.LinkVisited: "#82bdf0",
    },
}
_FADED = {Theme.LIGHT: "#8b949e", Theme.DARK: "#7d8791"}
_WRITING = (_Role.WindowText, _Role.Text, _Role.ButtonText)


def apply_theme(theme: Theme) -> None:
    """Show the whole program light, dark or as the platform is."""
    hints = QGuiApplication.styleHints()
    if theme is Theme.SYSTEM:
        hints.unsetColorScheme()
        QApplication.setPalette(QPalette())
        return
    hints.setColorScheme(_SCHEMES[theme])
    knows = hints.colorScheme() is _SCHEMES[theme]
    QApplication.setPalette(QPalette() if knows else palette_of(theme))


def palette_of(theme: Theme) -> QPalette:
    """Our own light or dark palette."""
    colours = _COLOURS[theme]
    palette = QPalette(QColor(colours[_Role.Button]), QColor(colours[_Role.Window]))
    for role, colour in colours.items():
        palette.setColor(role, QColor(colour))
    for role in _WRITING:
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(_FADED[theme]))
    palette.setColor(QPalette.ColorGroup.Disabled, _Role.Highlight, QColor(_FADED[theme]))
    return palette
