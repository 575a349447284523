"""What lies around a bar, and how much that speaks against its being one."""

import numpy as np
import pytest

from ribbonbar.photo.judging import evidence
from ribbonbar.photo.rows import Bands, fit_rows

LAB = {"cloth": (40.0, 2.0, 6.0), "tie": (15.0, 0.0, -4.0)}


def seen(edges: int) -> np.ndarray:
    """A view (120, 400, 3), L*a*b*, of one row of ribbons on cloth that changes so often from dark to light above
    and below the row."""
    view = np.empty((120, 400, 3), np.float32)
    turns = np.linspace(60, 340, edges + 2)[1:-1]
    dark = (np.arange(400)[:, None] > turns).sum(1) % 2 == 1
    view[:] = np.where(dark[:, None], LAB["tie"], LAB["cloth"])
    stripe = np.array([(50, 60, 30), (80, 0, 10), (30, 10, -45), (60, -40, 30)], np.float32)[np.arange(280) // 10 % 4]
    view[50:72, 60:340] = stripe
    return view + np.random.default_rng(3).normal(0, 0.4, view.shape).astype(np.float32)


@pytest.mark.parametrize(("edges", "against"), [(0, False), (1, False), (6, True)])
def test_a_bar_may_lie_across_one_edge(edges, against):
    """A tie's or a lapel's edge runs on above and below it; what many stripes run through is a pattern."""
    bands = Bands.of(seen(edges))
    fits, score = fit_rows(bands)
    found = evidence(bands, fits, score)
    assert (found["above"] > 0.1 or found["below"] > 0.1) == against
