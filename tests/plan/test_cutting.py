"""The cutting list: lengths, bars, totals over several jobs, and a spreadsheet file that does nothing by itself."""

import csv
import io

import pytest

from ribbonbar.errors import OptionError
from ribbonbar.plan.bar import plan_bar
from ribbonbar.plan.cutting import allowance, cutting_list, to_csv, to_text
from ribbonbar.precedence.model import Held
from tests.plan.calder import ALL, record_of, specification


@pytest.fixture
def bars(tmp_path):
    calder = specification(tmp_path)
    first = record_of(Held(ALL[0]), Held(ALL[3]), Held(ALL[5]))
    second = record_of(Held(ALL[0]), Held(ALL[1], division="civil"), Held(ALL[1]), reference="job 1043")
    return [plan_bar(first, calder), plan_bar(second, calder)]


def test_a_ribbon_is_as_long_as_the_bar_is_high_and_what_is_turned_under(bars):
    """10 mm of bar and 10 mm at either edge (common practice, no source) make 30 mm; 8 mm at either edge 26 mm."""
    assert {piece.length_mm for piece in cutting_list(bars).pieces} == {30.0}
    assert {piece.length_mm for piece in cutting_list(bars, 8.0).pieces} == {26.0}


def test_bars_are_as_long_as_their_ribbons_are_wide(bars):
    """38 + 32 + 32 mm and 38 + 32 mm."""
    assert [(bar.job, bar.row, bar.length_mm) for bar in cutting_list(bars).bars] == [
        ("job 1042", 1, 102.0),
        ("job 1043", 1, 70.0),
    ]


def test_totals_join_the_jobs_by_pattern(bars):
    """Both bars carry the Valour Cross: two pieces, 60 mm together."""
    totals = {total.name: (total.pieces, total.length_mm) for total in cutting_list(bars).totals}
    assert totals == {
        "Valour Cross": (2, 60.0),
        "Harbour Star": (1, 30.0),
        "Jubilee Medal": (1, 30.0),
        "Order of the Beacon": (1, 30.0),
    }
    assert "Valour Cross (standard), 38 mm wide: 2 pieces, 60 mm in all" in to_text(cutting_list(bars))


def test_the_default_allowance_says_where_it_comes_from(bars):
    """The default is common practice without a source; another figure is the user's own."""
    assert "common practice, no source" in allowance(cutting_list(bars))
    assert "common practice" not in allowance(cutting_list(bars, 8.0))


@pytest.mark.parametrize("millimetres", [-1.0, 101.0, float("nan"), float("inf")])
def test_an_impossible_allowance_is_refused(bars, millimetres):
    """Less than nothing, more than a hand's breadth, and what is no number."""
    with pytest.raises(OptionError, match="give 0 to 100 millimetres"):
        cutting_list(bars, millimetres)


def test_the_table_is_one_rectangle(bars):
    """Pieces, bars and totals have the same columns, so that a spreadsheet can filter and add."""
    rows = list(csv.DictReader(io.StringIO(to_csv(cutting_list(bars)))))
    assert [row["what"] for row in rows] == ["piece"] * 5 + ["bar"] * 2 + ["total"] * 4
    assert all(None not in row and None not in row.values() for row in rows)
    assert sum(float(row["length_mm"]) for row in rows if row["what"] == "piece") == 150.0
    assert sum(float(row["length_mm"]) for row in rows if row["what"] == "total") == 150.0


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)", " =1+1", "＝1", '=HYPERLINK("x")'])
def test_a_cell_is_never_a_formula(tmp_path, name):
    """What a spreadsheet would calculate is set as text (the list of starts is that of OWASP, CSV Injection)."""
    bar = plan_bar(record_of(Held(ALL[0]), reference=name), specification(tmp_path))
    rows = list(csv.reader(io.StringIO(to_csv(cutting_list([bar])))))
    assert rows[1][1] == f"'{name}"
