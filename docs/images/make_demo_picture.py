"""Draw the README's picture from the demo's report: ``python docs/images/make_demo_picture.py``."""

import subprocess
import sys
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image

WIDTH = 1100  # px
PARTS = {5: (0.18, 0.25, 0.82, 0.66), 2: (0.045, 0.12, 0.955, 0.90)}
"""Page of the report: the part shown, as fractions of the page (left, top, right, bottom)."""


def main() -> None:
    """Measure the demo, cut the marked photo and the drawing from its report, and put one above the other."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([sys.executable, "-m", "digitizer", "demo", "--out", folder], check=True)
        report = pypdfium2.PdfDocument(Path(folder) / "report.pdf")
        cuts = [_cut(report[page - 1].render(scale=2.5).to_pil(), part) for page, part in PARTS.items()]
        report.close()
    picture = Image.new("RGB", (WIDTH, sum(cut.height for cut in cuts)), "white")
    top = 0
    for cut in cuts:
        picture.paste(cut, (0, top))
        top += cut.height
    picture.quantize(128).save(Path(__file__).with_name("demo.png"), optimize=True)


def _cut(page: Image.Image, part: tuple[float, float, float, float]) -> Image.Image:
    """The part of a page, as wide as the picture."""
    left, top, right, bottom = part
    cut = page.crop(
        (round(left * page.width), round(top * page.height), round(right * page.width), round(bottom * page.height))
    )
    return cut.resize((WIDTH, round(cut.height * WIDTH / cut.width)), Image.Resampling.LANCZOS)


if __name__ == "__main__":
    main()
