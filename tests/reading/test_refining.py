"""Given a row divided evenly, expect its edges where the cloth has them."""

import numpy as np
import pytest

from ribbonbar.reading.decode import DecodedRow, quick_evidence
from ribbonbar.reading.observe import outline
from ribbonbar.reading.refine import refine
from ribbonbar.reading.segment import Division
from tests.reading.strips import PER_MM, seen_on


@pytest.mark.parametrize("beyond_mm", [1.0, 3.0, 4.0])
def test_an_end_is_moved_as_far_as_the_ground_goes(shone, beyond_mm):
    """A row of narrower ribbons found as long as the others: its first was divided with the ground beside
    it, further than one step of refining goes."""
    row = seen_on(20.0, "valour-cross", "harbour-star", found=(-beyond_mm, 0.0))
    edges = np.array([row.start, row.start + (beyond_mm + 32.0) * PER_MM, row.end])
    evidence = quick_evidence(outline(row, edges[:-1], edges[1:]), shone.quick)
    division = Division(edges, (0, 0), 0.0)
    refined = refine(DecodedRow(division, evidence, (division,)), row, shone)
    assert refined.division.edges[0] == pytest.approx(row.start + beyond_mm * PER_MM, abs=0.6 * PER_MM)
    assert refined.division.edges[1:] == pytest.approx(edges[1:], abs=0.6 * PER_MM)
