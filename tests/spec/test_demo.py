"""The invented country that ships with the package is sound and shows everything the format can say."""

from itertools import combinations

import numpy as np

from ribbonbar.spec.colour import ciede2000
from ribbonbar.spec.reader import check, read_specification, shipped_specs

DEMO = shipped_specs() / "lorrandy.toml"
SPECIFICATION = read_specification([DEMO])
RIBBONS = [ribbon for award in SPECIFICATION.awards.values() for ribbon in award.ribbons]


def test_it_has_no_fault_and_says_that_it_is_invented() -> None:
    """Nobody can take it for a real country."""
    assert check([DEMO]) == ()
    assert "(invented)" in SPECIFICATION.authorities["lorrandy"].title
    assert all("(invented)" in source.title for source in SPECIFICATION.sources.values())


def test_it_holds_every_shape_of_ribbon() -> None:
    """Plain, striped, shaded, diagonal both ways, level, framed, asymmetric, wide and unmatched."""
    assert {ribbon.shape for ribbon in RIBBONS} == {"stripes", "diagonal", "bands", "unmatched"}
    assert {ribbon.angle > 0 for ribbon in RIBBONS if ribbon.shape == "diagonal"} == {True, False}
    assert any(len(ribbon.stripes) == 1 for ribbon in RIBBONS)
    assert any(stripe.start != stripe.end for ribbon in RIBBONS for stripe in ribbon.stripes)
    assert any(ribbon.frame for ribbon in RIBBONS)
    assert any(ribbon.shape == "stripes" and not ribbon.symmetrical for ribbon in RIBBONS)
    assert {ribbon.width_mm for ribbon in RIBBONS} == {32.0, 38.0}


def test_it_holds_every_kind_of_group_and_rule() -> None:
    """Listed, by date and by day of award; two orders of unlike width; all three rules; some awards share a ribbon."""
    groups = [group for order in SPECIFICATION.orders.values() for group in order.groups]
    assert {group.sequence for group in groups} == {"listed", "by-date", "by-award-date"}
    assert sorted(order.ribbons_per_row for order in SPECIFICATION.orders.values()) == [3, 4]
    assert {rule.kind for rule in SPECIFICATION.rules} == {"not-together", "needs", "listed-within"}
    patterns = [award.ribbons[0].stripes for award in SPECIFICATION.awards.values() if award.ribbons]
    assert any(a == b for a, b in combinations(patterns, 2))
    assert any(award.worn_elsewhere for award in SPECIFICATION.awards.values())


def test_widths_add_up() -> None:
    """The stripes of every ribbon add up to its width, the bands to its height."""
    for ribbon in RIBBONS:
        total = sum(stripe.width for stripe in ribbon.stripes)
        if ribbon.shape in ("stripes", "bands"):
            assert abs(total - (ribbon.width_mm if ribbon.shape == "stripes" else ribbon.height_mm)) < 1e-9


def test_no_two_dyes_are_alike() -> None:
    """Every two palette entries differ by more than CIEDE2000 2: one physical colour has one entry."""
    labs = np.array([colour.lab for colour in SPECIFICATION.colours.values()])
    difference = ciede2000(labs[:, None], labs[None]) + 100 * np.eye(len(labs))
    assert difference.min() > 2
