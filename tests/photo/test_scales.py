"""One picture at a few sizes."""

import numpy as np
import pytest

from ribbonbar.photo.scales import Scales


@pytest.mark.parametrize(("width", "factors"), [(800, [1, 2, 4]), (2000, [1, 3, 6, 12]), (4000, [1, 2, 4, 5, 10, 20])])
def test_copies_in_between_are_halves_and_the_largest_searched_is_reduced_from_one(width, factors):
    scales = Scales.of(np.zeros((300, width, 3), np.uint8))
    assert [level.factor for level in scales.levels] == factors
    assert len(scales.reduced) == 3 and scales.at(3.9).factor == max(f for f in factors if f <= 3.9)


@pytest.mark.parametrize("width", [1999, 4032])
def test_a_place_is_where_it_was_in_every_copy(width):
    across = np.linspace(0, 255, width)
    picture = np.broadcast_to(across[None, :, None], (600, width, 3)).round().astype(np.uint8)
    for level in Scales.of(picture).levels:
        at = np.array([width * 0.2, width * 0.8])
        there = (level.onto() @ np.array([at, np.zeros(2), np.ones(2)]))[0]
        seen = np.interp(there, np.arange(level.pixels.shape[1]), level.pixels[len(level.pixels) // 2, :, 0])
        assert seen == pytest.approx(np.interp(at, np.arange(width), across), abs=1.0)
