"""A window's tests need no screen: Qt draws into memory."""

from __future__ import annotations

import os

import pytest
from PySide6.QtWidgets import QApplication

from digitizer.app.platform import application

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(scope="session")
def qapp() -> QApplication:
    """The application as the program itself makes it, whatever OpenCV told Qt before."""
    return application()
