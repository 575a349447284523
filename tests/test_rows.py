"""Given rows as found and a first reading of them, expect these rows after second thoughts."""

from dataclasses import replace

import numpy as np
import pytest

from ribbonbar.photo.finding import bar_outline
from ribbonbar.photo.model import FoundBar, Row, Strip
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.model import BarReading, Reading, RibbonCandidate
from ribbonbar.rows import ReadBar, unrecognised, with_second_thoughts

RIBBON, HEIGHT = 64, 20
STRIPED, EDGED = tuple("nhorbc2em"), tuple("em")  # seen to be of two colours; with the ground's at both ends


def found(*rows: tuple[int, int, int]) -> FoundBar:
    """Rows of (left, right, top), in pixels of the photo."""
    quads = [np.array([[a, y], [b, y], [b, y + HEIGHT], [a, y + HEIGHT]], float) for a, b, y in rows]
    return FoundBar(bar_outline(tuple(quads)), tuple(map(Row, quads)), 0.9)


def ribbon(known: float, stripes: int = 3, free: float = -80.0) -> Reading:
    candidate = RibbonCandidate("calder/harbour-star", "standard", False, known)
    status = "identified" if known > 0.9 else "unidentified"
    return Reading((0.0, 1.0), status, (candidate,), (), np.zeros((1, 3)), 20.0, 8.0, free, stripes)


KNOWN, STRANGER, PLAIN, GROUND = ribbon(0.98), ribbon(0.1), ribbon(0.98, stripes=1), ribbon(0.1, free=-10.0)


def named(reading: Reading, letter: str) -> Reading:
    """The same of an award of its own."""
    return replace(reading, candidates=(replace(reading.candidates[0], award=f"calder/{letter}"),))


def shades(letter: str) -> np.ndarray:
    """Light (N,) across a ribbon's width: cloth of one colour, or two stripes."""
    if letter in "gd":
        return np.full(RIBBON, 0.02)
    if letter in EDGED:
        return np.repeat([0.02, 0.3, 0.02], [RIBBON // 4, RIBBON // 2, RIBBON // 4])
    return np.repeat([0.3, 0.6 if letter in STRIPED else 0.3], RIBBON // 2)


def reader(there: dict[int, str]):
    """Reads what is ``there``: for each row's top, a letter for every ribbon's width from x = 0 on. Rows are shown with
    a ribbon's width of what is there on both sides, else dark ground, of the colour of ``g`` and ``d``, and with more
    ground beyond."""
    kinds = {"k": KNOWN, "s": STRANGER, "p": PLAIN, "g": GROUND, "w": replace(KNOWN, margin=5.0), "d": PLAIN}
    kinds["t"] = ribbon(0.98, stripes=2)
    kinds |= {one: named(kind, one) for one, kind in {"n": KNOWN, "h": kinds["w"], "o": STRANGER}.items()}
    kinds |= {"2": named(kinds["t"], "2"), "c": replace(named(kinds["t"], "c"), margin=9.5)}
    kinds |= {"e": named(KNOWN, "e"), "m": replace(named(KNOWN, "m"), margin=9.5)}
    kinds |= {"b": named(ribbon(0.98, free=-90.0), "b"), "r": kinds["n"]}

    def read(bar: FoundBar) -> ReadBar:
        rows, strips = [], []
        for row in bar.rows:
            (left, top), (right, _) = row.corners[0], row.corners[1]
            first, last = round(left / RIBBON), round(right / RIBBON)
            letters = there[round(top)][first:last]
            before, after = there[round(top)][max(first - 1, 0) : first], there[round(top)][last : last + 1]
            shown = "g" + (before if before in STRIPED else "g") + letters + (after if after in STRIPED else "g") + "g"
            spans = [(n / len(shown), (n + 1) / len(shown)) for n in range(2, len(letters) + 2)]
            rows.append(tuple(replace(kinds[one], span=span) for one, span in zip(letters, spans, strict=True)))
            moved = np.array([[1.0, 0.0, left - 2 * RIBBON + 0.5], [0.0, 1.0, top + 0.5], [0.0, 0.0, 1.0]])
            light = np.concatenate([shades(one) for one in shown])
            pixels = np.broadcast_to(light[None, :, None], (HEIGHT, len(light), 3)).astype(np.float32)
            strips.append(Strip(pixels, moved, 1.0))
        return ReadBar(bar, tuple(strips), BarReading(tuple(rows), NEUTRAL))

    return read


def after(there: dict[int, str], *rows: tuple[int, int, int]) -> list[int]:
    read = reader(there)
    return [len(row) for row in with_second_thoughts(read(found(*rows)), read).reading.rows]


FULL, SHORT = 4 * RIBBON, 3 * RIBBON


def test_a_row_whose_last_ribbon_is_dark_is_drawn_out_to_the_others():
    """Four, three and four were found; the fourth of the middle row is recognised once it is looked at."""
    there = {0: "kkkk", 20: "kkkk", 40: "kkkk"}
    assert after(there, (0, FULL, 0), (0, SHORT, 20), (0, FULL, 40)) == [4, 4, 4]
    assert after(there, (0, FULL, 0), (RIBBON, FULL, 20), (0, FULL, 40)) == [4, 4, 4]


def test_a_row_between_two_long_ones_is_long():
    """What would hardly do for a ribbon beside the top row will do there: only the top row is short."""
    there = {0: "kkkk", 20: "kkkw", 40: "kkkk"}
    assert after(there, (0, FULL, 0), (0, SHORT, 20), (0, FULL, 40)) == [4, 4, 4]


@pytest.mark.parametrize("beyond", ["g", "s", "p"])
def test_a_row_is_not_drawn_out_over_what_tells_nothing(beyond):
    """Ground, a stranger, or cloth that passes for a plain ribbon: an upside-down bar has its short row below."""
    there = {0: "kkkk", 20: "kkk" + beyond}
    assert after(there, (0, FULL, 0), (0, SHORT, 20)) == [4, 3]


@pytest.mark.parametrize(("end", "ribbons"), [("s", 4), ("k", 5), ("ss", 4), ("sk", 6), ("ks", 6)])
def test_an_end_that_nobody_knows_beyond_all_other_rows_is_no_ribbon(end, ribbons):
    """A lapel, a seam or a tie; what is recognised there is one."""
    there = {0: "kkkk", 20: "kkkk" + end, 40: "kkkk"}
    assert after(there, (0, FULL, 0), (0, FULL + len(end) * RIBBON, 20), (0, FULL, 40))[1] == ribbons


def test_an_end_that_nobody_knows_above_another_rows_ribbons_is_a_stranger():
    """All rows reach as far; and a lone row has no other to be measured by."""
    assert after({0: "kkks", 20: "kkkk"}, (0, FULL, 0), (0, FULL, 20)) == [4, 4]
    assert after({0: "kkks"}, (0, FULL, 0)) == [4]


def test_a_last_row_short_on_both_sides_stays_short():
    """It is the top row of a bar seen upside down, whatever the ground beside it looks like."""
    assert after({0: "kkkk", 20: "kkkk"}, (0, FULL, 0), (RIBBON, SHORT, 20)) == [4, 2]


@pytest.mark.parametrize(("beyond", "ribbons"), [("k", 4), ("g", 3), ("s", 3), ("p", 3), ("w", 3)])
def test_a_short_row_on_top_stays_short_unless_a_ribbon_stands_there(beyond, ribbons):
    """A top row may be short (common practice, no source), but its last ribbon may also be as dark as the cloth. What
    would do for a ribbon, but hardly better than for a stranger, is the ground."""
    there = {0: "kkk" + beyond, 20: "kkkk"}
    assert after(there, (0, SHORT, 0), (0, FULL, 20)) == [ribbons, 4]


@pytest.mark.parametrize(("row", "left"), [
    ("kkd", "kk"), ("kdd", "k"), ("kkp", "kkp"), ("kdp", "kdp"), ("kks", "kks"), ("ddd", "ddd"),
])  # fmt: skip
def test_ground_at_the_end_of_a_short_row_is_no_plain_ribbon(row, left):
    """Cloth that goes on beyond the end passes for a plain ribbon of its colour; a plain ribbon has an edge."""
    assert after({0: row, 20: "kkkk"}, (0, SHORT, 0), (0, FULL, 20)) == [len(left), 4]


def test_a_plain_ribbon_as_dark_as_the_cloth_ends_with_the_longest_row():
    """Where the rows end together, it is a ribbon, though no edge shows it."""
    assert after({0: "kkkd", 20: "kkkk"}, (0, FULL, 0), (0, FULL, 20)) == [4, 4]


def test_each_short_row_is_drawn_out_for_itself():
    """Ground beside the short top row says nothing about the ribbon that the row below it lost."""
    there = {0: "ggkk", 20: "kkkk", 40: "kkkk"}
    assert after(there, (2 * RIBBON, FULL, 0), (RIBBON, FULL, 20), (0, FULL, 40)) == [2, 4, 4]


@pytest.mark.parametrize(("left", "rows"), [(0, [4]), (FULL, [4, 4])])
def test_a_ribbon_cut_in_two_lengthwise_is_one_row(left, rows):
    """A metal frame or level bands cut it; rows that do not lie over one another are two."""

    def read(bar: FoundBar) -> ReadBar:
        letters = "kkkk" if len(bar.rows) == 1 else "s" * (left // RIBBON + 4)
        return reader({0: letters, 20: letters})(bar)

    assert [
        len(row) for row in with_second_thoughts(read(found((0, FULL, 0), (left, left + FULL, 20))), read).reading.rows
    ] == rows


def test_a_first_row_of_plain_ground_is_left_out():
    """A fold or a seam above the bar."""
    there = {0: "gggg", 20: "kkkk", 40: "kkkk"}
    assert after(there, (0, FULL, 0), (0, FULL, 20), (0, FULL, 40)) == [4, 4]


def test_what_is_half_likely_in_no_catalogue_is_not_recognised():
    """From four in five on a ribbon counts as recognised."""
    bar = BarReading(((ribbon(0.79), ribbon(0.81), KNOWN, STRANGER),), NEUTRAL)
    assert unrecognised(bar) == 0.5


@pytest.mark.parametrize(("under", "rows"), [("p", [4]), ("k", [4, 1]), ("pp", [4]), ("ppp", [4, 3])])
def test_a_plain_lone_row_under_a_long_one_is_a_gleam(under, rows):
    """A flash lights the cloth below the bar; a ribbon of several stripes there is a bar upside down."""
    there = {0: "kkkk", 20: under}
    assert after(there, (0, FULL, 0), (0, len(under) * RIBBON, 20)) == rows


@pytest.mark.parametrize(("off", "rows"), [(0, [4, 1]), (10, [4])])
def test_a_lone_ribbon_of_two_colours_under_a_long_row_ends_where_the_row_does(off, rows):
    """It is clearly known, and no gleam ends flush with the bar."""
    there = {0: "kkkk", 20: "gggt"}
    assert after(there, (0, FULL, 0), (SHORT - off, FULL - off, 20)) == rows


def test_a_plain_lone_ribbon_on_top_is_a_ribbon():
    """The highest crosses hang on plain ribbons, and stand alone in the top row."""
    assert after({0: "p", 20: "kkkk"}, (0, RIBBON, 0), (0, FULL, 20)) == [1, 4]


@pytest.mark.parametrize(
    ("beyond", "ribbons"), [("n", 4), ("c", 4), ("m", 4), ("e", 3), ("h", 3), ("o", 3), ("2", 3), ("b", 3), ("g", 3)]
)
def test_a_row_goes_on_where_a_ribbon_is_recognised_beyond_its_end(beyond, ribbons):
    """Finding stopped after three, in shade or on cloth of the next one's colour. What is hardly told, a stranger,
    what passes for two stripes or ends in the ground's colour, though not by far, and what fits no better than letters
    is the ground."""
    assert after({0: "kkk" + beyond}, (0, SHORT, 0)) == [ribbons]
    assert after({0: beyond + "kkk"}, (RIBBON, FULL, 0)) == [ribbons]


def test_a_row_goes_on_ribbon_after_ribbon():
    """Finding stopped after two: a dark diagonal on dark cloth stands before the rest of the row."""
    assert after({0: "kknm"}, (0, 2 * RIBBON, 0)) == [4]
    assert after({0: "mnkk"}, (2 * RIBBON, FULL, 0)) == [4]


def test_a_coats_edge_beyond_the_rows_is_no_reason_to_read_on():
    """One change of colour, from the cloth to what lies beyond: nothing is read again."""
    read, asked = reader({0: "kkk"}), []
    bar = read(found((0, SHORT, 0)))
    (strip,) = bar.strips
    edged = strip.pixels.copy()
    edged[:, : RIBBON + RIBBON // 2] = 0.2
    with_second_thoughts(replace(bar, strips=(replace(strip, pixels=edged),)), asked.append)
    assert asked == []


def test_rows_go_on_together():
    """A shadow lies across the last ribbons of all rows."""
    assert after({0: "kkkn", 20: "kkkc"}, (0, SHORT, 0), (0, SHORT, 20)) == [4, 4]


def test_a_row_does_not_go_on_alone_beyond_all_others():
    """The grain of wood and a seam are read as ribbons too; above another row's ribbons they are ribbons."""
    assert after({0: "kkkn", 20: "kkk"}, (0, SHORT, 0), (0, SHORT, 20)) == [3, 3]
    assert after({0: "gkng", 20: "kkkk"}, (RIBBON, 2 * RIBBON, 0), (0, FULL, 20)) == [2, 4]


def test_what_is_the_same_beyond_every_row_is_no_ribbon():
    """An award is worn once: an edge of shade across the cloth is read as one ribbon beside each row."""
    assert after({0: "kkkn", 20: "kkkr"}, (0, SHORT, 0), (0, SHORT, 20)) == [3, 3]


def test_a_row_goes_on_no_further_than_its_strip_shows():
    """The strip of a bar seen from the side ends short of the horizon; what is tried lies on it."""
    read, asked = reader({0: "kkkm"}), []
    bar = read(found((0, SHORT, 0)))
    (strip,) = bar.strips
    short = replace(strip, pixels=strip.pixels[:, : -RIBBON - RIBBON // 8])
    wide = short.pixels.shape[1] / strip.pixels.shape[1]
    rows = tuple(replace(one, span=(one.span[0] / wide, one.span[1] / wide)) for one in bar.reading.rows[0])
    bar = ReadBar(bar.found, (short,), BarReading((rows,), NEUTRAL))

    def spied(tried: FoundBar) -> ReadBar:
        asked.append(tried.rows[0].corners[1, 0])
        return bar

    with_second_thoughts(bar, spied)
    assert asked and max(asked) <= 4 * RIBBON - RIBBON // 8 + 1
