"""Templates are the specification's ribbons, both ways round."""

import numpy as np
import pytest

from ribbonbar.reading.templates import COLUMNS, PHASES, ROWS, TRIMMED, bank_of, coverage
from ribbonbar.spec.draw import weave
from tests.reading.cloth import RIBBONS, catalogue


@pytest.mark.parametrize("name", RIBBONS)
def test_every_cell_is_covered_once(name):
    """The shares of the dyes in a cell add up to the whole cell, whatever the shape."""
    shares, _ = coverage(RIBBONS[name], ROWS, np.array([0.3]))
    assert np.allclose(shares.sum(-1), 1.0, atol=1e-3)


@pytest.mark.parametrize("name", [n for n, r in RIBBONS.items() if r.shape == "stripes"])
def test_a_template_is_the_ribbon_as_drawn(name):
    """The reading's own raster agrees with the drawing of the specification, made independently."""
    shares, dyes = coverage(RIBBONS[name], 1, np.zeros(1))
    assert np.allclose(shares[0, 0] @ dyes, weave(RIBBONS[name], COLUMNS, 1)[0], atol=0.02)


def test_bands_are_compared_over_the_height_that_is_seen():
    """What is left out above and below is left out of the template too."""
    (shares,), _ = coverage(RIBBONS["republic"], ROWS, np.zeros(1))
    seen = (1 / 3 - TRIMMED) / (1 - 2 * TRIMMED)
    assert shares[:, 0, 0].mean() == pytest.approx(seen, abs=1e-3)


def test_asymmetrical_ribbons_have_two_ways_round_and_diagonals_many_beginnings():
    """A ribbon is cut from the roll anywhere, and mounted either way."""
    bank = bank_of(catalogue())
    turned = {bank.patterns[p].names[0][0] for p in bank.vertical.pattern[bank.vertical.reversed]}
    assert turned == {"calder/polar-medal"}
    assert len(bank.slanted) == 2 * PHASES + 1


def test_awards_with_the_same_ribbon_share_one_pattern():
    """No picture can tell them apart, so they are one template with two names."""
    specification = catalogue("harbour-star", "valour-cross")
    twin = specification.awards["calder/valour-cross"]
    specification.awards["calder/twin"] = twin
    assert sorted(len(p.names) for p in bank_of(specification).patterns) == [1, 2]
