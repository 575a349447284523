"""Ribbons in words, and what tells two apart."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ribbonbar.report.describe import differences, in_words
from ribbonbar.spec.model import Colour, Stripe
from tests.report.conftest import DYES, ribbon

STAR = ribbon(("navy", 10), ("white", 2), ("sky-blue", 8), ("white", 2), ("navy", 10))
STRAIT = ribbon(("black", 10), ("white", 2), ("sky-blue", 8), ("white", 2), ("black", 10))
LAMP = ribbon(("gold", 20), ("green", 12))
HERON = ribbon(("white", 3.2), ("purple", 3.2), shape="diagonal", angle=45.0)


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        (ribbon(("crimson", 32)), "plain crimson"),
        (STAR, "navy edges, narrow white, sky blue centre"),
        (LAMP, "left to right: gold, green"),
        (ribbon(("white>sky-blue", 16), ("navy", 16)), "left to right: white shading to sky blue, navy"),
        (HERON, "diagonal stripes of white and purple, rising to the right"),
        (
            ribbon(("navy", 3), ("gold", 3), ("crimson", 3), shape="bands"),
            "horizontal bands, top to bottom: navy, gold and crimson",
        ),
        (ribbon(shape="unmatched", unmatched="embroidered"), "no drawing: embroidered"),
        (
            ribbon(("crimson", 1), frame=Colour("gold", (60, 10, 50), "memory")),
            "plain crimson, in a metal frame of gold",
        ),
    ],
)
def test_a_ribbon_is_described_as_one_would_over_the_telephone(pattern, said):
    """Edges, centre, narrow and broad; left to right where it matters."""
    assert in_words(pattern) == said


def test_a_ribbon_back_to_front_is_described_as_it_is_seen():
    """The words follow the ribbon round."""
    assert in_words(LAMP, reversed=True) == "left to right: green, gold"
    assert in_words(HERON, reversed=True).endswith("falling to the right")


@pytest.mark.parametrize(
    ("a", "b", "told"),
    [
        (STAR, STRAIT, ("edges navy", "edges black")),
        (
            LAMP,
            ribbon(("green", 12), ("gold", 20)),
            ("left edge gold, right edge green", "left edge green, right edge gold"),
        ),
        (
            STAR,
            ribbon(("navy", 8), ("white", 2), ("sky-blue", 12), ("white", 2), ("navy", 8)),
            ("centre (sky blue) narrower", "centre (sky blue) wider"),
        ),
        (STAR, ribbon(("navy", 12), ("sky-blue", 8), ("navy", 12)), ("has white", "no white")),
        (LAMP, HERON, ("upright stripes", "diagonal stripes")),
        (
            HERON,
            ribbon(("white", 3.2), ("purple", 3.2), shape="diagonal", angle=135.0),
            ("stripes rising to the right at 45°", "stripes falling to the right at 45°"),
        ),
        (ribbon(("crimson", 1)), ribbon(("orange", 1)), ("the whole ribbon crimson", "the whole ribbon orange")),
        (
            ribbon(("navy", 1), ("gold", 1), ("navy", 1)),
            ribbon(("navy", 1), ("gold", 1), ("navy", 1), ("gold", 1), ("navy", 1)),
            ("3 stripes (navy, gold, navy)", "5 stripes (navy, gold, navy, gold, navy)"),
        ),
        (STAR, ribbon(*[(s.start.name, s.width) for s in STAR.stripes], width_mm=38.0), ("32 mm wide", "38 mm wide")),
    ],
)
def test_two_ribbons_are_told_apart_by_what_the_eye_goes_to(a, b, told):
    """The same feature as it is on each, named the same way on both."""
    assert differences(a, b) == told
    assert differences(b, a) == told[::-1]


def test_ribbons_that_are_the_same_are_said_to_be():
    """No difference is invented: the same pattern in another unit is the same pattern."""
    assert differences(STAR, STAR) is None
    assert differences(STAR, ribbon(*[(s.start.name, 2 * s.width) for s in STAR.stripes])) is None
    assert differences(LAMP, ribbon(("green", 12), ("gold", 20)), False, True) is None


def test_two_dyes_of_one_name_are_told_apart_by_darkness():
    """Another authority's navy may be a darker one."""
    dark = Colour("navy", (5.0, 2.0, -15.0), "memory")
    other = ribbon(("navy", 32))
    darker = replace(other, stripes=(Stripe(dark, dark, 32.0),))
    assert differences(other, darker) == ("the whole ribbon paler navy", "the whole ribbon darker navy")


_patterns = st.lists(st.tuples(st.sampled_from(sorted(DYES)), st.integers(1, 12)), min_size=1, max_size=9).map(
    lambda s: ribbon(*s)
)


@given(_patterns, _patterns)
def test_differences_are_named_the_same_from_both_sides(a, b):
    """Telling a from b and b from a point at the same thing; equal ribbons have no difference."""
    told, back = differences(a, b), differences(b, a)
    assert (told is None) == (back is None)
    if told:
        assert told[0] != told[1] and back == told[::-1]
    assert differences(a, a) is None
