"""Cutting the bar, and nothing else, out of the photograph."""

import io
import itertools
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from ribbonbar.report.crop import crops_of, data_uri, jpeg, thumbnail
from ribbonbar.report.model import Bar
from ribbonbar.spec.colour import ciede2000, lab_from_linear, linear_from_srgb
from tests.report.conftest import DYES


def _lab(srgb):
    return lab_from_linear(linear_from_srgb(np.asarray(srgb, float) / 255))


def test_the_bar_comes_out_upright_and_flat(out_of_order, photo_pixels):
    """Each ribbon's edge stands where the crop says it stands, straight up."""
    (crop,) = crops_of(out_of_order, photo_pixels)
    image = np.asarray(crop.image)
    star = out_of_order.bars[0].rows[1][0]
    (left, top), (right, _), _, (_, bottom) = crop.outline(star.corners)
    y = round((top + bottom) / 2 * image.shape[0])
    across = [image[y, round((left + (right - left) * part) * image.shape[1])] for part in (0.1, 0.5, 0.9)]
    wanted = [[int(DYES[n][i : i + 2], 16) for i in (1, 3, 5)] for n in ("navy", "sky-blue", "navy")]
    assert (ciede2000(_lab(across), _lab(wanted)) < 8).all()
    corners = crop.outline(out_of_order.bars[0].corners)
    assert corners[0] == pytest.approx((corners[3][0], corners[1][1]), abs=1e-3)
    assert 0 < corners[0][0] < 0.05 and 0.95 < corners[2][0] < 1


def test_the_rest_of_the_picture_stays_behind(out_of_order, photo_pixels):
    """A red patch elsewhere on the photo is not in the crop; the crop is hardly larger than the bar."""
    (crop,) = crops_of(out_of_order, photo_pixels)
    red = [(image[..., 0] > 225) & (image[..., 1] < 40) for image in (photo_pixels, np.asarray(crop.image))]
    assert red[0].any() and not red[1].any()
    assert crop.image.width * crop.image.height < 1.5 * 980 * 165


def test_no_metadata_leaves_with_the_crop(out_of_order, photo_pixels):
    """No EXIF, no place, no comment, no profile: a JPEG of pixels alone."""
    (crop,) = crops_of(out_of_order, photo_pixels)
    image = crop.image
    image.info["exif"] = b"Exif\0\0secret place"
    image.info["comment"] = b"secret"
    data = jpeg(image)
    again = Image.open(io.BytesIO(data))
    assert not again.getexif() and set(again.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert b"secret" not in data


def test_a_crop_is_never_larger_than_asked_for(out_of_order, photo_pixels):
    """Width is held; the outline follows the smaller picture."""
    (large,), (small,) = crops_of(out_of_order, photo_pixels), crops_of(out_of_order, photo_pixels, width=300)
    assert large.image.width > 900 and small.image.width == 300
    place = out_of_order.bars[0].rows[0][0].corners
    assert np.allclose(large.outline(place), small.outline(place), atol=0.01)


def test_the_photos_own_colours_are_converted(out_of_order, photo_pixels):
    """A phone's wide-gamut pixels become sRGB, and only those of the crop are worked on."""
    pieces = []

    def to_srgb(piece):
        pieces.append(piece.shape)
        return 255 - piece

    (plain,), (turned,) = crops_of(out_of_order, photo_pixels), crops_of(out_of_order, photo_pixels, to_srgb)
    assert pieces == [(plain.image.height, plain.image.width, 3)]
    assert np.array_equal(255 - np.asarray(plain.image), np.asarray(turned.image))


@pytest.mark.parametrize(
    "corners",
    [
        ((0, 0), (0, 0), (0, 0), (0, 0)),
        ((0, 0), (100, 0), (200, 0), (300, 0)),
        ((0, 0), (100, 100), (100, 0), (0, 100)),
        ((0, 0), (100, 0), (20, 20), (0, 100)),
        ((0, 0), (float("nan"), 0), (100, 100), (0, 100)),
        ((0, 0), (1, 0), (1, 1), (0, 1)),
    ],
)
def test_an_outline_that_is_none_gives_no_crop(corners, out_of_order, photo_pixels):
    """Points on a line, crossed or folded corners: nothing to show, nothing raised."""
    report = replace(out_of_order, bars=(Bar(corners, out_of_order.bars[0].rows),))
    assert crops_of(report, photo_pixels) == (None,)


def test_a_wild_outline_costs_no_memory(out_of_order, photo_pixels):
    """Corners a million pixels apart give a picture of ordinary size."""
    far = ((-1e6, -1e6), (1e6, -1e6), (1e6, 1e6), (-1e6, 1e6))
    (crop,) = crops_of(replace(out_of_order, bars=(Bar(far, out_of_order.bars[0].rows),)), photo_pixels)
    assert max(crop.image.size) <= 4000
    assert all(0 <= v <= 1 for v in itertools.chain(*crop.outline(((-9e9, 0), (9e9, 0), (0, 9e9), (0, 0)))))


def test_thumbnails_stay_small(out_of_order):
    """Five hundred photos make a page of a few megabytes, even when every one is noise."""
    noise = np.random.default_rng(1).integers(0, 256, (800, 1400, 3), dtype=np.uint8)
    (crop,) = crops_of(out_of_order, noise)
    data = thumbnail(crop)
    assert len(data) <= 10_000 and Image.open(io.BytesIO(data)).format == "JPEG"
    assert data_uri(data).startswith("data:image/jpeg;base64,")
