"""Where a row begins and ends: ribbons of the ground's own colour, and rows that rise across the view."""

import cv2
import numpy as np
import pytest

from ribbonbar.photo.ends import settle_ends
from ribbonbar.photo.finding import Glance, settle
from ribbonbar.photo.rectifying import view
from ribbonbar.photo.regions import Region
from ribbonbar.photo.rows import Bands, RowFit, fit_rows
from ribbonbar.photo.scales import Scales

TALL, RIBBON, LEFT = 24, 76, 90
STRIPES = np.array([(50, 60, 30), (80, 0, 10), (30, 10, -45), (60, -40, 30)], np.float32)


def seen(first: tuple[float, float, float]) -> tuple[Bands, list[RowFit]]:
    """Three rows of three ribbons in a view, the top row's first ribbon of that L*a*b* colour on cloth of (50, 4, -4),
    and the rows as they were found."""
    pixels = np.full((132, 420, 3), (50.0, 4.0, -4.0), np.float32)
    striped = STRIPES[np.arange(3 * RIBBON) // 12 % 4]
    pixels[28 : 28 + 3 * TALL, LEFT : LEFT + 3 * RIBBON] = striped
    pixels[28 : 28 + TALL, LEFT : LEFT + RIBBON] = first
    pixels += np.random.default_rng(3).normal(0, 0.4, pixels.shape).astype(np.float32)
    tops = [28 + TALL * number for number in range(3)]
    right = float(LEFT + 3 * RIBBON)
    starts = [float(LEFT + RIBBON), float(LEFT), float(LEFT)]
    fits = [
        RowFit(left, float(top), right, float(top + TALL), 8, 1.0, 1.0, 9.0)
        for left, top in zip(starts, tops, strict=True)
    ]
    return Bands.of(pixels), fits


@pytest.mark.parametrize(
    ("first", "begins"),
    [((52.5, 4.0, -1.5), LEFT), ((50.0, 4.0, -4.0), LEFT + RIBBON)],
    ids=["hardly unlike the cloth", "bare cloth"],
)
def test_a_row_goes_on_to_where_the_others_end_unless_bare_cloth_lies_there(first, begins):
    """A ribbon nearly of the cloth's colour says little; that the rows below begin where it does, says the rest."""
    bands, fits = seen(first)
    assert settle_ends(bands, fits)[0].left == pytest.approx(begins, abs=4)


def test_cloth_beside_a_short_row_is_no_ribbon_where_the_bar_reaches_over_a_lapel():
    """The rows below begin on a dark lapel, so that the cloth beside the top row is not what lies at the bar's end."""
    bands, fits = seen((50.0, 4.0, -4.0))
    on_lapel = bands.features.copy()
    lapel = on_lapel[:, : LEFT + 20]
    lapel[np.abs(lapel - [50.0, 4.0, -4.0]).max(axis=2) < 4] += np.array([-18.0, 10.0, -12.0])
    assert settle_ends(Bands.of(on_lapel), fits)[0].left == pytest.approx(LEFT + RIBBON, abs=4)


def test_a_row_that_rises_in_the_view_is_followed_to_its_end():
    """Its last ribbon has edges of the cloth's colour; where the view shows the row aslant, it lies off the line."""
    photo = np.full((500, 2000, 3), (70, 78, 74), np.uint8)
    colours = [(190, 60, 50), (230, 220, 200), (40, 60, 150), (60, 120, 70)]
    for number in range(48):
        cv2.rectangle(photo, (300 + 20 * number, 200), (319 + 20 * number, 274), colours[number % 4], -1)
    cv2.rectangle(photo, (1320, 200), (1480, 274), (240, 238, 232), -1)
    slope = 0.022
    aslant = np.array([[1, 0, 0], [-slope, 1, slope * 500], [0, 0, 1.0]])
    scales = Scales.of(photo)
    there = view(scales, aslant, np.array([100.0, 130.0, 1700.0, 350.0]), 500)
    fits, score = fit_rows(Bands.of(there.features))
    (row,) = settle(scales, Region(300.0, 200.0, 1180.0, 75.0, 0.5, 1.0), Glance(there, fits, score)).rows
    assert row == pytest.approx(np.array([[300, 200], [1480, 200], [1480, 275], [300, 275]]), abs=12)
