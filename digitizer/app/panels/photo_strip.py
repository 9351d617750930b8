"""The strip of the job's photos; choosing one lays it on the table."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtWidgets import QListView, QListWidget, QListWidgetItem, QWidget

from digitizer.app.document import Document
from digitizer.app.words import tip, tr

_ICON = QSize(88, 60)


class PhotoStrip(QListWidget):
    """Small copies of all photos side by side."""

    photo_chosen = Signal(str)

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._icons: dict[str, QIcon] = {}
        self.setViewMode(QListView.ViewMode.IconMode)
        self.setFlow(QListView.Flow.LeftToRight)
        self.setWrapping(False)
        self.setMovement(QListView.Movement.Static)
        self.setIconSize(_ICON)
        self.setFixedHeight(_ICON.height() + self.fontMetrics().height() + 30)
        self.setAccessibleName(tr("Photos of the job"))
        document.job_changed.connect(self.refresh)
        document.photos_changed.connect(self.refresh)
        self.currentItemChanged.connect(self._chosen)

    def refresh(self) -> None:
        """Show the job's photos, those still being read as empty frames."""
        photos = self._document.job.photos
        wanted = [(p.id, p.file, p.id in self._document.photos) for p in photos]
        have = [self.item(i).data(Qt.ItemDataRole.UserRole) for i in range(self.count())]
        if wanted == have:
            return
        chosen = self.chosen()
        self.blockSignals(True)
        self.clear()
        for photo_id, file, is_read in wanted:
            item = QListWidgetItem(self._icon(photo_id), file.rsplit("/", 1)[-1])
            item.setData(Qt.ItemDataRole.UserRole, (photo_id, file, is_read))
            item.setToolTip(tip(file))
            item.setSizeHint(QSize(_ICON.width() + 24, _ICON.height() + self.fontMetrics().height() + 12))
            self.addItem(item)
        self.blockSignals(False)
        self.choose(chosen or (photos[0].id if photos else ""))
        self.setVisible(len(photos) > 1)

    def choose(self, photo_id: str) -> None:
        """Choose a photo by id."""
        for i in range(self.count()):
            if self.item(i).data(Qt.ItemDataRole.UserRole)[0] == photo_id:
                self.setCurrentRow(i)

    def chosen(self) -> str | None:
        """Id of the chosen photo."""
        item = self.currentItem()
        return str(item.data(Qt.ItemDataRole.UserRole)[0]) if item else None

    def _chosen(self) -> None:
        photo_id = self.chosen()
        if photo_id is not None:
            self.photo_chosen.emit(photo_id)

    def _icon(self, photo_id: str) -> QIcon:
        loaded = self._document.photos.get(photo_id)
        if loaded is None:
            blank = QPixmap(_ICON)
            blank.fill(self.palette().mid().color())
            return QIcon(blank)
        if photo_id not in self._icons:
            picture = loaded.picture
            size = QSize(picture.width, picture.height).scaled(_ICON, Qt.AspectRatioMode.KeepAspectRatio)
            pixmap = QPixmap(size)
            painter = QPainter(pixmap)
            picture.paint(painter, QRectF(0, 0, picture.width, picture.height), QRectF(pixmap.rect()))
            painter.end()
            self._icons[photo_id] = QIcon(pixmap)
        return self._icons[photo_id]
