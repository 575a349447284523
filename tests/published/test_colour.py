"""Colour conversions against published values and a reference library.

Sources
-------
* CIEDE2000: Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula: implementation notes, supplementary test data,
  and mathematical observations", Color Research & Application 30 (2005), table 1: the 34 pairs.
* sRGB: IEC 61966-2-1:1999, transfer function, primaries' XYZ and white point.
* CIE L*a*b*: CIE 15:2004, and scikit-image as an independent implementation.
"""

import numpy as np
import pytest

from ribbonbar.spec.colour import (
    WHITE_D65,
    ciede2000,
    hex_from_lab,
    lab_from_hex,
    lab_from_linear,
    linear_from_lab,
    linear_from_srgb,
    linear_from_xyz,
    srgb_from_linear,
    xyz_from_linear,
)

# Table 1 of Sharma, Wu, Dalal (2005): L*, a*, b* of both colours and their CIEDE2000 difference.
SHARMA_2005 = """
50.0000 2.6772 -79.7751 50.0000 0.0000 -82.7485 2.0425
50.0000 3.1571 -77.2803 50.0000 0.0000 -82.7485 2.8615
50.0000 2.8361 -74.0200 50.0000 0.0000 -82.7485 3.4412
50.0000 -1.3802 -84.2814 50.0000 0.0000 -82.7485 1.0000
50.0000 -1.1848 -84.8006 50.0000 0.0000 -82.7485 1.0000
50.0000 -0.9009 -85.5211 50.0000 0.0000 -82.7485 1.0000
50.0000 0.0000 0.0000 50.0000 -1.0000 2.0000 2.3669
50.0000 -1.0000 2.0000 50.0000 0.0000 0.0000 2.3669
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0009 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0010 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0011 7.2195
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0012 7.2195
50.0000 -0.0010 2.4900 50.0000 0.0009 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0010 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0011 -2.4900 4.7461
50.0000 2.5000 0.0000 50.0000 0.0000 -2.5000 4.3065
50.0000 2.5000 0.0000 73.0000 25.0000 -18.0000 27.1492
50.0000 2.5000 0.0000 61.0000 -5.0000 29.0000 22.8977
50.0000 2.5000 0.0000 56.0000 -27.0000 -3.0000 31.9030
50.0000 2.5000 0.0000 58.0000 24.0000 15.0000 19.4535
50.0000 2.5000 0.0000 50.0000 3.1736 0.5854 1.0000
50.0000 2.5000 0.0000 50.0000 3.2972 0.0000 1.0000
50.0000 2.5000 0.0000 50.0000 1.8634 0.5757 1.0000
50.0000 2.5000 0.0000 50.0000 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""


def test_ciede2000_gives_the_34_published_differences() -> None:
    """Every pair of the table, both ways round, to the four decimals printed."""
    table = np.array([line.split() for line in SHARMA_2005.strip().splitlines()], dtype=float)
    assert table.shape == (34, 7)
    np.testing.assert_allclose(ciede2000(table[:, :3], table[:, 3:6]), table[:, 6], atol=1e-4)
    np.testing.assert_allclose(ciede2000(table[:, 3:6], table[:, :3]), table[:, 6], atol=1e-4)


@pytest.mark.parametrize(
    ("srgb", "xyz"),
    [
        ([1, 0, 0], [0.4124, 0.2126, 0.0193]),
        ([0, 1, 0], [0.3576, 0.7152, 0.1192]),
        ([0, 0, 1], [0.1805, 0.0722, 0.9505]),
    ],
)
def test_primaries_have_the_published_xyz(srgb: list[float], xyz: list[float]) -> None:
    """IEC 61966-2-1: the tristimulus values of the primaries."""
    np.testing.assert_allclose(xyz_from_linear(linear_from_srgb(srgb)), xyz, atol=5e-5)


def test_white_is_the_published_d65() -> None:
    """IEC 61966-2-1: chromaticity x 0.3127, y 0.3290; and L*a*b* of white is 100, 0, 0 (CIE 15)."""
    x, y, _ = WHITE_D65 / WHITE_D65.sum()
    assert (round(x, 4), round(y, 4)) == (0.3127, 0.3290)
    np.testing.assert_allclose(lab_from_linear([1.0, 1.0, 1.0]), [100, 0, 0], atol=1e-9)


def test_xyz_to_linear_light_is_the_published_matrix() -> None:
    """IEC 61966-2-1: the inverse matrix, as printed to four decimals."""
    published = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    np.testing.assert_allclose(linear_from_xyz(np.eye(3)).T, published, atol=2e-4)


@pytest.mark.parametrize(("encoded", "linear"), [(0.0, 0.0), (0.04045, 0.0031308), (0.5, 0.214041), (1.0, 1.0)])
def test_transfer_function(encoded: float, linear: float) -> None:
    """IEC 61966-2-1: the ends, the knee, and 0.5 by the printed formula: ((0.5 + 0.055) / 1.055) ** 2.4."""
    assert linear_from_srgb(np.array([encoded]))[0] == pytest.approx(linear, abs=2e-6)
    assert srgb_from_linear(np.array([linear]))[0] == pytest.approx(encoded, abs=2e-5)


def test_lab_agrees_with_scikit_image() -> None:
    """A grid over the whole of sRGB differs from scikit-image (exact primaries, unrounded matrix) by less than 0.05."""
    from skimage.color import rgb2lab

    grid = np.stack(np.meshgrid(*[np.linspace(0, 1, 12)] * 3), axis=-1).reshape(-1, 3)
    assert np.abs(lab_from_linear(linear_from_srgb(grid)) - rgb2lab(grid)).max() < 0.05


def test_there_and_back() -> None:
    """Linear light to L*a*b* and back is the identity, dark colours and neutrals among them."""
    rng = np.random.default_rng(1)
    light = np.concatenate([rng.random((500, 3)), rng.random((500, 3)) * 0.01, np.zeros((1, 3)), np.ones((1, 3))])
    np.testing.assert_allclose(linear_from_lab(lab_from_linear(light)), light, atol=1e-12)


@pytest.mark.parametrize("colour", ["#000000", "#ffffff", "#1d2748", "#c2332c", "#010203"])
def test_hex_there_and_back(colour: str) -> None:
    """A written sRGB colour comes back as it was written."""
    assert hex_from_lab(lab_from_hex(colour)) == colour
