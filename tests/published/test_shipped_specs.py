"""The specification files that come with the package: each sound in itself, and all of them together."""

from collections import Counter
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from ribbonbar.spec.colour import ciede2000
from ribbonbar.spec.reader import check, read_specification, shipped_specs

TOO_CLOSE = 2.0
"""CIEDE2000 below which two dyes of one authority count as one, unless a source says that they differ."""
SAID_TO_DIFFER: set[tuple[str, str]] = set()
"""Pairs of colours nearer than that which a source keeps apart; none so far."""
REAL = ("us", "ca", "au", "nz", "gb", "un", "nato", "eu", "int")


@pytest.fixture(scope="module")
def spec():
    return read_specification([shipped_specs()])


def test_the_shipped_files_have_no_fault():
    """Read together, neither an error nor a warning."""
    assert [str(fault) for fault in check([shipped_specs()])] == []


def test_every_real_authority_is_there(spec):
    """The authorities that the project says it describes."""
    assert set(REAL) <= set(spec.authorities)


def test_every_order_names_only_known_awards(spec):
    """No place of any order of wear is held by an award that no file describes, and none is held twice."""
    for order in spec.orders.values():
        awards = [award for group in order.groups for award in group.awards]
        assert set(awards) <= set(spec.awards), order.key
        assert len(awards) == len(set(awards)), order.key


def test_every_award_of_an_authority_with_an_order_has_its_place(spec):
    """It stands in an order of wear, or the file says where else it is worn."""
    placed = {award for order in spec.orders.values() for group in order.groups for award in group.awards}
    with_order = {key.split("/")[0] for key in spec.orders}
    lost = [
        award.key
        for award in spec.awards.values()
        if award.key.split("/")[0] in with_order and award.key not in placed and not award.worn_elsewhere
    ]
    assert lost == []


def test_no_two_dyes_of_one_authority_are_one_colour(spec):
    """One physical colour has one entry."""
    palettes: dict[str, list] = {}
    for key, colour in spec.colours.items():
        palettes.setdefault(key.split("/")[0], []).append(colour)
    close = set()
    for authority, colours in palettes.items():
        pairs = list(combinations(colours, 2))
        if pairs:
            first, second = (np.array([pair[i].lab for pair in pairs]) for i in (0, 1))
            differences = ciede2000(first, second)
            close |= {
                (f"{authority}/{a.name}", f"{authority}/{b.name}")
                for (a, b), difference in zip(pairs, differences, strict=True)
                if difference < TOO_CLOSE
            }
    assert close == SAID_TO_DIFFER


def test_every_stated_fact_names_a_source_that_exists(spec):
    """Colours, ribbons and qualifying days that are called stated point at a publication in their file."""
    stated = [(key, colour.source) for key, colour in spec.colours.items() if colour.certainty == "stated"]
    for award in spec.awards.values():
        stated += [(award.key, ribbon.source) for ribbon in award.ribbons if ribbon.certainty == "stated"]
        if award.earned_certainty == "stated":
            stated.append((award.key, award.earned_source))
    assert [key for key, source in stated if source not in spec.sources] == []


def test_every_order_names_its_publication(spec):
    """A verdict must be able to say where the order is published."""
    assert [key for key, order in spec.orders.items() if order.source not in spec.sources] == []


def test_a_ribbon_without_a_pattern_says_why(spec):
    """An unmatched ribbon gives its reason, and every other ribbon gives stripes."""
    for award in spec.awards.values():
        for ribbon in award.ribbons:
            assert bool(ribbon.stripes) != bool(ribbon.unmatched), award.key


def test_patterns_of_one_award_are_unlike(spec):
    """Several ribbons of one award are there because they look different."""
    for award in spec.awards.values():
        matched = [ribbon for ribbon in award.ribbons if ribbon.stripes]
        looks = {(ribbon.shape, ribbon.stripes, ribbon.angle, ribbon.frame) for ribbon in matched}
        assert len(looks) == len(matched), award.key


README_ROWS = {
    "United Kingdom": ("gb",),
    "United States": ("us",),
    "Canada": ("ca",),
    "Australia": ("au",),
    "New Zealand": ("nz",),
    "United Nations, NATO, European Union, others": ("un", "nato", "eu", "int"),
}


@pytest.mark.parametrize("title", README_ROWS)
def test_the_readme_counts_what_the_files_hold(spec, title):
    """Awards, readable ribbons by certainty, and awards without a pattern, as the README's table says."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    row = next(line for line in readme.splitlines() if line.startswith(f"| {title} |"))
    awards = [award for key, award in spec.awards.items() if key.split("/")[0] in README_ROWS[title]]
    ribbons = Counter(ribbon.certainty for award in awards for ribbon in award.ribbons if ribbon.stripes)
    without = sum(not award.worn_elsewhere and not any(ribbon.stripes for ribbon in award.ribbons) for award in awards)
    by_certainty = ", ".join(str(ribbons[kind]) for kind in ("stated", "derived", "memory"))
    assert row.split(" | ")[1:4] == [str(len(awards)), f"{ribbons.total()} ({by_certainty})", str(without)]
