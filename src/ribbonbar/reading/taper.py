"""Ribbons that come out wider toward one end of a bar: foreshortening that finding could not see.

A row's ends are edges a few pixels long, so how much nearer one end was is known to a tenth at best; an error there
widens one end's ribbons and narrows the other's, and puts those between out by millimetres. The ribbons tell: divided
evenly under the right taper, they look like the catalogue's.
"""

import numpy as np

from ribbonbar.reading.decode import UNKNOWN, UNLIT, DecodedRow, Given, Loom, Shone, decode, quick_evidence, shine_on
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.observe import SAMPLES_PER_MM, RowView, evened, outline, tapered
from ribbonbar.reading.segment import Division, divisions

SPREAD = 0.1
"""Standard deviation of a bar's taper: 0.02 to 0.12 (root of the mean square) on simulated and rendered pictures."""
TRIED = SPREAD * 0.75 * np.arange(-4, 5)
"""Tapers tried, of the longest row; a shorter one tapers the less."""
DOUBTFUL, MOST = 40.0, 3
"""How much less likely another peak among them may be and still be decoded too, the first having been judged under the
usual light; and how many are decoded at most."""


def decode_evened(views: list[RowView], loom: Loom, given: Given) -> tuple[list[RowView], Shone, list[DecodedRow]]:
    """The rows with the bar's taper taken out, the templates under its light, and the rows divided into ribbons."""
    shares = np.array([row.end - row.start for row in views])
    shares = shares / max(shares.max(), 1e-6)
    tried = []
    for taper in _likely(views, shares, loom):
        even = [evened(row, float(taper * share)) for row, share in zip(views, shares, strict=True)]
        shone, rows = decode(even, loom, given)
        scores = [_score(row.evidence, row.division, row.division.edges, loom) for row in rows]
        tried.append((sum(scores) - 0.5 * (taper / SPREAD) ** 2, even, shone, rows))
    return max(tried, key=lambda one: one[0])[1:]


def _likely(views: list[RowView], shares: np.ndarray, loom: Loom) -> np.ndarray:
    """The likeliest tapers of the longest row, best first, seen under the usual light. Ribbons of one width throughout
    tell; where some are wider than others, that alone may be what is seen."""
    shone = shine_on(loom, NEUTRAL, UNLIT)
    scores = -0.5 * (TRIED / SPREAD) ** 2
    for row, share in zip(views, shares, strict=True):
        every = divisions(row.start, row.end, SAMPLES_PER_MM, loom.classes)
        even = [division for division in every if len(set(division.classes)) == 1]
        placed = [
            (number, division, tapered(division.edges, row.start, row.end, share * taper))
            for number, taper in enumerate(TRIED)
            for division in (even if taper else every)
        ]
        scores = scores + _best_scores(row, placed, shone)
    beside = np.pad(scores, 1, constant_values=-np.inf)
    peaks = np.flatnonzero((scores >= beside[:-2]) & (scores > beside[2:]) & (scores > scores.max() - DOUBTFUL))
    return TRIED[peaks[np.argsort(-scores[peaks], kind="stable")][:MOST]]


def _best_scores(row: RowView, placed: list[tuple[int, Division, np.ndarray]], shone: Shone) -> np.ndarray:
    """For every taper tried the score of its best division; ``placed`` are tapers by number, with a division and where
    its edges then stand. Ribbons that several share, to half a column, are looked at once."""
    spans: dict[tuple[float, float], int] = {}
    members = []
    for _, _, edges in placed:
        pairs = np.round(np.stack([edges[:-1], edges[1:]], axis=1) * 2) / 2
        members.append([spans.setdefault((start, end), len(spans)) for start, end in pairs.tolist()])
    ends = np.array(list(spans))
    evidence = quick_evidence(outline(row, ends[:, 0], ends[:, 1]), shone.quick).max(1, keepdims=True)
    best = np.full(len(TRIED), -np.inf)
    for (number, division, edges), own in zip(placed, members, strict=True):
        best[number] = max(best[number], _score(evidence[own], division, edges, shone.loom))
    return best


def _score(evidence: np.ndarray, division: Division, edges: np.ndarray, loom: Loom) -> float:
    """How likely a division is whose edges stand there, from its ribbons' quick ``evidence`` (n, T)."""
    best = np.maximum(evidence.max(1), UNKNOWN)
    return division.log_prior + float((best * np.diff(edges)).sum() / (SAMPLES_PER_MM * loom.classes[0]))
