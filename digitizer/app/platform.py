"""
Qt as this machine offers it.

OpenCV's wheel for Linux points Qt at plugins and fonts of its own; they must be forgotten before the application
is made, or no window opens.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication

from digitizer import __version__

_OPENCV_SETS = ("QT_QPA_PLATFORM_PLUGIN_PATH", "QT_QPA_FONTDIR")


def application(arguments: Sequence[str] = ()) -> QApplication:
    """The one application of this process, made at the first call."""
    running = QApplication.instance()
    if isinstance(running, QApplication):
        return running
    for name in _OPENCV_SETS:
        os.environ.pop(name, None)
    QGuiApplication.setHighDpiScaleFactorRoundingPolicy(Qt.HighDpiScaleFactorRoundingPolicy.PassThrough)
    app = QApplication([sys.argv[0], *arguments])
    app.setApplicationName("digitizer")
    app.setOrganizationName("digitizer")
    app.setApplicationDisplayName("digitizer")
    app.setApplicationVersion(__version__)
    return app
