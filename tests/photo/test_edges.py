"""Given where a row's edge was seen along its length, expect the line that is laid through it."""

import cv2
import numpy as np
import pytest

from ribbonbar.photo.edges import ALIKE, Places, refine
from ribbonbar.photo.rows import RowFit
from ribbonbar.photo.scales import Scales

HEIGHT = 28.0


def seen(y: np.ndarray) -> Places:
    x = np.linspace(20.0, 340.0, len(y))
    return Places(x, np.asarray(y, float), np.full(len(y), 20.0), 20.0, HEIGHT)


def ends(line: tuple[float, float]) -> list[float]:
    return [line[0] + line[1] * x for x in (20.0, 340.0)]


def test_a_frame_round_one_ribbon_does_not_tilt_the_edge():
    """A quarter of the points lie a fifth of the row further in: the line keeps to the others."""
    y = np.full(32, 20.0)
    y[:8] += 5.5
    assert ends(seen(y).line(0.0, 0.02)) == pytest.approx([20.0, 20.0], abs=0.4)


@pytest.mark.parametrize("tilt", [-0.012, 0.0, 0.015])
def test_a_tilted_edge_is_followed_through_noise_and_strays(tilt):
    """Weave and glints move the points; one in six is elsewhere."""
    rng = np.random.default_rng(5)
    x = np.linspace(20.0, 340.0, 36)
    y = 20.0 + tilt * x + rng.normal(0, 0.3, 36)
    y[::6] += rng.uniform(-8, 8, 6)
    assert ends(seen(y).line(0.0, 0.02)) == pytest.approx([20.0 + tilt * 20, 20.0 + tilt * 340], abs=0.7)


def test_an_edge_is_no_steeper_than_the_bars_others_allow():
    """Slanting stripes lead one edge astray; it is held to the slope of the rest."""
    y = 20.0 + 0.03 * np.linspace(20.0, 340.0, 30)
    _, slope = seen(y).line(0.002, ALIKE)
    assert slope == pytest.approx(0.002 + ALIKE)


def test_without_points_the_edge_stays_where_it_was_found():
    """Nothing stands out from the row along it."""
    assert Places(*np.zeros((3, 0)), 20.0, HEIGHT).line(0.0, 0.02) == (20.0, 0.0)


def test_a_framed_ribbon_in_a_row_leaves_the_row_a_rectangle():
    """Four ribbons on dark cloth, the first within a frame of the next one's colour: the quad is the row."""
    photo = np.full((400, 1400, 3), (40, 36, 34), np.uint8)
    colours = [(190, 150, 60), (60, 60, 140), (190, 150, 60), (200, 200, 195)]
    for number, colour in enumerate(colours):
        left = 100 + 300 * number
        cv2.rectangle(photo, (left, 150), (left + 299, 249), colour, -1)
        cv2.rectangle(photo, (left + 110, 150), (left + 190, 249), (90, 30, 40), -1)
    cv2.rectangle(photo, (100, 150), (399, 249), (190, 150, 60), -1)
    cv2.rectangle(photo, (120, 168), (379, 231), (230, 228, 220), -1)
    cv2.rectangle(photo, (200, 168), (300, 231), (40, 50, 120), -1)
    fit = RowFit(50.0, 76.0, 650.0, 124.0, 8, 1.0, 1.0, 9.0)
    half = np.diag([0.5, 0.5, 1.0])
    (quad,) = refine(Scales.of(photo), half, [fit])
    assert quad == pytest.approx(np.array([[100, 150], [1300, 150], [1300, 250], [100, 250]]), abs=4.0)
