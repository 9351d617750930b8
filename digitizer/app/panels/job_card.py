"""The job card: the steps of the work, how each stands, and the tools that belong to it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPalette
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from digitizer.app.dialogs.frame import wrapped
from digitizer.app.document import Document
from digitizer.app.line_drawing import drawing_of
from digitizer.app.tools import BY_KEY, Tool, tool_for
from digitizer.app.words import tip, tr
from digitizer.survey.steps import Step, StepName, StepState, steps

SIGNS = {StepState.NOTHING: "○", StepState.ENOUGH: "✓", StepState.LOOK: "!"}
TITLES = {
    StepName.PHOTOS: "Photos",
    StepName.KNOWN_LENGTHS: "Known lengths",
    StepName.REFERENCE_LINE: "Reference line",
    StepName.BOTTOM: "Bottom",
    StepName.OUTLINE: "Outline",
    StepName.FITTINGS: "Fittings",
    StepName.TAPE: "Tape figures",
    StepName.FINDINGS: "Findings",
    StepName.HAND_OVER: "Hand over",
}
_TOOLS = {
    StepName.KNOWN_LENGTHS: ("length", "sheet"),
    StepName.REFERENCE_LINE: ("reference_line",),
    StepName.BOTTOM: (
        "keel",
        "bottom_edge_port",
        "bottom_edge_starboard",
        "chine_port",
        "chine_starboard",
        "chine_inner_port",
        "chine_inner_starboard",
    ),
    StepName.OUTLINE: ("outline", "top_edge", "top_corner_port", "top_corner_starboard"),
    StepName.FITTINGS: ("rim", "plate", "spot", "pad"),
}
_FORESEEN = (StepName.PHOTOS, StepName.KNOWN_LENGTHS)
_ACTIONS = {
    StepName.PHOTOS: (("add_photos", "Add photos …"),),
    StepName.KNOWN_LENGTHS: (("board", "Printed board …"),),
    StepName.FITTINGS: (("condition", "Condition survey …"), ("planning", "Flange and engines …")),
    StepName.TAPE: (("tape_form", "Tape figures …"), ("shape_form", "Shape and angle …")),
    StepName.FINDINGS: (("show_findings", "Show the findings"),),
    StepName.HAND_OVER: (("hand_over", "Hand over …"),),
}


class JobCard(QScrollArea):
    """All steps one under the other; one of them is open and shows its tools."""

    tool_chosen = Signal(object)
    """A `Tool`."""
    action_chosen = Signal(str)
    help_asked = Signal(str)
    """A step's name."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.steps: tuple[Step, ...] = ()
        self._rows: dict[StepName, _Row] = {}
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(tr("Job card"))
        inside = QWidget()
        layout = QVBoxLayout(inside)
        layout.setContentsMargins(6, 6, 6, 6)
        layout.setSpacing(2)
        for name, title in TITLES.items():
            row = _Row(name, tr(title), self)
            layout.addWidget(row)
            self._rows[name] = row
        layout.addStretch(1)
        self.setWidget(inside)
        document.job_changed.connect(self.refresh)
        document.answered.connect(self.refresh)
        self.open(StepName.PHOTOS)
        self.refresh()

    def refresh(self) -> None:
        """Say how every step stands now; a mark that is held changes no step."""
        if self.document.shown is not self.document.job:
            return
        survey = self.document.survey if self.document.is_current else None
        self.steps = steps(self.document.job, survey)
        for step in self.steps:
            self._rows[step.name].show_step(step)
        self._make_room()

    def show_outlook(self, words: str) -> None:
        """What the photos can reach before the transom is marked, under the steps that bring them; empty: nothing."""
        for name in _FORESEEN:
            self._rows[name].show_outlook(words)

    def outlook(self) -> str:
        """What is said of it."""
        return self._rows[StepName.PHOTOS].outlook()

    def _make_room(self) -> None:
        """As wide as the widest step needs when it is open, the scroll bar included: nothing is cut off."""
        bar = self.verticalScrollBar().sizeHint().width()
        margins = self.widget().layout().contentsMargins()  # type: ignore[union-attr]  # set when it was built
        self.setMinimumWidth(max(row.room() for row in self._rows.values()) + margins.left() + margins.right() + bar)

    def open(self, name: StepName) -> None:
        """Open one step and close the others."""
        for other, row in self._rows.items():
            row.set_open(other is name)
        self._make_room()

    def open_step(self) -> StepName:
        """The step that is open."""
        return next((name for name, row in self._rows.items() if row.is_open), StepName.PHOTOS)

    def show_armed(self, tool: Tool | None) -> None:
        """Light the button of the tool in hand, and open its step."""
        for name, row in self._rows.items():
            if row.show_armed(tool):
                self.open(name)

    def expected(self, skip: Sequence[str] = ()) -> Tool | None:
        """The tool for the next mark that the card misses."""
        for step in self.steps:
            if step.next is not None:
                tool = tool_for(step.next.kind, step.next.side)
                if tool is not None and tool.key not in skip:
                    return tool
        return None

    def sizeHint(self) -> QSize:
        """Narrow."""
        return QSize(250, 600)


class _Row(QFrame):
    """One step: a heading to press, and what is under it when it is open."""

    def __init__(self, name: StepName, title: str, card: JobCard) -> None:
        super().__init__()
        self._name, self._title = name, title
        self.is_open = False
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 4)
        layout.setSpacing(3)
        self._head = _Heading(self)
        self._head.clicked.connect(lambda: card.open(name))
        layout.addWidget(self._head)
        self._body = QWidget()
        body = QVBoxLayout(self._body)
        body.setContentsMargins(10, 0, 4, 6)
        body.setSpacing(4)
        self._words = wrapped()
        self._words.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        picture = drawing_of(name)
        if picture is not None:
            body.addWidget(picture)
        self._buttons: dict[str, QPushButton] = {}
        for key in _TOOLS.get(name, ()):
            self._add_tool(BY_KEY[key], card, body)
        for key, label in _ACTIONS.get(name, ()):
            button = QPushButton(tr(label))
            button.setObjectName(key)
            button.clicked.connect(lambda _=False, k=key: card.action_chosen.emit(k))
            body.addWidget(button)
        self._how = wrapped()
        self._how.setForegroundRole(QPalette.ColorRole.PlaceholderText)
        body.addWidget(self._how)
        self._outlook = wrapped()
        self._outlook.hide()
        body.addWidget(self._outlook)
        body.addWidget(self._words)  # under the buttons, so that they stay put under the pointer while it changes
        help_button = QToolButton()
        help_button.setText(tr("How to do this"))
        help_button.setAutoRaise(True)
        help_button.clicked.connect(lambda: card.help_asked.emit(name.value))
        body.addWidget(help_button)
        layout.addWidget(self._body)

    def _add_tool(self, tool: Tool, card: JobCard, body: QVBoxLayout) -> None:
        button = QPushButton(tr(tool.label))
        button.setObjectName(tool.key)
        button.setCheckable(True)
        button.setToolTip(tr(tool.how))
        button.setAccessibleDescription(tr(tool.how))
        button.clicked.connect(lambda _=False, t=tool: card.tool_chosen.emit(t))
        self._buttons[tool.key] = button
        body.addWidget(button)

    def room(self) -> int:
        """Width that it needs when it is open."""
        layout = self._body.layout()
        inside = layout.minimumSize().width() if layout is not None else 0
        return max(inside, self._head.minimumSizeHint().width())

    def set_open(self, is_open: bool) -> None:
        self.is_open = is_open
        self._body.setVisible(is_open)
        self._head.setChecked(is_open)

    def show_step(self, step: Step) -> None:
        self._head.show_words(self._title, SIGNS[step.state], tr(step.state.value), step.holds)
        self._words.setText(step.missing)
        self._words.setVisible(bool(step.missing))

    def show_outlook(self, words: str) -> None:
        self._outlook.setText(words.replace("± ", "±\N{NO-BREAK SPACE}"))
        self._outlook.setVisible(bool(words))

    def outlook(self) -> str:
        return self._outlook.text()

    def show_armed(self, tool: Tool | None) -> bool:
        """Whether the tool in hand is one of this step's."""
        for key, button in self._buttons.items():
            button.setChecked(tool is not None and key == tool.key)
        mine = tool is not None and tool.key in self._buttons
        self._how.setText(tr(tool.how) if tool is not None and mine else "")
        self._how.setVisible(mine)
        return mine


class _Heading(QPushButton):
    """A step's title, its sign and state in words, and what it holds."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setCheckable(True)
        self.setFlat(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 5, 8, 5)
        layout.setSpacing(1)
        top = QHBoxLayout()
        self._title, self._state, self._holds = QLabel(), QLabel(), QLabel()
        font = self._title.font()
        font.setBold(True)
        self._title.setFont(font)
        self._holds.setWordWrap(False)
        self._holds.setForegroundRole(QPalette.ColorRole.PlaceholderText)
        self._state.setForegroundRole(QPalette.ColorRole.WindowText)
        self._holds.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        top.setSpacing(10)
        top.addWidget(self._title)
        top.addStretch(1)
        top.addWidget(self._state)
        layout.addLayout(top)
        layout.addWidget(self._holds)
        for label in (self._title, self._state, self._holds):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)

    def show_words(self, title: str, sign: str, state: str, holds: str) -> None:
        self._title.setText(title)
        self._state.setText(f"{state} {sign}")
        self._holds.setText(holds or " ")  # never hidden, so that the steps below stay where they are
        self.setToolTip(tip(holds))
        self.setAccessibleName(tr("{title} step", title=title))
        self.setAccessibleDescription(f"{state}. {holds}")
        self.updateGeometry()

    def sizeHint(self) -> QSize:
        layout = self.layout()
        return layout.sizeHint() if layout is not None else super().sizeHint()

    def minimumSizeHint(self) -> QSize:
        layout = self.layout()
        return layout.minimumSize() if layout is not None else super().minimumSizeHint()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and down go from heading to heading."""
        if event.key() == Qt.Key.Key_Down:
            self.focusNextChild()
        elif event.key() == Qt.Key.Key_Up:
            self.focusPreviousChild()
        else:
            super().keyPressEvent(event)
