"""Ribbons that come out wider toward one end of a bar: foreshortening that finding could not see.

A row's ends are edges a few pixels long, so how much nearer one end was is known to a tenth at best; an error there
widens one end's ribbons and narrows the other's, and puts those between out by millimetres. The ribbons tell: divided
evenly under the right taper, they look like the catalogue's.
"""

import numpy as np

from ribbonbar.reading.decode import UNKNOWN, UNLIT, Loom, Shone, quick_evidence, shine_on
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.observe import SAMPLES_PER_MM, RowView, outline, tapered
from ribbonbar.reading.segment import Division, divisions

SPREAD = 0.1
"""Standard deviation of a bar's taper: 0.02 to 0.12 (root of the mean square) on simulated and rendered pictures."""
TRIED = SPREAD * np.arange(-3.0, 3.1, 0.75)
"""Tapers tried, of the longest row; a shorter one tapers the less."""


def tapers(views: list[RowView], loom: Loom) -> list[float]:
    """Each row's taper: the bar's likeliest, and for shorter rows as much less."""
    lengths = np.array([row.end - row.start for row in views])
    shares = lengths / max(lengths.max(), 1e-6)
    shone = shine_on(loom, NEUTRAL, UNLIT)
    score = -0.5 * (TRIED / SPREAD) ** 2
    for row, share in zip(views, shares, strict=True):
        even = [d for d in divisions(row.start, row.end, SAMPLES_PER_MM, loom.classes) if len(set(d.classes)) == 1]
        score = score + [max(_score(row, d, share * taper, shone) for d in even) for taper in TRIED]
    return [float(share * TRIED[score.argmax()]) for share in shares]


def _score(row: RowView, division: Division, taper: float, shone: Shone) -> float:
    """How likely a division is whose edges stand as this taper puts them."""
    edges = tapered(division.edges, row.start, row.end, taper)
    evidence = quick_evidence(outline(row, edges[:-1], edges[1:]), shone.quick)
    best = np.maximum(evidence.max(1), UNKNOWN)
    return division.log_prior + float((best * np.diff(edges)).sum() / (SAMPLES_PER_MM * shone.loom.classes[0]))
