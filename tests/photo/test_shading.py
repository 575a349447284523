"""A shadow's edge across a bar is judged from the ground beside it, and taken out."""

import cv2
import numpy as np
import pytest

from ribbonbar.photo.finding import bar_outline
from ribbonbar.photo.flattening import flatten_row
from ribbonbar.photo.model import FoundBar, Picture, Row
from ribbonbar.photo.scales import Scales
from ribbonbar.photo.shading import shading_on
from ribbonbar.photo.silhouette import silhouette
from ribbonbar.spec.colour import srgb_from_linear

ROW = np.array([[200.0, 250.0], [776.0, 250.0], [776.0, 310.0], [200.0, 310.0]])
CLOTH, GROUND = np.array([0.45, 0.05, 0.06]), np.array([0.11, 0.12, 0.13])  # linear light


def picture_under(light):
    """One red ribbon bar on grey ground under ``light`` (600, 900), linear."""
    linear = np.broadcast_to(GROUND, (600, 900, 3)).copy()
    linear[250:310, 200:776] = CLOTH
    pixels = np.round(srgb_from_linear(linear * light[..., None]) * 255).clip(0, 255).astype(np.uint8)
    return Picture("shaded", pixels, "")


def shading_of(picture):
    found = FoundBar(bar_outline((ROW,)), (Row(ROW),), 0.9)
    return shading_on(silhouette(Scales.of(picture.pixels), found))


def shadow(angle, dark):
    """Full light on one side of a soft line through the bar's middle, ``dark`` of it on the other."""
    y, x = np.indices((600, 900))
    along = np.cos(np.radians(angle)) * (x - 488) + np.sin(np.radians(angle)) * (y - 280)
    return dark + (1 - dark) * cv2.blur((along < 0).astype(np.float32), (21, 21))


@pytest.mark.parametrize("angle", [0, 20, -30])
@pytest.mark.parametrize("dark", [0.35, 0.6])
def test_a_shadow_across_a_bar_is_taken_out(angle, dark):
    """The ribbon's cloth has one colour again from end to end, but for a little by the shadow's edge."""
    picture = picture_under(shadow(angle, dark))
    strip = flatten_row(picture, Row(ROW), height=24)
    red = shading_of(picture).taken_out(strip).pixels[4:-4, 8:-8, 0]
    assert strip.pixels[4:-4, 8:-8, 0].std() > 0.06
    assert np.median(red) == pytest.approx(CLOTH[0], rel=0.06)
    assert (np.abs(red - CLOTH[0]) < 0.12 * CLOTH[0]).mean() > 0.9


def test_even_light_is_left_alone():
    """Where the ground is evenly lit nothing is done."""
    assert shading_of(picture_under(np.ones((600, 900)))) is None


def test_a_patterned_ground_is_not_taken_for_shading():
    """Stripes on the ground are no light: they do not follow one direction's place from end to end."""
    noise = np.random.default_rng(5).normal(0, 1, (15, 23)).astype(np.float32)
    patches = cv2.resize(noise, (900, 600), interpolation=cv2.INTER_CUBIC)
    assert shading_of(picture_under(np.exp(0.12 * patches))) is None
