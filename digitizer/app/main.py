"""The window's front door."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path


def run(paths: Sequence[Path] = ()) -> int:
    """
    Open the window, with a job or photos in it, and stay until it is closed.

    Returns
    -------
    status
        Of the process: 0 when the window was closed.
    """
    from digitizer.app.desk import sort_drop
    from digitizer.app.platform import application
    from digitizer.app.window import Window

    app = application()
    window = Window()
    window.restore()
    window.show()
    window.dialogs.offer_recovery()
    jobs, photos, _ = sort_drop(paths)
    if jobs:
        window.desk.open(jobs[0])
    window.desk.add_photos(photos)
    return app.exec()


if __name__ == "__main__":
    sys.exit(run([Path(word) for word in sys.argv[1:]]))
