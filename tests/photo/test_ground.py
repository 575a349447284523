"""A patterned ground made plain: what repeats goes, what is rare on the picture stays."""

import numpy as np

from ribbonbar.photo.finding import Search
from ribbonbar.photo.ground import on_plain_ground
from ribbonbar.photo.model import Picture
from tests.benchmarks.finding import shared_area

CHECKS = ((200, 200, 90), (110, 95, 80))
CLOTH = ((170, 30, 40), (30, 60, 130), (225, 120, 40), (30, 110, 60), (80, 30, 90))
BAR = (260, 300, 840, 420)


def checked(size=25):
    """Two rows of ribbons of many colours on a checked cloth."""
    y, x = np.mgrid[0:700, 0:1100] // size
    pixels = np.array(CHECKS, np.uint8)[(x + y) % 2]
    left, top, right, bottom = BAR
    for row, upper in enumerate((top, (top + bottom) // 2)):
        for number, x in enumerate(range(left, right, 20)):
            pixels[upper : upper + (bottom - top) // 2, x : min(x + 20, right)] = CLOTH[(number + 2 * row) % len(CLOTH)]
    noise = np.random.default_rng(1).normal(0, 4, pixels.shape)
    return np.clip(pixels + noise, 0, 255).astype(np.uint8)


def inside(pixels, margin=8):
    left, top, right, bottom = BAR
    return pixels[top + margin : bottom - margin, left + margin : right - margin].astype(int)


def test_checks_become_one_colour_and_ribbons_stay():
    """Away from the bar hardly anything differs any more; within it hardly anything changes."""
    pixels = checked()
    plain = on_plain_ground(pixels)
    assert plain.shape == pixels.shape and plain.dtype == np.uint8
    assert pixels[:250].std(axis=(0, 1)).max() > 40
    assert plain[:250].std(axis=(0, 1)).max() < 6  # where two checks meet, their mixture is rare
    assert np.abs(inside(plain) - inside(pixels)).mean() < 4


def test_a_bar_on_checks_is_found_where_the_ground_is_made_plain():
    """The checks have more edges than the ribbons."""
    left, top, right, bottom = BAR
    box = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], float)
    search = Search(Picture("checks", checked(), ""))
    assert search.bars() == ()
    (bar,) = search.on_plain_ground().bars()
    assert shared_area(bar.corners, box) > 0.9
    assert len(bar.rows) == 2


def test_a_picture_of_one_colour_stays_as_it_is():
    """Nothing on it is rare."""
    pixels = np.full((60, 90, 3), (92, 98, 104), np.uint8)
    assert np.array_equal(on_plain_ground(pixels), pixels)


def test_a_tiny_picture_is_no_trouble():
    """One pixel high."""
    assert on_plain_ground(np.zeros((1, 3, 3), np.uint8)).shape == (1, 3, 3)
