"""Moving the edges between ribbons to where the picture has them: mounted by hand, they are a millimetre off."""

from dataclasses import replace

import numpy as np

from ribbonbar.reading.decode import DecodedRow, Shone, likeliest, quick_evidence
from ribbonbar.reading.observe import SAMPLES_PER_MM, RowView, outline

REACH_MM = 1.5
"""How far an edge is looked for from where even division puts it."""
STEPS = 4
"""Places tried on each side."""
FURTHER = 2
"""How many times more an edge may go as far."""
EDGE_SPREAD_MM = 0.7
"""Standard deviation of an edge's place (mounting, and the corners found on the picture)."""
TRIED = 6
"""Likeliest templates of each ribbon that vote on its edges."""
UNRECOGNISED, FAINTLY = -80.0, 0.05
"""Quick log evidence below which a ribbon is hardly heard, and by how much: what nobody knows must not push its
neighbours' edges about, but many narrow stripes are all out of place when their edges are."""


def refine(row: DecodedRow, view: RowView, shone: Shone) -> DecodedRow:
    """The same division with every edge at its most probable place, by dynamic programming over the edges; again from
    there, where one went as far as it could: a row of narrower ribbons may have been found as long as the others."""
    for _ in range(1 + FURTHER):
        row, reached = _moved(row, view, shone)
        if not reached:
            break
    return row


def _moved(row: DecodedRow, view: RowView, shone: Shone) -> tuple[DecodedRow, bool]:
    """The division with its edges moved by REACH_MM at most, and whether one went so far."""
    columns = view.cells.shape[1]
    offsets = np.linspace(-REACH_MM, REACH_MM, 2 * STEPS + 1) * SAMPLES_PER_MM
    places = np.clip(row.division.edges[:, None] + offsets, 0, columns)
    cost = 0.5 * (offsets / (EDGE_SPREAD_MM * SAMPLES_PER_MM)) ** 2
    count, tries = len(row.division.classes), len(offsets)
    score = -cost
    back = np.zeros((count, tries), int)
    for number, chosen in enumerate(np.sort(likeliest(row.evidence, TRIED), axis=1)):
        left, right = np.repeat(places[number], tries), np.tile(places[number + 1], tries)
        evidence = quick_evidence(outline(view, left, right), shone.quick.pick(chosen)).max(1).reshape(tries, tries)
        heard = np.where(evidence < UNRECOGNISED, UNRECOGNISED + FAINTLY * (evidence - UNRECOGNISED), evidence)
        reached = score[:, None] + heard - cost[None]
        back[number] = reached.argmax(0)
        score = reached.max(0)
    path = [int(score.argmax())]
    for number in range(count - 1, -1, -1):
        path.append(int(back[number, path[-1]]))
    edges = places[np.arange(count + 1), path[::-1]]
    evidence = quick_evidence(outline(view, edges[:-1], edges[1:]), shone.quick)
    moved = replace(row, division=replace(row.division, edges=edges), evidence=evidence)
    return moved, bool(np.isin(path, (0, tries - 1)).any())
