"""Boxes that may hold a bar: close edges, and a bar among what it touches."""

import numpy as np
import pytest

from ribbonbar.photo.regions import find_regions
from ribbonbar.photo.scales import Scales
from tests.benchmarks.finding import shared_area

CLOTH = ((170, 30, 40), (235, 235, 230), (30, 60, 130), (30, 110, 60), (225, 190, 60), (80, 30, 90))
TOP, BOTTOM = 20, 780


def picture(bar=None, cord=None):
    """Even ground, a bar (left, top, right, bottom) of narrow stripes on it, and a braided cord or strap from near the
    top of the picture to near its bottom (left, right)."""
    pixels = np.full((800, 800, 3), (92, 98, 104), np.uint8)
    if cord:
        left, right = cord
        y, x = np.mgrid[TOP:BOTTOM, left:right]
        pixels[TOP:BOTTOM, left:right] = np.where(((x // 4 + y // 4) % 2)[..., None], (230, 190, 50), (120, 20, 40))
    if bar:
        left, top, right, bottom = bar
        for number, x in enumerate(range(left, right, 8)):
            pixels[top:bottom, x : min(x + 8, right)] = CLOTH[number % len(CLOTH)]
    return Scales.of(pixels)


def nearest(scales, bar):
    """How well the best region covers the bar and nothing else."""
    left, top, right, bottom = bar
    box = [(left, top), (right, top), (right, bottom), (left, bottom)]
    return max((shared_area(region.corners(), box) for region in find_regions(scales)), default=0.0)


BAR = (280, 360, 520, 430)


def test_a_bar_on_even_ground_is_the_first_region():
    """Nothing else has edges close together."""
    scales = picture(BAR)
    (left, top), _, (right, bottom), _ = find_regions(scales)[0].corners()
    assert (left, top, right, bottom) == pytest.approx(BAR, abs=25)


@pytest.mark.parametrize("cord", [(255, 280), (520, 545)])
def test_a_bar_that_touches_an_upright_cord_is_a_region_of_its_own(cord):
    """Their edges hang together, and the whole is far taller than any bar; its level part is the bar."""
    assert nearest(picture(BAR, cord), BAR) > 0.7


@pytest.mark.parametrize("width", [20, 30, 45, 60])
def test_a_lone_strap_is_no_region(width):
    """It is all upright: no part of it is as long as it is high."""
    assert find_regions(picture(cord=(400, 400 + width))) == ()
