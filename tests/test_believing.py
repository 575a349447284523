"""Which finds are believed to be bars: the reading decides where finding is not sure."""

from dataclasses import replace

import numpy as np
import pytest

from ribbonbar.believing import is_a_bar
from ribbonbar.choosing import believed
from ribbonbar.photo.finding import Search
from ribbonbar.photo.model import Picture
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.model import BarReading, EmblemSeen
from ribbonbar.rows import ReadBar
from tests.finds import CLOTH, GROUND, KNOWN, PLAIN, PLATE, UNKNOWN, find, reading, ribbon, searched


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


@pytest.mark.parametrize(("second", "believed_to_be"), [(("surely", 2, "award-2"), True), (("unidentified", 2), False)])
def test_two_known_ribbons_on_a_mount_that_shows_about_them_are_a_bar(second, believed_to_be):
    """The mount is ten per cent wider and taller all round than the ribbons."""
    mount, ribbons = (200, 250, 600, 325), (208, 257, 592, 318)
    told = [[("surely", 2, "award-1"), second]]
    bar = reading(lambda _: told)(find(ribbons, confidence=0.4), None)
    assert is_a_bar(bar, searched(mount).scales) == believed_to_be


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
