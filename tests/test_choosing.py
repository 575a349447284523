"""Which places on a picture are read, and which rows of a bar are kept: what reads better."""

import numpy as np
import pytest

from ribbonbar import choosing
from ribbonbar.choosing import believed
from tests.finds import KNOWN, PLAIN, PLATE, UNKNOWN, find, reading, searched


def test_a_stranger_at_the_end_is_not_left_out():
    """Two ribbons are found, and again the one that is known alone: the patch goes on beyond it."""
    pair, lone = (200, 250, 584, 310), (200, 250, 392, 310)
    search = searched(pair)
    places = [find(lone, confidence=0.9)]
    search.places = lambda least, known=(): tuple(places)

    def told(found):
        return [[KNOWN]] if found is places[0] else [[KNOWN, UNKNOWN]]

    (bar,) = believed(search, [find(pair, confidence=0.9)], reading(told))
    assert [len(row) for row in bar.reading.rows] == [2]


def test_a_find_that_is_no_bar_is_not_read_once_more():
    """It comes again among the unlikely places, with the very same rows."""
    search, doubtful = searched(), find(PLATE, confidence=0.6)
    search.places = lambda least, known=(): (doubtful,)
    told = []

    def read(found, shading):
        told.append(found)
        return reading(lambda _: [[UNKNOWN]])(found, shading)

    assert believed(search, [doubtful], read) == []
    assert len(told) == 1


def test_a_bar_that_a_name_plate_outshone_is_found_without_it():
    """The plate was found and reads as nothing; the picture is searched again with the plate left out."""
    plate, bar = find((100, 100, 676, 160), confidence=0.6), find((150, 400, 726, 460), confidence=0.9)

    class Outshone:
        """A search that finds only the plate, and the bar without it."""

        scales = searched((100, 100, 676, 160), (150, 400, 726, 460)).scales

        def without(self, hidden):
            assert hidden == [plate.corners]
            return self

        def bars(self):
            return (bar,)

        def places(self, *_):
            return ()

    def told(found):
        return [[("identified", 3, f"award-{n}") if found.corners[0, 1] > 300 else ("written", 3) for n in range(3)]]

    (read,) = believed(Outshone(), [plate], reading(told))
    assert read.found is bar


def test_rows_that_read_better_take_the_place_of_those_found():
    """Of a bar of three only the first was found; its silhouette shows the rest, and the rest reads as well."""
    whole = (200, 250, 776, 310)
    first = (200, 250, 392, 310)

    def told(found):
        length = np.ptp(found.rows[0].corners[:, 0])
        return [[("identified", 3, f"award-{n}") for n in range(max(round(length / 192), 1))] for _ in found.rows]

    bars = believed(searched(whole), [find(first, confidence=0.9)], reading(told))
    assert [len(row) for row in bars[0].reading.rows] == [3]


def test_what_reads_well_is_not_cut_down():
    """Other rows that are smaller are not even read where every ribbon is known."""
    whole, reads = (200, 250, 776, 310), []

    def told(found):
        reads.append(found)
        return [[("identified", 3, f"award-{r}-{n}") for n in range(3)] for r, _ in enumerate(found.rows)]

    found = find(whole, confidence=0.9)
    assert believed(searched(whole), [found], reading(told))[0].found is found
    assert reads == [found]


@pytest.mark.parametrize(("odd", "rows"), [(KNOWN, 4), (("unidentified", 3), 3), (("ambiguous", 1), 3)])
def test_a_short_row_that_was_missed_is_read_though_a_stranger_stands_below(odd, rows):
    """Of thirteen ribbons one is nobody's, and the lone one on top was not found: it is clear, and so are the rest."""
    boxes = [(60, 250, 828, 310), (80, 310, 848, 370), (60, 370, 828, 430)]
    top = (352, 190, 544, 250)

    def told(found):
        below = [[("identified", 3, f"award-{r}-{n}") for n in range(4)] for r in range(3)]
        below[0][1] = UNKNOWN
        return {3: below, 4: [[odd], *below]}.get(len(found.rows), [[UNKNOWN]] * len(found.rows))

    bars = believed(searched(top, *boxes), [find(*boxes, confidence=0.9)], reading(told))
    assert len(bars[0].reading.rows) == rows


@pytest.mark.parametrize(("odd", "rows"), [(KNOWN, 2), (("unidentified", 3), 1), (PLAIN, 1)])
def test_a_row_beside_those_found_is_read_where_the_ground_says_nothing(monkeypatch, odd, rows):
    """On uneven ground there is no silhouette; the lone ribbon above is seen all the same."""
    monkeypatch.setattr(choosing, "silhouette", lambda *_: None)
    below, top = (200, 310, 776, 370), (392, 246, 584, 306)

    def told(found):
        row = [("identified", 3, f"award-{n}") for n in range(3)]
        return [row] if len(found.rows) == 1 else [[odd], row]

    bars = believed(searched(top, below), [find(below, confidence=0.9)], reading(told))
    assert len(bars[0].reading.rows) == rows


@pytest.mark.parametrize(("first", "odd", "ribbons"), [(0, KNOWN, 3), (1, KNOWN, 3), (4, KNOWN, 4), (4, UNKNOWN, 4)])
def test_a_bar_on_a_checked_ground_is_sought_with_the_ground_made_plain(monkeypatch, first, odd, ribbons):
    """Where nothing was found among the checks, or a part. Whichever reads better is taken; but a stranger of the
    ground's colours is painted over with it, and not left out for that."""
    monkeypatch.setattr(choosing, "silhouette", lambda *_: None)
    box, plain = (200, 250, 776, 310), searched()
    plain.bars = lambda: (find(box, confidence=0.9),)
    checked = searched()
    checked.on_plain_ground = lambda: plain
    before = [find((200, 250, 200 + 192 * first, 310), confidence=0.9)] if first else []

    def told(found):
        count = round(np.ptp(found.corners[:, 0]) / 192)
        return [[("identified", 3, f"award-{n}") for n in range(min(count, 3))] + [odd] * (count - 3)]

    (bar,) = believed(checked, before, reading(told))
    assert [len(row) for row in bar.reading.rows] == [ribbons]


def test_strangers_alone_are_no_bar_for_a_ground_made_plain(monkeypatch):
    """A pen that lies by itself looks like many ribbons in a row, none of them known."""
    monkeypatch.setattr(choosing, "is_a_bar", lambda *_: True)
    search, plain = searched(), searched()
    plain.bars = lambda: (find((200, 250, 776, 310), confidence=0.9),)
    search.on_plain_ground = lambda: plain
    monkeypatch.setattr(choosing, "patches", lambda _: ())
    assert believed(search, [], reading(lambda _: [[UNKNOWN, UNKNOWN, PLAIN]])) == []
    assert len(believed(search, [], reading(lambda _: [[KNOWN, UNKNOWN, PLAIN]]))) == 1


@pytest.mark.parametrize(("patches", "rows"), [(2, [1, 3]), (1, [3])])
def test_a_stranger_on_top_is_left_out_only_where_nothing_stands_out_there(monkeypatch, patches, rows):
    """With the ground's shade taken out the rows below read alone, and all of them are known."""
    monkeypatch.setattr(choosing, "shading_on", lambda _: "shade")
    top, below = (200, 250, 392, 310), (200, 310, 776, 370)

    def read(found, shading):
        row = [("identified", 3, f"award-{n}") for n in range(3)]
        whole = found if len(found.rows) > 1 and not shading else find(below, confidence=0.9)
        return reading(lambda one: [[UNKNOWN], row] if len(one.rows) > 1 else [row])(whole, shading)

    (bar,) = believed(searched(*(below, top)[:patches]), [find(top, below, confidence=0.9)], read)
    assert [len(row) for row in bar.reading.rows] == rows


@pytest.mark.parametrize(("first", "ribbons"), [("hardly", 3), ("identified", 4)])
def test_what_is_hardly_a_ribbon_where_nothing_stands_out_is_none(first, ribbons):
    """Bare cloth before the first ribbon; one as dark as the cloth is told clearly."""

    def told(found):
        row = [("identified", 3, f"award-{n}") for n in range(3)]
        return [[(first, 3, "award-0-0"), *row]] if found.rows[0].corners[0, 0] < 100 else [row]

    bars = believed(searched((200, 250, 776, 310)), [find((8, 250, 776, 310), confidence=0.9)], reading(told))
    assert [len(row) for row in bars[0].reading.rows] == [ribbons]


def test_one_place_found_twice_is_one_bar():
    """Two finds one over the other are one bar."""
    whole = (200, 250, 776, 310)
    both = [find(whole, confidence=0.9), find((210, 252, 770, 308), confidence=0.8)]
    assert len(believed(searched(whole), both, reading(lambda _: [[KNOWN] * 3]))) == 1
