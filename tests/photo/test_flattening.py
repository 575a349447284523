"""A row made flat: in linear light, averaged by area, with its margin, in the right colours."""

import cv2
import numpy as np
import pytest
from PIL import ImageCms

from ribbonbar.errors import PhotoError
from ribbonbar.photo.evening import evened
from ribbonbar.photo.flattening import apply, aspect_of, flatten_beyond, flatten_row, part_of
from ribbonbar.photo.icc import linear_tables, srgb_table
from ribbonbar.photo.model import Picture, Row

CORNERS = np.array([[40.0, 30.0], [360.0, 50.0], [350.0, 95.0], [50.0, 80.0]])


def striped(corners=CORNERS, size=(420, 140), stripes=8):
    """A picture of black and white stripes that fill the quad, and nothing else."""
    width, height = size
    flat = np.tile((np.arange(stripes * 50) // 50 % 2 * 255).astype(np.uint8), (200, 1))
    onto = cv2.getPerspectiveTransform(
        np.float32([[0, 0], [stripes * 50, 0], [stripes * 50, 200], [0, 200]]) - 0.5,
        ((np.float32(corners) + 0.5) * 4 - 0.5).astype(np.float32),
    )
    large = cv2.warpPerspective(flat, onto, (width * 4, height * 4), flags=cv2.INTER_LINEAR, borderValue=128)
    grey = cv2.resize(large, (width, height), interpolation=cv2.INTER_AREA)
    return Picture("stripes", np.repeat(grey[..., None], 3, axis=2), "")


def test_stripes_come_out_upright_and_evenly_wide():
    """Eight equal stripes seen in perspective are eight equal stripes on the strip."""
    strip = flatten_row(striped(), Row(CORNERS), height=40)
    assert strip.pixels.dtype == np.float32
    assert strip.pixels.shape[0] == 40
    profile = strip.pixels[8:32].mean(axis=(0, 2))
    middle = (np.arange(8) + 0.5) * len(profile) / 8
    assert [round(float(profile[int(x)])) for x in middle] == [0, 1, 0, 1, 0, 1, 0, 1]


def test_the_homography_leads_back_to_the_photo():
    """Strip corners map onto the row's corners, with and without a margin."""
    for margin in (0.0, 0.25):
        strip = flatten_row(striped(), Row(CORNERS), height=40, margin=margin)
        low, wide, tall = strip.margin - 0.5, strip.pixels.shape[1] - strip.margin - 0.5, 39.5 + strip.margin
        flat = np.array([[low, low, 1], [wide, low, 1], [wide, tall, 1], [low, tall, 1]]) @ strip.to_photo.T
        assert np.allclose(flat[:, :2] / flat[:, 2:], CORNERS, atol=1e-3)


def test_a_margin_shows_what_lies_beyond_the_row():
    """The margin is on all four sides, and shows the grey around the bar."""
    strip = flatten_row(striped(), Row(CORNERS), height=40, margin=0.25)
    assert strip.margin == 10
    assert strip.pixels[:6].mean() == pytest.approx(srgb_table()[128], abs=0.02)
    assert strip.pixels[:, :6].mean() == pytest.approx(srgb_table()[128], abs=0.02)


def test_shrinking_averages_light():
    """Fine black and white lines shrink to half the light (linear 0.5), not to the middle code and not to a moiré."""
    pixels = np.zeros((200, 800, 3), np.uint8)
    pixels[:, ::2] = 255
    row = Row(np.array([[-0.5, -0.5], [799.5, -0.5], [799.5, 199.5], [-0.5, 199.5]]))
    strip = flatten_row(Picture("fine", pixels, ""), row, height=25)
    assert np.abs(strip.pixels - 0.5).max() < 0.02
    assert strip.scale == pytest.approx(1 / 8, rel=0.01)


def test_linear_light_follows_the_standard():
    """Codes 0, 10, 11, 128 and 255 have the linear light that IEC 61966-2-1 gives them."""
    expected = [0.0, 0.003035, 0.003347, 0.215861, 1.0]
    assert srgb_table()[[0, 10, 11, 128, 255]].tolist() == pytest.approx(expected, abs=1e-6)


def test_a_profile_is_applied_in_linear_light():
    """Reading a profile's curves and matrix gives what Little CMS gives (8 bits), for a thousand colours."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    curves, matrix = linear_tables(profile)
    assert np.abs(curves - srgb_table()).max() < 1e-3
    assert np.abs(matrix - np.eye(3)).max() < 2e-3


def test_a_row_without_area_is_refused():
    """A row squeezed to nothing, or with corners that are no numbers, is one clear line."""
    for corners in (np.zeros((4, 2)), CORNERS * [1, 0], np.full((4, 2), np.nan)):
        with pytest.raises(PhotoError, match="too small"):
            flatten_row(striped(), Row(corners))


def test_a_row_reaching_out_of_the_photo_is_filled_with_its_border():
    """Corners beyond the picture do not fail."""
    strip = flatten_row(striped(), Row(CORNERS + np.array([100, -25])), height=20)
    assert np.isfinite(strip.pixels).all()


def test_a_strip_says_how_far_the_other_rows_go():
    """A short row over two long ones: from where the first of them begins to where the last one ends."""
    short, upper, lower = (
        Row(np.array([[left, top], [right, top], [right, top + 20], [left, top + 20]], float))
        for left, top, right in ((120, 20, 180), (60, 40, 240), (75, 60, 255))
    )
    picture = Picture("p", np.zeros((100, 300, 3), np.uint8), "")
    assert flatten_beyond(picture, short, 2.0).reach is None
    strip = flatten_beyond(picture, short, 2.0, [upper, lower])
    assert apply(strip.to_photo, np.array([[x, 0.0] for x in strip.reach]))[:, 0] == pytest.approx([60, 255], abs=0.01)


def test_a_part_of_a_row_lies_between_its_neighbours():
    """The ribbons' quads of a row meet in common edges and fill it."""
    strip = flatten_row(striped(), Row(CORNERS), height=40)
    left, right = part_of(strip, 0.0, 0.4), part_of(strip, 0.4, 1.0)
    assert np.allclose(left[[1, 2]], right[[0, 3]])
    assert np.allclose([left[0], left[3], right[1], right[2]], CORNERS[[0, 3, 1, 2]], atol=1e-3)


FOCAL_PIXELS = 28.0 / 43.27 * np.hypot(1600, 1200)


def seen_from_the_side(width: float, degrees: float, away: float = 300.0) -> np.ndarray:
    """Corners on a 1600 x 1200 photo of a row ``width`` x 10 mm, its right end turned away; a phone's main lens."""
    turn = np.radians(degrees)
    flat = np.array([[-width / 2, -5], [width / 2, -5], [width / 2, 5], [-width / 2, 5]])
    depth = away + flat[:, 0] * np.sin(turn)
    return np.column_stack([flat[:, 0] * np.cos(turn), flat[:, 1]]) * (FOCAL_PIXELS / depth)[:, None] + (799.5, 599.5)


@pytest.mark.parametrize("degrees", [-40.0, -20.0, 0.0, 30.0, 40.0])
@pytest.mark.parametrize("ribbons", [1, 3, 5])
def test_a_row_turned_away_is_as_long_as_its_ribbons(ribbons, degrees):
    """Five ribbons at 40 degrees look as long as four: the nearer end's height tells how far the row is turned."""
    picture = Picture("p", np.zeros((1200, 1600, 3), np.uint8), "")
    corners = seen_from_the_side(32.0 * ribbons, degrees)
    assert aspect_of(picture, corners) == pytest.approx(3.2 * ribbons, rel=0.02)


def test_a_short_row_over_a_long_one_is_turned_as_far():
    """Its ends differ the less in height the shorter it is; noise at its ends is evened out by the long row's."""
    long, short = seen_from_the_side(160.0, 35.0), seen_from_the_side(32.0, 35.0) - (0, 40)
    noisy = short + np.array([[0, -1.5], [0, 1.5], [0, -1.5], [0, 1.5]])
    picture = Picture("p", np.zeros((1200, 1600, 3), np.uint8), "")
    upper, lower = evened((Row(noisy), Row(long)))
    assert aspect_of(picture, upper.corners) == pytest.approx(3.2, rel=0.04)
    assert aspect_of(picture, lower.corners) == pytest.approx(16.0, rel=0.04)
