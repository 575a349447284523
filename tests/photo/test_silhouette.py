"""What stands out from the ground about a bar: a second opinion on its rows, whatever their ribbons look like."""

import numpy as np
import pytest

from ribbonbar.photo.finding import bar_outline
from ribbonbar.photo.model import FoundBar, Row
from ribbonbar.photo.scales import Scales
from ribbonbar.photo.silhouette import silhouette
from tests.benchmarks.finding import shared_area
from tests.simulator import simulate

TIDY = (405, 410, 411, 427)  # close-ups of two rows or more, on even ground


def seen_as(rows):
    """A find with these rows (4, 2)."""
    return FoundBar(bar_outline(tuple(rows)), tuple(Row(row) for row in rows), 0.6)


def true_rows(photograph):
    return [np.array(row, float) for row in photograph.truth["bars"][0]["rows"]]


def part(row, left=0.0, top=0.0, right=1.0, bottom=1.0):
    """A part of a row's quad, between these shares of its width and height."""
    upper, lower = row[1] - row[0], row[2] - row[3]
    places = [(left, top), (right, top), (right, bottom), (left, bottom)]
    return np.array([(row[0] + x * upper) * (1 - y) + (row[3] + x * lower) * y for x, y in places])


def best(photograph, found):
    """How well the best of the other rows covers the true bar, and how many rows it has."""
    scales = Scales.of(photograph.pixels)
    truth = np.concatenate(true_rows(photograph))
    others = silhouette(scales, found).other_rows(scales)
    return max((shared_area(np.concatenate([r.corners for r in o.rows]), truth), len(o.rows)) for o in others)


@pytest.mark.parametrize("seed", TIDY)
def test_a_bar_found_right_fills_its_silhouette(seed):
    """Where the rows are right, little stands out beside them and they leave little bare."""
    photograph = simulate(1, seed)
    outline = silhouette(Scales.of(photograph.pixels), seen_as(true_rows(photograph)))
    assert outline.share() < 0.2


@pytest.mark.parametrize("seed", TIDY)
def test_a_bar_of_which_only_the_first_half_was_found_is_whole_again(seed):
    """The right halves of all rows were not found; they stand out all the same."""
    photograph = simulate(1, seed)
    rows = true_rows(photograph)
    half = seen_as([part(row, right=0.5) for row in rows])
    assert silhouette(Scales.of(photograph.pixels), half).share() > 0.3
    assert best(photograph, half) >= (0.9, len(rows))


@pytest.mark.parametrize("seed", TIDY)
def test_a_row_that_was_missed_is_found_again(seed):
    """Only the last row was found."""
    photograph = simulate(1, seed)
    rows = true_rows(photograph)
    assert len(rows) > 1
    overlap, count = best(photograph, seen_as(rows[-1:]))
    assert overlap > 0.9
    assert count == len(rows)


def test_a_row_taken_for_two_is_one_again():
    """A ribbon with level bands has edges along the row; its silhouette has none."""
    photograph = simulate(1, 411)
    rows = true_rows(photograph)
    split = [part(rows[0], bottom=0.5), part(rows[0], top=0.5), *rows[1:]]
    assert best(photograph, seen_as(split))[1] == len(rows)


@pytest.mark.parametrize("lean", [-0.8, 0.8])
def test_rows_found_aslant_stand_upright_in_their_silhouette(lean):
    """Bold diagonals draw the view aslant; the patch that stands out is as upright as the bar is."""
    photograph = simulate(1, 411)
    rows = true_rows(photograph)
    along = (rows[0][1] - rows[0][0]) / np.linalg.norm(rows[0][1] - rows[0][0])
    down = np.linalg.norm(rows[0][3] - rows[0][0])
    aslant = [row + np.array([[-0.5], [-0.5], [0.5], [0.5]]) * lean * down * along for row in rows]
    scales = Scales.of(photograph.pixels)
    first = silhouette(scales, seen_as(aslant)).other_rows(scales)[0]
    assert len(first.rows) == len(rows)
    for row, true in zip(first.rows, rows, strict=True):
        leaning = ((row.corners[3] - row.corners[0]) - (true[3] - true[0])) @ along / down
        assert abs(leaning) < 0.15


def test_uneven_ground_has_no_say():
    """On checked cloth nothing stands out, so nothing is said."""
    photograph = simulate(1, 411)
    rows = true_rows(photograph)
    pixels = photograph.pixels.copy()
    y, x = np.indices(pixels.shape[:2])
    inside = np.zeros(pixels.shape[:2], bool)
    for row in rows:
        low, high = np.floor(row.min(axis=0)).astype(int), np.ceil(row.max(axis=0)).astype(int)
        inside[low[1] : high[1], low[0] : high[0]] = True
    checks = ((x // 40 + y // 40) % 2 * 255).astype(np.uint8)
    pixels[~inside] = np.stack([checks, 255 - checks, checks // 2], axis=-1)[~inside]
    assert silhouette(Scales.of(pixels), seen_as(rows)) is None


@pytest.mark.parametrize("seed", TIDY)
def test_a_gleam_on_the_cloth_above_a_bar_is_no_row(seed):
    """A flash lights the cloth: what fades away all round has no edge, and a row has one."""
    photograph = simulate(1, seed)
    rows = true_rows(photograph)
    tall = np.linalg.norm(rows[0][3] - rows[0][0])
    x0, y0 = rows[0][:2].mean(axis=0) - [0.0, 0.5 * tall]
    y, x = np.indices(photograph.pixels.shape[:2])
    gleam = 90 * np.exp(-((x - x0) ** 2) / (2 * (2 * tall) ** 2) - (y - y0) ** 2 / (2 * (0.8 * tall) ** 2))
    lit = np.clip(photograph.pixels + gleam[..., None], 0, 255).astype(np.uint8)
    scales = Scales.of(lit)
    for other in silhouette(scales, seen_as(rows)).other_rows(scales):
        assert np.concatenate([row.corners for row in other.rows])[:, 1].min() > rows[0][:2, 1].min() - 0.4 * tall
