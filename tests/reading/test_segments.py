"""The ribbons that many ways to divide a row have in common, against going through them one by one."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ribbonbar.reading.segment import Spans, divisions

WIDTHS = st.lists(st.floats(1.0, 120.0), min_size=1, max_size=6)
DIVIDED = st.lists(st.tuples(st.sampled_from([0.0, 7.25, 30.6]), WIDTHS), min_size=1, max_size=8)


def halves(edges):
    """The ribbons between edges, start and end to half a column each."""
    places = [round(2 * float(edge)) / 2 for edge in edges]
    return list(pairwise(places))


def check(edges, spans):
    """What is held of many divisions' ribbons says of each division what its own edges say."""
    ribbons = [halves(each) for each in edges]
    kept = list(zip(spans.starts.tolist(), spans.ends.tolist(), strict=True))
    assert len(set(kept)) == len(kept)
    assert set(kept) == {one for each in ribbons for one in each}
    told = np.arange(1.0, len(kept) + 1) ** 2  # of each ribbon, some worth of its own
    own = dict(zip(kept, told.tolist(), strict=True))
    assert spans.totals(told[spans.ribbon]).tolist() == [sum(own[one] for one in each) for each in ribbons]
    for number, each in enumerate(ribbons):
        assert [kept[member] for member in spans.members(number)] == each


@settings(max_examples=80, deadline=None)
@given(DIVIDED)
def test_each_divisions_ribbons_are_kept_once_and_told_again(divided):
    """Ribbons that start and end at the same half columns are one; each division has its own, from left to right."""
    edges = [start + np.cumsum([0.0, *widths]) for start, widths in divided]
    check(edges, Spans.of(edges))


def test_a_rows_divisions_share_their_ribbons():
    """Four ribbons of one width, or with an odd one among them: what begins and ends alike is looked at once."""
    edges = [one.edges for one in divisions(0.0, 384.0, 3.0, np.array([32.0, 38.0]))]
    spans = Spans.of(edges)
    check(edges, spans)
    assert len(spans.starts) < len(spans.ribbon) == sum(len(each) - 1 for each in edges)


def test_half_a_column_tells_two_ribbons_apart():
    """A fifth of a column is no other ribbon, a whole one is."""
    spans = Spans.of([np.array([0.0, 96.0, 192.0]), np.array([0.2, 96.1, 193.0])])
    assert list(zip(spans.starts.tolist(), spans.ends.tolist(), strict=True)) == [
        (0.0, 96.0),
        (96.0, 192.0),
        (96.0, 193.0),
    ]
    assert spans.totals(np.array([1.0, 10.0, 1.0, 100.0])) == pytest.approx([11.0, 101.0])
