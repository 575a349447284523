"""Ribbons in rows."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.layout import alignment_findings, lay_out, row_findings
from ribbonbar.precedence.model import Slot
from ribbonbar.spec.model import Group, OrderOfWear, Specification
from tests.precedence.bars import CALDER, CALDER_ORDER, bar

FOURS = OrderOfWear("x/o", "Order", (Group("g", "G", "listed", ()),))


def order(**changes):
    return OrderOfWear("x/o", "Order", (), **changes)


def rows_of(*lengths):
    return tuple(tuple(Slot(f"{r}.{p}") for p in range(1, length + 1)) for r, length in enumerate(lengths, 1))


def found(lengths, **changes):
    return [f.positions[0] for f in row_findings(rows_of(*lengths), Specification(), order(**changes))]


def test_short_row_on_top():
    """Five ribbons in fours: one over four."""
    assert lay_out("ABCDE", FOURS) == (("A",), ("B", "C", "D", "E"))
    assert lay_out("ABCD", FOURS) == (("A", "B", "C", "D"),)
    assert lay_out("AB", FOURS) == (("A", "B"),)
    assert lay_out("", FOURS) == ()


def test_short_row_at_the_bottom():
    """Where the order puts the incomplete row at the bottom: four over one."""
    assert lay_out("ABCDE", order(short_row="bottom")) == (("A", "B", "C", "D"), ("E",))


def test_rows_of_another_length():
    """The tailor may ask for threes or fives."""
    assert lay_out("ABCDE", FOURS, per_row=3) == (("A", "B"), ("C", "D", "E"))
    assert lay_out("ABCDE", FOURS, per_row=5) == (tuple("ABCDE"),)
    with pytest.raises(ValueError, match="at least one ribbon"):
        lay_out("ABC", FOURS, per_row=0)


@given(st.lists(st.integers(), max_size=20), st.integers(1, 6), st.sampled_from(("top", "bottom")))
def test_rows_keep_the_sequence(sequence, per_row, short_row):
    """Read row by row, the bar is the sequence; all rows but one end row are full; and the layout has no finding."""
    rows = lay_out(sequence, order(short_row=short_row, ribbons_per_row=per_row))
    assert [award for row in rows for award in row] == sequence
    full = rows[1:] if short_row == "top" else rows[:-1]
    assert all(len(row) == per_row for row in full)
    assert all(1 <= len(row) <= per_row for row in rows)
    assert found([len(row) for row in rows], ribbons_per_row=per_row, short_row=short_row) == []


def test_too_many_in_a_row():
    """Five in a row where four are the most: a warning at that row."""
    assert found((1, 5)) == ["2.1"]
    assert found((5,)) == ["1.1"]
    assert found((4, 4)) == []
    assert found((5, 5), rows_allowed=(5,)) == []
    assert found((6, 6), rows_allowed=(5,)) == ["1.1", "2.1"]


def test_incomplete_row_out_of_its_place():
    """The incomplete row belongs on top, or at the bottom where the order has it so."""
    assert found((4, 2)) == ["2.1"]
    assert found((2, 4)) == []
    assert found((4, 2), short_row="bottom") == []
    assert found((2, 4), short_row="bottom") == ["1.1"]
    assert found((1, 4, 2, 4)) == ["3.1"]


def test_narrower_rows_under_a_lapel():
    """Rows may narrow towards the top where the order permits their number, and never widen."""
    assert found((1, 2, 3, 4), rows_allowed=(2, 3)) == []
    assert found((1, 2, 3, 4), rows_allowed=(3,)) == ["2.1"]
    assert found((1, 3, 4), rows_allowed=(3,)) == []
    assert found((3, 2, 4), rows_allowed=(2, 3)) == ["1.1"]
    assert found((4, 3), rows_allowed=(3,)) == ["1.1"]


def test_layout_alone_does_not_make_a_bar_wrong():
    """A bar laid out otherwise is in order all the same; the warning says what the order has."""
    rows = bar("Valour Cross, Harbour Star, Delta Medal, Long Service Medal", "Cadet Medal")
    verdict = judge(rows, CALDER, CALDER_ORDER)
    assert verdict.outcome == "in-order"
    (finding,) = verdict.findings
    assert (finding.kind, finding.severity) == ("row-layout", "warning")
    assert finding.message == "Row 2 is incomplete; the incomplete row goes to the top."
    assert finding.source == "Calder forces dress regulations, part 2"


def aligned(edges, **changes):
    return [f.message for f in alignment_findings(rows_of(2, 4), edges, Specification(), order(**changes))]


def test_incomplete_row_centred():
    """A row centred on the one below passes where the order centres, and not where it aligns."""
    centred = [(32, 96), (0, 128)]
    assert aligned(centred, short_row_align="centre") == []
    assert aligned(centred) == []
    assert aligned(centred, short_row_align="senior") == ["Row 1 is 32 mm off being in line with the senior end."]


def test_incomplete_row_aligned():
    """A row in line with the senior end, the viewer's left, passes where the order aligns."""
    senior, junior = [(0, 64), (0, 128)], [(64, 128), (0, 128)]
    assert aligned(senior, short_row_align="senior") == []
    assert aligned(senior) == []
    assert aligned(junior) == []
    assert aligned(senior, short_row_align="centre") == ["Row 1 is 32 mm off being centred."]
    assert len(aligned(junior, short_row_align="senior")) == 1
    assert aligned([(16, 80), (0, 128)]) == ["Row 1 is 16 mm off being centred or in line with an end."]


def test_bar_need_not_begin_at_nought():
    """Edges are measured from anywhere; only their differences count."""
    assert aligned([(1032, 1096), (1000, 1128)], short_row_align="centre") == []
    assert len(aligned([(1000, 1064), (1000, 1128)], short_row_align="centre")) == 1
    assert aligned([(1000, 1064), (1000, 1128)], short_row_align="senior") == []


def test_a_little_askew_is_nothing():
    """A camera held a little askew makes no finding, and neither do rows of one length or an empty bar."""
    assert aligned([(34.5, 98.5), (0, 128)], short_row_align="centre") == []
    assert alignment_findings(rows_of(4, 4), [(2, 128), (0, 126)], Specification(), FOURS) == ()
    assert alignment_findings((), [], Specification(), FOURS) == ()
