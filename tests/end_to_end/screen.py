"""A virtual screen, the program on it, and the hands of a person: pointer, keys, and a camera for the screen."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

NEEDED = ("Xvfb", "openbox", "xdotool", "import")
"""Programs of Debian's packages xvfb, openbox (which gives windows the keyboard), xdotool and imagemagick."""
TREE = Path(__file__).parents[2]
PATIENCE_S = 60.0


def missing() -> list[str]:
    """Programs that a virtual screen needs and this machine lacks."""
    return [name for name in NEEDED if shutil.which(name) is None]


@contextmanager
def virtual_screen(width: int = 1366, height: int = 768) -> Iterator[str]:
    """A screen that nobody sees; gives its name."""
    read, write = os.pipe()
    command = ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{width}x{height}x24", "-nolisten", "tcp"]
    server = subprocess.Popen(command, pass_fds=[write], stderr=subprocess.DEVNULL)
    os.close(write)
    try:
        with os.fdopen(read) as stream:
            name = f":{stream.readline().strip()}"
        manager = subprocess.Popen(["openbox"], env=os.environ | {"DISPLAY": name}, stderr=subprocess.DEVNULL)
        time.sleep(0.5)
        yield name
        manager.terminate()
        manager.wait()
    finally:
        server.terminate()
        server.wait()


class Person:
    """Somebody at the program."""

    def __init__(
        self, display: str, place: Path, *files: Path, size: str = "1366x768", env: dict[str, str] | None = None
    ):
        self._env = os.environ | {"DISPLAY": display, "QT_QPA_PLATFORM": "xcb", "PYTHONPATH": str(TREE)} | (env or {})
        self._env["XDG_CONFIG_HOME"] = str(place / "config")
        command = [sys.executable, "-m", "tests.end_to_end.host", str(place), size, *map(str, files)]
        self.program = subprocess.Popen(
            command, cwd=TREE, env=self._env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert self._read() == "ready"

    def click(self, words: str) -> None:
        """Press the button or part with this text."""
        self._click_at(*self.wait_for(lambda: self._ask(f"where {words}"), words))

    def click_photo(self, x: float, y: float, *held: str) -> None:
        """Click a pixel of the photo, with keys held down."""
        for key in held:
            self._do("keydown", key)
        self._click_at(*self._ask(f"photo {x} {y}"))
        for key in held:
            self._do("keyup", key)

    def drag_photo(self, start: tuple[float, float], end: tuple[float, float], *held: str) -> None:
        """Drag from one pixel of the photo to another."""
        for key in held:
            self._do("keydown", key)
        self._do("mousemove", *map(str, self._ask(f"photo {start[0]} {start[1]}")), "mousedown", "1")
        for share in (0.5, 1.0):
            x, y = (a + share * (b - a) for a, b in zip(start, end, strict=True))
            self._do("mousemove", *map(str, self._ask(f"photo {x} {y}")))
            time.sleep(0.05)
        self._do("mouseup", "1")
        for key in held:
            self._do("keyup", key)

    def type(self, text: str) -> None:
        """Type a text where the cursor is."""
        self._do("type", "--delay", "5", text)

    def press(self, *keys: str) -> None:
        """Press keys one after the other, such as ``ctrl+s``."""
        for key in keys:
            self._do("key", key)
            time.sleep(0.05)

    def state(self) -> dict[str, Any]:
        """What the document holds."""
        state: dict[str, Any] = self._ask("state")
        return state

    def wait(self, done: Callable[[dict[str, Any]], bool], what: str) -> dict[str, Any]:
        """Until the state is so."""
        return self.wait_for(lambda: state if done(state := self.state()) else None, what)

    def wait_for(self, find: Callable[[], Any], what: str) -> Any:
        """Until something is there."""
        end = time.monotonic() + PATIENCE_S
        while (found := find()) is None:
            assert time.monotonic() < end, f"waited in vain for {what}; {self.state()}"
            time.sleep(0.05)
        return found

    def photograph(self, path: Path) -> None:
        """Keep what the screen shows."""
        time.sleep(0.4)
        path.parent.mkdir(parents=True, exist_ok=True)
        subprocess.run(["import", "-window", "root", str(path)], env=self._env, check=True)

    def leave(self) -> None:
        """End the program from outside, whatever it is doing."""
        self.program.kill()
        self.program.communicate()

    def _click_at(self, x: int, y: int) -> None:
        self._do("mousemove", str(x), str(y))
        time.sleep(0.03)
        self._do("click", "1")
        time.sleep(0.05)

    def _do(self, *words: str) -> None:
        subprocess.run(["xdotool", *words], env=self._env, check=True)

    def _ask(self, question: str) -> Any:
        assert self.program.stdin is not None
        print(question, file=self.program.stdin, flush=True)
        return self._read()

    def _read(self) -> Any:
        assert self.program.stdout is not None
        return json.loads(self.program.stdout.readline())
