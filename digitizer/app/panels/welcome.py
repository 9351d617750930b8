"""The empty window: three doors."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget

from digitizer.app.words import tr


class Welcome(QWidget):
    """Photos of a transom, a job that somebody sent, or the sample."""

    photos_asked = Signal()
    job_asked = Signal()
    sample_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        layout = QVBoxLayout(self)
        layout.setAlignment(Qt.AlignmentFlag.AlignCenter)
        layout.setSpacing(14)
        head = QLabel(tr("What do you have?"))
        font = head.font()
        font.setPointSizeF(font.pointSizeF() * 1.6)
        head.setFont(font)
        layout.addWidget(head)
        for title, words, signal in (
            (tr("Photos of a transom"), tr("Measure them; you can also drop them here."), self.photos_asked),
            (tr("A job that somebody sent"), tr("A .transom file, or a job.json beside its photos."), self.job_asked),
            (
                tr("Show me with the sample"),
                tr("A finished job of an invented boat."),
                self.sample_asked,
            ),
        ):
            button = QPushButton(title)
            button.setMinimumSize(420, 46)
            button.setAccessibleDescription(words)
            button.clicked.connect(signal)
            layout.addWidget(button)
            caption = QLabel(words)
            caption.setEnabled(False)
            layout.addWidget(caption)
