"""The closed forms against the plain multivariate normal distribution."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from ribbonbar.reading import evidence as ev
from ribbonbar.reading.free import ANY_COLOUR, SHORTEST, free_evidence
from ribbonbar.reading.templates import COLUMNS


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_affine_evidence_is_the_gaussian_marginal_likelihood(seed):
    """Differences between templates equal those of a dense Gaussian with free gain and offset (reference: scipy)."""
    random = np.random.default_rng(seed)
    seen, expected = random.uniform(0.1, 0.9, (2, 12, 3)), random.uniform(0.1, 0.9, (3, 12, 3))
    gain, offset, noise = 0.2, 0.1, 0.05
    variance = noise**2 * ev.FREEDOM * 12 / COLUMNS
    dense = np.zeros((2, 3))
    for s, t, c in np.ndindex(2, 3, 3):
        x = expected[t, :, c]
        covariance = variance * np.eye(12) + gain**2 * np.outer(x, x) + offset**2
        dense[s, t] += multivariate_normal.logpdf(seen[s, :, c], x, covariance)
    seen, expected = np.moveaxis(seen, 2, 0), np.moveaxis(expected, 2, 0)
    found = ev.affine_evidence(seen, ev.rays_of(expected, ev.Leeway(gain, offset, noise)))
    assert np.allclose(found - found[0, 0], dense - dense[0, 0], rtol=1e-4, atol=2e-3)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_structured_evidence_is_the_gaussian_marginal_likelihood(seed):
    """The low-rank form equals the dense one: with one dye and a flat template every freedom is a known direction."""
    random = np.random.default_rng(seed)
    level = random.uniform(0.3, 0.8, 3)
    expected = np.broadcast_to(level, (1, COLUMNS, 3)).astype(np.float32)
    cover = np.ones((1, COLUMNS, 1), np.float32)
    noise, x = 0.02, (np.arange(COLUMNS) + 0.5) / COLUMNS - 0.5
    ones, eye = np.ones(COLUMNS), np.eye(3)
    each = [np.kron(ones, eye[c]) for c in range(3)]
    flat = np.tile(level, COLUMNS)
    own = ev.DYE_OWN + ev.DYE_STRONG * np.ptp(level)
    directions = [np.kron(ones, row) for row in np.linalg.cholesky(eye * own**2 + ev.DYE_COMMON**2).T]
    directions += [ev.TINT * d * flat for d in each]
    directions += [ev.GAIN * flat, 2 * ev.SLOPE * flat * np.repeat(x, 3)]
    directions += [ev.BOW * flat * np.repeat(4 * x**2 - 1 / 3, 3), np.full(3 * COLUMNS, ev.VEIL)]
    directions += [ev.FADE * (ev.PALE - flat)]
    shade = ev.SEAM * np.exp(-np.arange(0.5, COLUMNS) / ev.SEAM_WIDE)
    directions += [
        flat * np.repeat(np.where(x * side > 0, each, 0), 3) for each, side in ((shade, -1), (shade[::-1], 1))
    ]
    covariance = noise**2 * ev.FREEDOM * np.eye(3 * COLUMNS) + sum(np.outer(d, d) for d in directions)
    seen = random.normal(0, 0.05, (2, COLUMNS, 3)) + level
    dense = [multivariate_normal.logpdf(s.ravel(), flat, covariance) for s in seen]
    weight = np.ones_like(expected)
    found = [ev.structured_evidence(s, weight, expected, cover, noise, COLUMNS)[0][0] for s in seen]
    assert found[0] - found[1] == pytest.approx(dense[0] - dense[1], rel=2e-3, abs=0.05)


def test_a_grey_that_is_tinted_is_another_dye_and_a_faded_red_is_not():
    """What fades, or was dyed stronger, is the colour: greys have none to lose."""
    tint = np.array([-0.06, 0.0, 0.06])
    cost = []
    for level in ((0.6, 0.6, 0.6), (0.8, 0.4, 0.3)):
        expected = np.broadcast_to(np.float32(level), (1, COLUMNS, 3))
        cover, weight = np.ones((1, COLUMNS, 1), np.float32), np.ones((1, COLUMNS, 3), np.float32)
        told = [
            ev.structured_evidence(expected[0] + part * tint, weight, expected, cover, 0.02, COLUMNS)[0][0]
            for part in (0.0, 1.0)
        ]
        cost.append(told[0] - told[1])
    assert cost[0] > 3 * cost[1] > 0


def test_cells_that_say_nothing_do_not_count():
    """What an emblem hides or the camera clipped neither speaks for a ribbon nor against it."""
    expected = np.full((1, COLUMNS, 3), 0.5, np.float32)
    cover, weight = np.ones((1, COLUMNS, 1), np.float32), np.ones((1, COLUMNS, 3), np.float32)
    seen = np.full((COLUMNS, 3), 0.5)
    weight[:, 20:40] = 0.0
    clean, _ = ev.structured_evidence(seen, weight, expected, cover, 0.02, COLUMNS)
    seen[20:40] = 1.0
    spoilt, _ = ev.structured_evidence(seen, weight, expected, cover, 0.02, COLUMNS)
    assert spoilt[0] == pytest.approx(clean[0], abs=1e-3)


def test_one_far_cell_costs_no_more_than_an_outlier():
    """A glint is a glint however bright."""
    even = np.zeros((1, 4, COLUMNS // 2))
    glint, glare = even.copy(), even.copy()
    glint[0, 1, 7], glare[0, 1, 7] = 0.04, 4.0
    assert ev.scatter_cost(even, 0.02)[0] == 0.0
    assert ev.scatter_cost(glint, 0.02)[0] == pytest.approx(ev.scatter_cost(glare, 0.02)[0])


def _divisions(length: int, shortest: int):
    if length >= shortest:
        yield (length,)
    for first in range(shortest, length - shortest + 1):
        for rest in _divisions(length - first, shortest):
            yield (first, *rest)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000))
def test_free_evidence_finds_the_best_division_of_all(seed):
    """Optimal partitioning against every division there is, on a profile of a few wide plain runs."""
    random = np.random.default_rng(seed)
    runs = 8
    profile = np.repeat(random.uniform(0.2, 0.8, (runs, 3)), COLUMNS // runs, axis=0)
    noise, gap = 0.02, 1
    variance, best = noise**2 * ev.FREEDOM, -np.inf
    for parts in _divisions(runs, 1):
        edges = np.concatenate([[0], np.cumsum(parts)]) * (COLUMNS // runs)
        total = 0.0
        for a, b in pairwise(edges):
            inner = profile[a + (gap if a else 0) : b - (gap if b < COLUMNS else 0)]
            error = ((inner - inner.mean(0)) ** 2).sum()
            total -= 0.5 * error / variance + 3 * np.log(ANY_COLOUR / np.sqrt(variance / len(inner))) + np.log(COLUMNS)
        best = max(best, total)
    found = float(free_evidence(profile[None], noise, float(gap))[0])
    assert found >= best - 1e-6
    assert found == pytest.approx(best, abs=0.5 * COLUMNS / SHORTEST)
