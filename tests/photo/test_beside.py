"""A row that was missed right above or below a bar's rows is seen there; what is no row is not."""

import numpy as np
import pytest

from ribbonbar.photo.beside import with_row_beside
from ribbonbar.photo.finding import bar_outline
from ribbonbar.photo.model import FoundBar, Row
from ribbonbar.photo.scales import Scales
from tests.benchmarks.finding import shared_area

CLOTH = ((170, 30, 40), (235, 235, 230), (30, 60, 130), (30, 110, 60), (225, 190, 60), (80, 30, 90))
FOUND = [(200, 300, 776, 360), (200, 362, 776, 422)]


def picture_of(*boxes):
    """Even ground with striped rows (left, top, right, bottom), no two alike."""
    pixels = np.full((700, 1000, 3), (92, 98, 104), np.uint8)
    for number, (left, top, right, bottom) in enumerate(boxes):
        for stripe, x in enumerate(range(left, right, 24)):
            pixels[top:bottom, x : min(x + 24, right)] = CLOTH[(stripe + 2 * number) % len(CLOTH)]
    return Scales.of(pixels)


def corners(left, top, right, bottom):
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], float)


def beside(*missed):
    """The rows added to those found, beside which ``missed`` stand too."""
    rows = tuple(map(Row, (corners(*box) for box in FOUND)))
    bar = FoundBar(bar_outline(tuple(row.corners for row in rows)), rows, 0.9)
    more = with_row_beside(picture_of(*FOUND, *missed), bar)
    return [row.corners for one in more for row in one.rows if all(row is not known for known in rows)]


@pytest.mark.parametrize("gap", [0, 2, 15])
@pytest.mark.parametrize(("left", "right"), [(392, 584), (200, 392), (200, 776)])
def test_a_row_above_is_seen(left, right, gap):
    """A short row on top, in the middle or in line, touching or set a little apart."""
    (row,) = beside((left, 240 - gap, right, 300 - gap))
    assert shared_area(row, corners(left, 240 - gap, right, 300 - gap)) > 0.9


def test_a_row_below_is_seen():
    """The picture is upside down."""
    (row,) = beside((392, 424, 584, 484))
    assert shared_area(row, corners(392, 424, 584, 484)) > 0.9


@pytest.mark.parametrize(
    "box", [(392, 200, 584, 260), (392, 215, 584, 300), (392, 265, 584, 300), (392, 262, 452, 298)]
)
def test_what_stands_further_off_or_is_of_another_height_is_no_row(box):
    """A name plate, a badge, a flap."""
    assert beside(box) == []


def test_bare_cloth_has_no_row():
    """Nothing is added where nothing is."""
    assert beside() == []
