"""Patches that stand out from the ground of a whole picture: where a lone ribbon may lie."""

import cv2
import numpy as np
import pytest

from ribbonbar.photo.patches import patches
from ribbonbar.photo.scales import Scales
from tests.benchmarks.finding import shared_area

CLOTH = ((170, 30, 40), (235, 235, 230), (170, 30, 40))


def picture(degrees: float, size=(480, 150), ground=(92, 98, 104)):
    """A ribbon of three stripes on even, grainy ground, turned by so much; and its corners."""
    grain = np.random.default_rng(1).normal(0, 6, (700, 1000, 3))
    pixels = np.clip(np.array(ground) + grain, 0, 255).astype(np.uint8)
    turn = np.vstack([cv2.getRotationMatrix2D((500, 350), -degrees, 1.0), [0, 0, 1]])
    width, height = size
    edges = 500 - width / 2 + width * np.linspace(0, 1, len(CLOTH) + 1)
    box = [(edges[0], 350 - height / 2), (edges[-1], 350 - height / 2), (edges[-1], 350 + height / 2)]
    corners = cv2.perspectiveTransform(np.float32([[*box, (edges[0], 350 + height / 2)]]), turn)[0]
    for left, right, colour in zip(edges[:-1], edges[1:], CLOTH, strict=True):
        stripe = np.float32([[(left, box[0][1]), (right, box[0][1]), (right, box[2][1]), (left, box[2][1])]])
        cv2.fillConvexPoly(pixels, np.int32(cv2.perspectiveTransform(stripe, turn)[0].round()), colour)
    return Scales.of(pixels), corners


@pytest.mark.parametrize("degrees", [-30.0, 0.0, 12.0, 30.0])
def test_a_lone_ribbon_stands_out_from_its_ground(degrees):
    """It hangs with hardly an edge of its own; the patch is its outline, clockwise from its top left corner."""
    scales, corners = picture(degrees)
    (patch,) = patches(scales)
    assert shared_area(patch.corners, corners) > 0.85
    assert np.abs(patch.corners - corners).max() < 15
    assert patch.confidence < 0.01


@pytest.mark.parametrize("size", [(300, 280), (140, 480), (40, 13)])
def test_what_is_no_strip_is_no_patch(size):
    """A badge, a tie and a speck are not as long and level as a row is."""
    assert patches(picture(0.0, size)[0]) == ()


def test_even_ground_and_tiny_pictures_have_none():
    """Nothing stands out of noise, and a picture of a few pixels holds nothing."""
    assert patches(picture(0.0, (0, 0))[0]) == ()
    assert patches(Scales.of(np.zeros((5, 9, 3), np.uint8))) == ()


@pytest.mark.parametrize("size", [(940, 400), (960, 410)])
def test_a_ribbon_that_fills_the_picture_stands_out_from_its_border(size):
    """Held close to the camera: most of the picture is ribbon, and only round the edge is ground left."""
    scales, corners = picture(0.0, size)
    close, corners = Scales.of(scales.levels[0].pixels[110:590]), corners - [0, 110]
    patch = max(patches(close), key=lambda one: shared_area(one.corners, corners))
    assert shared_area(patch.corners, corners) > 0.95
    assert patch.confidence < 0.01


def test_a_shadow_below_a_ribbon_is_no_part_of_it():
    """A box about what stands out takes the shadow in; the row ends where the ribbon's colours do."""
    scales, corners = picture(0.0)
    pixels = scales.levels[0].pixels.copy()
    (left, _), (right, bottom) = corners[0].round().astype(int), corners[2].round().astype(int)
    pixels[bottom : bottom + 30, left + 10 : right + 10] //= 3
    (patch,) = patches(Scales.of(pixels))
    assert patch.corners[2:, 1] == pytest.approx([bottom, bottom], abs=6)
