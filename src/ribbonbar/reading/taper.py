"""Ribbons that come out wider toward one end of a bar: foreshortening that finding could not see.

A row's ends are edges a few pixels long, so how much nearer one end was is known to a tenth at best; an error there
widens one end's ribbons and narrows the other's, and puts those between out by millimetres. The ribbons tell: divided
evenly under the right taper, they look like the catalogue's.
"""

import numpy as np

from ribbonbar.reading.decode import (
    DecodedRow,
    Given,
    Loom,
    Shone,
    decode,
    divided,
    explained,
    quick_evidence,
    settled,
    unlit,
)
from ribbonbar.reading.observe import SAMPLES_PER_MM, RowView, outline, tapered, untapered
from ribbonbar.reading.segment import Spans, divisions

SPREAD = 0.1
"""Standard deviation of a bar's taper: 0.02 to 0.12 (root of the mean square) on simulated and rendered pictures."""
TRIED = SPREAD * 0.75 * np.arange(-4, 5)
"""Tapers tried, of the longest row; a shorter one tapers the less."""
DOUBTFUL, MOST = 40.0, 3
"""How much less likely another peak among them may be and still be tried under the bar's own light, the first having
been judged under the usual one; and how many are tried at most."""
MORE_TURNS = 2
"""Rounds of light and ribbons where another than the first wins: the light is nearly known."""


def decode_evened(views: list[RowView], loom: Loom, given: Given) -> tuple[list[RowView], Shone, list[DecodedRow]]:
    """The rows with the bar's taper taken out, the templates under its light, and the rows divided into ribbons."""
    shares = np.array([row.end - row.start for row in views])
    shares = shares / max(shares.max(), 1e-6)
    usual = unlit(loom)

    def even(taper: float) -> list[RowView]:
        return [untapered(row, float(taper * share)) for row, share in zip(views, shares, strict=True)]

    def score(taper: float, rows: list[DecodedRow]) -> float:
        worth = [
            explained(row.evidence, np.diff(row.division.edges), loom).sum() + row.division.log_prior for row in rows
        ]
        return sum(worth) - 0.5 * (taper / SPREAD) ** 2

    first, *others = _likely(views, shares, usual)
    views = even(first)
    shone, rows = decode(views, usual, given)
    tried = [(score(first, rows), first, rows)]
    tried += [(score(taper, again := divided(even(taper), shone)), taper, again) for taper in others]
    _, taper, rows = max(tried, key=lambda one: one[0])
    if taper != first:
        views = even(taper)
        shone, rows = settled(rows, views, shone, given, MORE_TURNS)
    return views, shone, rows


def _likely(views: list[RowView], shares: np.ndarray, shone: Shone) -> np.ndarray:
    """The likeliest tapers of the longest row, best first, seen under the usual light. Ribbons of one width throughout
    tell; where some are wider than others, that alone may be what is seen."""
    scores = -0.5 * (TRIED / SPREAD) ** 2
    for row, share in zip(views, shares, strict=True):
        every = divisions(row.start, row.end, SAMPLES_PER_MM, shone.loom.classes)
        even = [division for division in every if len(set(division.classes)) == 1]
        placed = [(number, division) for number, taper in enumerate(TRIED) for division in (even if taper else every)]
        laps = np.cumsum([len(division.edges) for _, division in placed])
        tapers = np.repeat([share * TRIED[number] for number, _ in placed], np.diff(laps, prepend=0))
        edges = tapered(np.concatenate([division.edges for _, division in placed]), row.start, row.end, tapers)
        spans = Spans.of(np.split(edges, laps[:-1]))
        evidence = quick_evidence(outline(row, spans.starts, spans.ends), shone.quick)
        worth = explained(evidence, spans.ends - spans.starts, shone.loom)
        best = np.full(len(TRIED), -np.inf)
        likely = [division.log_prior for _, division in placed] + spans.totals(worth[spans.ribbon])
        np.maximum.at(best, [number for number, _ in placed], likely)
        scores = scores + best
    beside = np.pad(scores, 1, constant_values=-np.inf)
    peaks = np.flatnonzero((scores >= beside[:-2]) & (scores > beside[2:]) & (scores > scores.max() - DOUBTFUL))
    return TRIED[peaks[np.argsort(-scores[peaks], kind="stable")][:MOST]]
