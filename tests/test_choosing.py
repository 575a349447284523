"""Which finds are believed to be bars: the reading decides where finding is not sure."""

from dataclasses import replace

import numpy as np
import pytest

from ribbonbar import choosing
from ribbonbar.choosing import _worth, believed
from ribbonbar.photo.finding import Search
from ribbonbar.photo.model import FoundBar, Picture, Row
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.model import BarReading, EmblemSeen, Reading, RibbonCandidate
from ribbonbar.rows import ReadBar

GROUND = (92, 98, 104)
WRITTEN = 0.5  # share of a name plate's width that letters take
CLOTH = ((170, 30, 40), (235, 235, 230), (30, 60, 130), (30, 110, 60), (225, 190, 60), (80, 30, 90))


def picture_with(*boxes):
    """Even ground with striped patches: boxes (left, top, right, bottom)."""
    pixels = np.full((600, 900, 3), GROUND, np.uint8)
    for left, top, right, bottom in boxes:
        for number, x in enumerate(range(left, right, 20)):
            pixels[top:bottom, x : min(x + 20, right)] = CLOTH[number % len(CLOTH)]
    return Picture("patches", pixels, "")


def searched(*boxes):
    return Search(picture_with(*boxes))


def find(*boxes, confidence):
    """A find with these rows."""
    rows = tuple(Row(np.array([[a, b], [c, b], [c, d], [a, d]], float)) for a, b, c, d in boxes)
    corners = np.concatenate([row.corners for row in rows])
    (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
    outline = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    return FoundBar(outline, rows, confidence)


def ribbon(number, count, status="identified", stripes=3, award=""):
    probability = {"unidentified": 0.3, "written": 0.3, "busy": 0.3, "halfway": 0.6, "either": 0.6, "surely": 0.99}
    probability = probability.get(status, 0.978)
    candidates = (RibbonCandidate(award or f"award-{number}", "standard", False, probability),)
    if status == "either":
        candidates += (RibbonCandidate("another", "standard", False, 0.37),)
    if status == "shared":
        status, candidates = "ambiguous", tuple(replace(candidates[0], award=name, probability=0.48) for name in "ab")
    span = (number / count, (number + 1) / count)
    margin = 0.5 if status == "hardly" else 8.0
    covered = WRITTEN if status in ("halfway", "either", "written", "lettered") else 0.0
    free = -80.0 if status == "busy" else -50.0
    said = {"written": "unidentified", "busy": "unidentified", "lettered": "identified", "hardly": "identified"}
    said["surely"] = "identified"
    status = said.get(status, status)
    return Reading(span, status, candidates, (), np.zeros((1, 3)), 20.0, margin, free, stripes, covered)


def reading(told):
    """A reader that says ``told(find)`` of every find: for each row its ribbons, (status, stripes, award) each."""

    def read(found, _shading):
        rows = [tuple(ribbon(10 * r + n, 1, *one) for n, one in enumerate(row)) for r, row in enumerate(told(found), 1)]
        rows = tuple(
            tuple(
                Reading((n / len(row), (n + 1) / len(row)), *(getattr(one, f) for f in FIELDS))
                for n, one in enumerate(row)
            )
            for row in rows
        )
        return ReadBar(found, (), BarReading(rows, NEUTRAL))

    return read


FIELDS = ("status", "candidates", "emblems", "seen", "pixels_per_stripe", "margin", "free", "stripes", "covered")
KNOWN, PLAIN, UNKNOWN = ("identified", 3), ("ambiguous", 1), ("unidentified", 3)
PLATE = (300, 250, 492, 310)  # 3.2 times as wide as tall, as one ribbon is


def said(found, told):
    return believed(searched(*[PLATE]), [found], reading(told))


def test_a_name_plate_that_might_just_be_a_ribbon_is_no_bar():
    """What is nearly as likely in no catalogue as in this one says nothing for a find."""
    assert not said(find(PLATE, confidence=0.9), lambda _: [[("halfway", 3)]])


def test_a_sure_find_with_one_striped_ribbon_known_is_a_bar():
    """One ribbon that can be named is enough where the find is sure."""
    assert len(said(find(PLATE, confidence=0.9), lambda _: [[KNOWN]])) == 1


@pytest.mark.parametrize(("awards", "believed_to_be"), [(("one", "one"), 0), (("one", "other"), 1)])
def test_a_sure_find_of_two_stripes_must_show_two_ribbons(awards, believed_to_be):
    """A shiny name plate reads as two stripes, over and over."""
    row = [("identified", 2, award) for award in awards]
    assert len(said(find(PLATE, confidence=0.85), lambda _: [row])) == believed_to_be


@pytest.mark.parametrize("confidence", [0.9, 0.6, 0.1])
def test_plain_ribbons_alone_make_no_bar(confidence):
    """A name plate reads as plain ribbons, whatever finding thinks of it."""
    assert said(find(PLATE, confidence=confidence), lambda _: [[PLAIN, PLAIN]]) == []


def test_one_award_over_and_over_makes_no_bar():
    """What repeats itself is a pattern of something else: nobody wears one ribbon three times."""
    again = ("identified", 3, "one-award")
    assert said(find(PLATE, confidence=0.3), lambda _: [[again, again, again]]) == []


def test_what_is_the_same_again_and_again_is_a_ruler():
    """An award is worn once; awards that share a ribbon are not identified and may stand side by side."""
    ruler = [[("identified", 3, "calder/sea-medal")] * 4]
    assert not said(find(PLATE, confidence=0.9), lambda _: ruler)
    unsure = [[KNOWN, *[("ambiguous", 3, "calder/sea-medal")] * 4]]
    assert not said(find(PLATE, confidence=0.9), lambda _: unsure)
    shared = [[KNOWN, *[("shared", 3, "calder/sea-medal")] * 4]]
    assert said(find(PLATE, confidence=0.9), lambda _: shared)


def test_a_sure_find_needs_a_ribbon_of_one_look():
    """Two that may be this or that, as a name plate's letters may, are not enough; a ribbon that many share is."""
    assert not said(find(PLATE, confidence=0.9), lambda _: [[("either", 3), ("either", 3)]])
    assert said(find(PLATE, confidence=0.9), lambda _: [[("ambiguous", 3), ("either", 3)]])


@pytest.mark.parametrize(("confidence", "believed_to_be"), [(0.55, 1), (0.45, 0)])
def test_two_known_ribbons_of_three_bear_out_a_likely_find(confidence, believed_to_be):
    """A single row of three with a stranger among them; a less likely find needs three."""
    row = [("identified", 3, "award-1"), ("identified", 3, "award-2"), UNKNOWN]
    box = (100, 250, 271, 268)
    assert len(believed(searched(), [find(box, confidence=confidence)], reading(lambda _: [row]))) == believed_to_be


@pytest.mark.parametrize(("margins", "strangers", "believed_to_be"), [
    ((13.0, 16.0), 1, 1), ((13.0, 16.0), 3, 0), ((13.0, 9.0), 1, 0), ((13.0,), 1, 0),
])  # fmt: skip
def test_two_ribbons_known_by_far_make_a_bar_of_a_place_that_finding_doubted(margins, strangers, believed_to_be):
    """A stranger with level bands beside them looks written on all over."""
    known = [replace(ribbon(n, 3), margin=margin) for n, margin in enumerate(margins)]
    row = (*known, *[replace(ribbon(9, 3, "unidentified"), covered=1.0, margin=-9.0)] * strangers)

    def read(found, _shading):
        return ReadBar(found, (), BarReading((row,), NEUTRAL))

    assert len(believed(searched(), [find(PLATE, confidence=0.001)], read)) == believed_to_be


@pytest.mark.parametrize(("confidence", "unknown", "believed_to_be"), [
    (0.7, 2, 1), (0.7, 9, 0), (0.1, 0, 1), (0.1, 1, 0), (0.5, 1, 1),
])  # fmt: skip
def test_the_less_sure_a_find_the_more_must_be_recognised(confidence, unknown, believed_to_be):
    """A find at 0.1 is believed when all four are known, one at 0.5 when four of five are."""
    row = [("identified", 3, f"award-{n}") for n in range(4)] + [UNKNOWN] * unknown
    width = 57 * len(row)
    box = (100, 250, 100 + width, 268)
    found = believed(searched(), [find(box, confidence=confidence)], reading(lambda _: [row]))
    assert len(found) == believed_to_be


WRITING, LETTERED = ("written", 3), ("lettered", 3)


@pytest.mark.parametrize(("box", "row", "confidence", "believed_to_be"), [
    (PLATE, [UNKNOWN], 0.5, 1), (PLATE, [UNKNOWN], 0.1, 0), (PLATE, [WRITING], 0.5, 0),
    ((300, 250, 492, 340), [UNKNOWN], 0.5, 0), (PLATE, [("busy", 6)], 0.01, 1),
])  # fmt: skip
def test_a_bar_of_strangers_is_one_where_it_lies_by_itself(box, row, confidence, believed_to_be):
    """As tall as ribbons are, nothing written on it, and likely by its edges or full of stripes."""
    found = believed(searched(box), [find(box, confidence=confidence)], reading(lambda _: [row]))
    assert len(found) == believed_to_be


@pytest.mark.parametrize(("row", "believed_to_be"), [
    ([KNOWN, UNKNOWN], 1), ([LETTERED, WRITING], 0), ([KNOWN, WRITING], 1), ([UNKNOWN, UNKNOWN], 0),
    ([KNOWN, UNKNOWN, UNKNOWN], 0),
])  # fmt: skip
def test_a_patch_half_of_which_is_clearly_known_is_a_bar(row, believed_to_be):
    """Finding saw no stripes there at all; it is as tall as two ribbons are. One may bear a large emblem."""
    pixels = np.full((600, 900, 3), GROUND, np.uint8)
    pixels[250:310, 200:584] = CLOTH[0]
    assert len(believed(Search(Picture("patch", pixels, "")), [], reading(lambda _: [row]))) == believed_to_be


def test_what_is_written_on_all_over_is_no_bar():
    """However surely found, and however much its letters look like stripes; an emblem covers less."""
    assert not said(find(PLATE, confidence=0.9), lambda _: [[LETTERED, LETTERED]])
    assert said(find(PLATE, confidence=0.9), lambda _: [[LETTERED, KNOWN]])


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


def test_a_bar_seen_from_the_side_is_one():
    """At 40 degrees its ribbons look 14 mm tall, and nearer ones more."""
    wide, tall = 384, 96
    box = (200, 250, 200 + wide, 250 + tall)
    row = [("identified", 5, "award-1"), ("identified", 3, "award-2")]
    assert len(believed(searched(box), [find(box, confidence=0.7)], reading(lambda _: [row]))) == 1


def test_strangers_that_are_part_of_something_larger_are_no_bar():
    """The find is one strip of a patch twice as tall: a flag, a badge or checked cloth."""
    flag = searched((300, 250, 492, 370))
    assert believed(flag, [find(PLATE, confidence=0.5)], reading(lambda _: [[UNKNOWN]])) == []


@pytest.mark.parametrize(
    ("stripes", "margin", "believed_to_be"), [(7, 14.0, 1), (3, 14.0, 1), (7, 9.0, 0), (2, 14.0, 0)]
)
def test_a_ribbon_that_is_nothing_else_makes_a_bar(stripes, margin, believed_to_be):
    """Many a wearer has one medal: a lone ribbon that no other pattern comes near is believed; two colours are not."""
    lone = replace(ribbon(0, 1, stripes=stripes), margin=margin)

    def read(found, _shading):
        return ReadBar(found, (), BarReading(((lone,),), NEUTRAL))

    assert len(believed(searched(), [find(PLATE, confidence=0.05)], read)) == believed_to_be


@pytest.mark.parametrize(
    ("letters", "pixels", "believed_to_be"), [(0, 20.0, 1), (2, 20.0, 1), (6, 20.0, 0), (0, 1.5, 0)]
)
def test_a_lone_ribbon_full_of_letters_or_too_small_is_none(letters, pixels, believed_to_be):
    """A name plate's letters stand out like emblems, and what lies between letters is a few pixels wide."""
    emblems = tuple(EmblemSeen("emblem", n / 7, 0.5, 3.0) for n in range(letters))
    lone = replace(ribbon(0, 1, stripes=7), emblems=emblems, pixels_per_stripe=pixels, margin=14.0)

    def read(found, _shading):
        return ReadBar(found, (), BarReading(((lone,),), NEUTRAL))

    assert len(believed(searched(), [find(PLATE, confidence=0.05)], read)) == believed_to_be


@pytest.mark.parametrize(("known", "status", "believed_to_be"), [
    (3, "identified", 2), (2, "surely", 2), (2, "identified", 1), (1, "surely", 1),
])  # fmt: skip
def test_a_second_bar_that_finding_doubted_is_believed_when_it_is_read_whole(known, status, believed_to_be):
    """Beside a sure bar others are looked for too; a stranger may stand in it if the rest is as good as certain, and
    one of which little is recognised is left out."""
    first, second = (100, 100, 676, 160), (150, 400, 726, 460)

    class Doubting:
        """A search that found the first for sure, and doubts the second."""

        scales = searched(first, second).scales

        def places(self, _least, beside):
            assert len(beside) == 1
            return (find(second, confidence=0.1),)

    def told(found):
        mine = found.corners[0, 1] > 300
        number = known if mine else 3
        named = [(status, 3, f"award-{mine}-{n}") for n in range(number)]
        return [named + [UNKNOWN] * (3 - number)]

    assert len(believed(Doubting(), [find(first, confidence=0.9)], reading(told))) == believed_to_be


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


def worth(*rows):
    """What a bar of these rows, all of them recognised, is worth: of each its length in pixels and its ribbons."""
    boxes = [(100, 100 + 50 * n, 100 + length, 145 + 50 * n) for n, (length, _) in enumerate(rows)]
    told = [[("identified", 3, f"award-{n}-{k}") for k in range(count)] for n, (_, count) in enumerate(rows)]
    return _worth(reading(lambda _: told)(find(*boxes, confidence=0.9), None))


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
