"""What a bar as it was read is worth against another reading of it."""

import pytest

from ribbonbar.worth import worth as worth_of
from tests.finds import find, reading


def worth(*rows):
    """What a bar of these rows, all of them recognised, is worth: of each its length in pixels and its ribbons."""
    boxes = [(100, 100 + 50 * n, 100 + length, 145 + 50 * n) for n, (length, _) in enumerate(rows)]
    told = [[("identified", 3, f"award-{n}-{k}") for k in range(count)] for n, (_, count) in enumerate(rows)]
    return worth_of(reading(lambda _: told)(find(*boxes, confidence=0.9), None))


@pytest.mark.parametrize("odd", [0, 1, 2])
def test_a_row_of_other_ribbons_width_than_the_rest_counts_against_a_bar(odd):
    """Three ribbons on the length of four in the other rows are a row divided wrong, whichever it is."""
    four = [(576, 4)] * 3
    other = [(576, 3) if n == odd else row for n, row in enumerate(four)]
    assert worth(*four) == pytest.approx(3 * 576 * 45)
    assert worth(*other) == pytest.approx(1.5 * 576 * 45)


def test_rows_of_wider_ribbons_and_shorter_rows_count_in_full():
    """Ribbons of 38 mm under ribbons of 32, and a top row of two, are as ribbons are worn."""
    assert worth((288, 2), (576, 4), (684, 4)) == pytest.approx((288 + 576 + 684) * 45)
