"""How far stripes lean in a view that is nearly square: perspective leans them alike, diagonals do not."""

import numpy as np
import pytest

from ribbonbar.photo.rows import RowFit, lean

HEIGHT, WIDTH = 24, 400


def leaning(left: float, right: float) -> np.ndarray:
    """Stripes of many widths and colours (H, W, 3); those of each half move so many pixels per pixel downward."""
    rng = np.random.default_rng(5)
    edges = np.cumsum(rng.integers(7, 23, 60))
    colours = rng.uniform(20, 60, (61, 3)).astype(np.float32)
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)
    moved = x - np.where(x < WIDTH / 2, left, right) * (y - HEIGHT / 2)
    return colours[np.searchsorted(edges, moved)]


def found(left: float, right: float) -> tuple[float, float]:
    """The lean at the left and at the right end, per pixel downward."""
    c, m = lean(leaning(left, right), [RowFit(0.0, 0.0, WIDTH, HEIGHT, 9, 1.0, 1.0, 9.0)])
    return c, c + m * WIDTH


@pytest.mark.parametrize("slope", [-0.2, 0.0, 0.15])
def test_stripes_that_all_lean_are_set_upright(slope):
    """A tilted camera leans them all."""
    assert found(slope, slope) == pytest.approx((slope, slope), abs=0.04)


def test_diagonals_on_one_half_do_not_turn_the_bar():
    """No camera leans one half of a bar so much and the other not at all."""
    assert found(-0.5, 0.0) == pytest.approx((0.0, 0.0), abs=0.04)
    assert found(0.0, 0.45) == pytest.approx((0.0, 0.0), abs=0.04)
