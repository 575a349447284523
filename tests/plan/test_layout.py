"""The sheet in millimetres: ribbons at their true size, rows touching, nothing off the page."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ribbonbar.plan.bar import PlannedBar, PlannedRibbon, plan_bar
from ribbonbar.plan.cutting import cutting_list
from ribbonbar.plan.layout import A4_MM, FOOT_MM, Cloth, Layout, Line, Shape, Text, sheet, text_width, wrap
from ribbonbar.precedence.model import Held
from ribbonbar.spec.model import Award, Emblem, OrderOfWear, Ribbon
from tests.plan.calder import ALL, record_of, specification


@pytest.fixture
def bar(tmp_path):
    """Five ribbons: one on top, 38 mm wide; four beneath."""
    held = [
        Held(ALL[0]),
        Held(ALL[3], emblems=("rosette",)),
        Held(ALL[4], date(1960, 1, 1)),
        Held(ALL[5]),
        Held(ALL[6]),
    ]
    return plan_bar(record_of(*held), specification(tmp_path))


def made_sheet(*bars: PlannedBar, paged: bool = False) -> Layout:
    return sheet(bars, cutting_list(bars), paged)


def cloths(layout: Layout) -> list[Cloth]:
    return [item for page in layout.pages for item in page.items if isinstance(item, Cloth)]


def texts(layout: Layout) -> list[str]:
    return [item.text for page in layout.pages for item in page.items if isinstance(item, Text)]


def test_the_bar_is_drawn_as_it_will_be_worn(bar):
    """Ribbons and rows touch; the short row stands centred above the other; each ribbon is as wide as it is."""
    whole = cloths(made_sheet(bar))[:5]
    top, lower = whole[0], whole[1:]
    assert [cloth.width for cloth in whole] == [38.0, 32.0, 32.0, 32.0, 32.0]
    assert {cloth.height for cloth in whole} == {10.0}
    assert [a.x + a.width for a in lower[:-1]] == [b.x for b in lower[1:]]
    assert {cloth.y for cloth in lower} == {top.y + 10.0}
    assert top.x + 19.0 == lower[0].x + 64.0


def test_the_short_row_stands_at_the_senior_end_where_the_order_says_so(bar):
    """The senior end is the viewer's left."""
    aligned = replace(bar, order=replace(bar.order, short_row_align="senior"))
    whole = cloths(made_sheet(aligned))[:5]
    assert whole[0].x == whole[1].x


def test_every_position_is_numbered_and_named(bar):
    """The number stands beneath its ribbon and leads to the legend, which names the award."""
    words = texts(made_sheet(bar))
    for ribbon in bar.ribbons:
        assert words.count(ribbon.position) == 2
    assert "with silver rosette" in words
    assert "Valour Cross (VC)" in words
    assert any("with silver rosette: clasp held" in line for line in words)
    assert any(line.startswith("After Valour Cross: ") for line in words)
    assert "Settled." in words


def test_each_page_has_a_line_of_50_mm(bar):
    """Also where the sheet goes over several pages."""
    for layout in (made_sheet(bar), made_sheet(bar, bar, paged=True)):
        for page in layout.pages:
            lines = [item for item in page.items if isinstance(item, Line) and item.y1 == item.y2]
            assert max(lines, key=lambda line: line.y1).x2 - max(lines, key=lambda line: line.y1).x1 == 50.0


def test_a_bar_too_wide_for_a4_upright_lies_down(bar):
    """Six ribbons of 32 mm do not fit between the margins of 210 mm (ISO 216: A4 is 210 by 297 mm)."""
    assert (made_sheet(bar, paged=True).pages[0].width, made_sheet(bar, paged=True).pages[0].height) == A4_MM
    wide = replace(bar, rows=((bar.rows[1][0],) * 6,))
    page = made_sheet(wide, paged=True).pages[0]
    assert (page.width, page.height) == (297.0, 210.0)


def test_an_empty_bar_is_a_sheet_all_the_same(bar):
    """Where all that is held is worn elsewhere, there is nothing to draw and nothing to fail."""
    empty = replace(bar, rows=(), reasons=())
    assert cloths(made_sheet(empty)) == []
    assert "Settled." in texts(made_sheet(empty, paged=True))


awards = st.builds(
    lambda name, width, emblems: PlannedRibbon(
        "1.1", Award("a/b", name or "?"), (Ribbon("r", "unmatched", (), width, 10.0),), emblems
    ),
    st.text(max_size=60),
    st.floats(5, 150),
    st.lists(st.builds(Emblem, st.text(min_size=1, max_size=20)), max_size=12).map(tuple),
)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(awards, min_size=1, max_size=6), max_size=14), st.floats(3, 60), st.booleans())
def test_nothing_stands_off_the_page(rows, height, senior):
    """Whatever the names, widths and numbers, everything is between the page's edges and above the check line."""
    numbered = tuple(
        tuple(replace(ribbon, position=f"{r}.{p}") for p, ribbon in enumerate(row, 1)) for r, row in enumerate(rows, 1)
    )
    order = OrderOfWear("a/o", "Order", (), short_row_align="senior" if senior else "centre")
    layout = made_sheet(PlannedBar("job", order, height, numbered), paged=True)
    assert len(cloths(layout)) == sum(map(len, rows)) * (2 if len(rows) > 1 else 1)
    for page in layout.pages:
        for item in page.items:
            if isinstance(item, Cloth):
                assert item.x >= 0 and item.x + item.width <= page.width
                assert item.y >= 0 and item.y + item.height <= page.height - FOOT_MM
            elif isinstance(item, Shape):
                assert all(0 <= x <= page.width and 0 <= y <= page.height - FOOT_MM for x, y in item.points)
            elif isinstance(item, Text) and not item.middle:
                assert item.x >= 0 and item.x + min(item.room, 10) <= page.width and 0 <= item.y <= page.height


@given(st.text(max_size=300), st.floats(5, 100))
def test_wrapping_loses_no_letter_and_keeps_to_the_room(text, room):
    """Lines together hold every letter of the text, and none is wider than its room unless it is a single letter."""
    lines = wrap(text, room, 3.0)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(text_width(line, 3.0) <= room + 1e-6 or len(line) == 1 for line in lines)


def test_an_endless_text_is_cut():
    """A reference of a million letters does not take a million lines."""
    assert len(wrap("x" * 1_000_000, 100, 3.0)) < 100
