"""The grid to read corners from: its lines stand at the picture's own pixels, whatever the size drawn."""

import numpy as np
import pytest
from PIL import Image, ImageDraw

from ribbonbar.grid import LONGEST_SIDE, draw_grid
from ribbonbar.photo.model import Picture


def grid_of(width: int, height: int, mark: tuple[int, int] | None = None) -> np.ndarray:
    """The grid of a black picture, with a red spot of about 1 % of its width round ``mark``."""
    image = Image.new("RGB", (width, height))
    if mark:
        reach = max(2, width // 200)
        ImageDraw.Draw(image).rectangle(
            [mark[0] - reach, mark[1] - reach, mark[0] + reach, mark[1] + reach], (255, 0, 0)
        )
    return np.asarray(draw_grid(Picture("x", np.asarray(image), ""))).astype(int)


@pytest.mark.parametrize(("width", "height"), [(300, 200), (1600, 1200), (4032, 3024), (3024, 4032), (9000, 500)])
def test_the_picture_is_drawn_at_most_2000_pixels_long(width, height):
    """With a ruler of less than a hundred pixels on every side; small pictures are not enlarged."""
    grid = grid_of(width, height)
    scale = min(1.0, LONGEST_SIDE / max(width, height))
    for drawn, size in ((grid.shape[1], width), (grid.shape[0], height)):
        assert 0 < drawn - size * scale < 200


@pytest.mark.parametrize(("width", "height", "step"), [(1600, 1200, 100), (4032, 3024, 200)])
def test_a_point_lies_on_the_line_of_its_number(width, height, step):
    """A spot at twice the step to the right and once down is crossed by the third upright and second level line."""
    grid = grid_of(width, height, (2 * step, step))
    scale = min(1.0, LONGEST_SIDE / width)
    beside, above = (grid.shape[1] - round(width * scale)) // 2, (grid.shape[0] - round(height * scale)) // 2
    reds = np.argwhere((grid[..., 0] - grid[..., 1] > 60) & (grid[..., 0] - grid[..., 2] > 60))
    y, x = reds.mean(axis=0)
    assert abs(x - (beside + 2 * step * scale)) < 2
    assert abs(y - (above + step * scale)) < 2
    level = round(above + 1.5 * step * scale)  # between two numbered lines
    bright = np.flatnonzero(grid[level, beside : beside + round(width * scale), 1] > 150)
    assert np.abs(bright - 2 * step * scale).min() <= 1


def test_lines_show_on_light_and_on_dark_ground():
    """A light line between dark ones: on white the dark ones are seen, on black the light one."""
    for ground in (0, 255):
        pixels = np.full((400, 600, 3), ground, np.uint8)
        grid = np.asarray(draw_grid(Picture("x", pixels, ""))).astype(int)
        inner = grid[150:250, 150:-150, 1]
        assert np.abs(inner - ground).max() > 80


def test_the_smallest_picture_has_a_grid():
    """One pixel is drawn as one pixel."""
    assert grid_of(1, 1).shape[0] > 1
