"""Parts of the report that adapt to their page."""

import pytest
from reportlab.platypus import Spacer

from digitizer.reports.parts import IfRoom


@pytest.mark.parametrize(
    ("height", "size"),
    [
        pytest.param(300.0, (100.0, 200.0), id="room-enough"),
        pytest.param(150.0, (75.0, 150.0), id="shrinks"),
        pytest.param(90.0, (0.0, 0.0), id="left-out-under-half-size"),
    ],
)
def test_cover_picture_keeps_to_its_page(height, size):
    """The picture of the cover shrinks to the rest of the page, and is left out under half its size."""
    assert IfRoom(Spacer(100.0, 200.0)).wrap(400.0, height) == size
