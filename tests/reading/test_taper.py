"""Ribbons that come out wider toward one end of the bar, and pictures that are blurred: both are seen on the bar."""

import numpy as np
import pytest
from skimage.filters import gaussian

from ribbonbar.reading.observe import Softness, fineness, softness, tapered, untapered, view
from ribbonbar.reading.read import read_bar
from ribbonbar.reading.taper import TRIED, decode_evened
from ribbonbar.reading.templates import bank_of
from tests.reading.cloth import catalogue, strip_of
from tests.reading.strips import seen_on


def tapers(views, loom):
    """Each row's taper as found."""
    return [row.taper for row in decode_evened(views, loom, {})[0]]


NAMES = ("harbour-star", "jubilee", "sea-medal", "long-service")


@pytest.mark.parametrize("taper", [-0.25, 0.1, 0.3])
def test_a_taper_is_how_much_wider_the_end_is(taper):
    """The ends stay; the last of a thousand columns is wider than the first by the taper, as perspective has it."""
    columns = np.linspace(20.0, 420.0, 1001)
    seen = tapered(columns, 20.0, 420.0, taper)
    widths = np.diff(seen)
    assert (seen[0], seen[-1]) == (pytest.approx(20.0), pytest.approx(420.0))
    assert np.log(widths[-1] / widths[0]) == pytest.approx(taper, abs=1e-3)
    assert np.allclose(tapered(columns, 20.0, 420.0, 0.0), columns)


@pytest.mark.parametrize("taper", [-0.225, 0.0, 0.15, 0.3])
def test_the_taper_of_a_bar_is_found_from_its_ribbons(loom, taper):
    """A row seen from one side: the taper tried that undoes it is the likeliest."""
    row = untapered(seen_on(10.0, *NAMES), -taper)
    assert tapers([row], loom) == pytest.approx([taper], abs=1e-9)


def test_a_shorter_row_tapers_less(loom):
    """Half as long, half the taper; the longer row has most to say."""
    rows = [untapered(seen_on(10.0, *NAMES[:2]), -0.1125), untapered(seen_on(10.0, *NAMES), -0.225)]
    assert tapers(rows, loom) == pytest.approx([0.1125, 0.225], abs=0.01)


def test_a_bar_without_stripes_is_taken_for_even(loom):
    """Where the ribbons say nothing, none is likelier than another."""
    assert tapers([seen_on(10.0, "valour-cross", "valour-cross", "valour-cross")], loom) == [0.0]
    assert 0.0 in TRIED


def test_places_on_the_strip_are_where_the_ribbons_stand():
    """Read on a strip that tapers, every ribbon is named, and its span lies where it stands."""
    strip = strip_of(*NAMES)
    width = strip.pixels.shape[1]
    at = np.clip(tapered(np.arange(width) + 0.5, 0.0, width, -0.3).astype(int), 0, width - 1)
    reading = read_bar([type(strip)(strip.pixels[:, at], np.eye(3), 1.0)], bank_of(catalogue()))
    assert [one.candidates[0].award.split("/")[1] for one in reading.rows[0]] == list(NAMES)
    stands = tapered(np.linspace(0.0, 1.0, 5), 0.0, 1.0, 0.3)
    seen = [one.span[0] for one in reading.rows[0]] + [reading.rows[0][-1].span[1]]
    assert seen == pytest.approx(stands, abs=0.02)


@pytest.mark.parametrize("sigma", [0.0, 1.0, 2.0])
def test_blur_is_measured_on_the_edges(sigma):
    """A sharp strip has next to none; a blurred one as much as it was blurred, in columns."""
    strip = strip_of(*NAMES)
    pixels = gaussian(strip.pixels, (0.0, 2 * sigma, 0.0))
    strip = type(strip)(pixels.astype(np.float32), np.eye(3), 1.0)
    seen = softness([view(strip, fineness([strip]))])
    assert (seen.lightness, seen.hue) == pytest.approx((sigma, sigma), abs=0.4)


@pytest.mark.parametrize("sigma", [1.0, 2.0])
def test_hue_is_softer_where_a_camera_keeps_less_of_it(sigma):
    """As JPEG does with 4:2:0: lightness as sharp as it was, hue blurred so many columns."""
    strip = strip_of(*NAMES)
    encoded = np.cbrt(strip.pixels)
    lightness = (encoded @ (0.299, 0.587, 0.114))[..., None]  # ITU-R BT.601
    pixels = np.clip(lightness + gaussian(encoded - lightness, (0.0, 2 * sigma, 0.0)), 0, 1) ** 3
    strip = type(strip)(pixels.astype(np.float32), np.eye(3), 1.0)
    seen = softness([view(strip, fineness([strip]))])
    assert (seen.lightness, seen.hue) == pytest.approx((0.0, sigma), abs=0.5)


def test_a_bar_without_edges_has_no_blur():
    """Plain cloth shows none."""
    strip = strip_of("valour-cross")
    assert softness([view(strip, fineness([strip]))]) == Softness(0.0, 0.0)
