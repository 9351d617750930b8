"""
Draw the pictures of the window anew: the three users' runs on a virtual screen keep their screenshots here.

Run it from the top of the tree: `python docs/images/make_window_pictures.py`.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

FOLDER = Path(__file__).parent
WANTED = ("doors", "fabricator", "hand-over", "owner", "surveyor")


def main() -> None:
    """Run the users, keep what is wanted."""
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"DIGITIZER_SCREENSHOTS": folder}
        subprocess.run([sys.executable, "-m", "pytest", "-q", "tests/end_to_end"], env=environment, check=True)
        for name in WANTED:
            shot = Image.open(Path(folder) / f"{name}.png").convert("RGB")
            shot.quantize(200).save(FOLDER / f"window-{name}.png", optimize=True)


if __name__ == "__main__":
    main()
