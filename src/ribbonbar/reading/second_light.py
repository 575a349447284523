"""A bar's light found again where it leaves a ribbon unrecognised: plain ribbons and strangers may have misled it.

A plain ribbon goes with any light that turns one of the catalogue's plain ribbons into it; a ribbon of many stripes
that is known goes with one light only.
"""

from dataclasses import replace

import numpy as np

from ribbonbar.reading.decode import (
    DecodedRow,
    Given,
    Loom,
    Shone,
    explained,
    holding_to,
    relit,
    seen_under,
    settled,
    unlit,
)
from ribbonbar.reading.observe import RowView
from ribbonbar.reading.refine import refine

UNRECOGNISED = -80.0
"""Quick log evidence below which the light may be what is wrong."""
UNHEARD = 500.0
"""Taken from the log evidence of those that the first light was found by: they keep the least say."""
ALONE, TOGETHER = 2, 2
"""Rounds of light and ribbons in which only they have a say, and in which all have."""
BETTER = 10.0
"""Log evidence by which the bar must be likelier under the other light."""


def second_light(
    rows: list[DecodedRow], views: list[RowView], shone: Shone, given: Given
) -> tuple[Shone, list[DecodedRow]]:
    """The templates under the light that the ribbons not recognised would have, and the rows under it, if the whole
    bar is likelier so; else what was given."""
    poor = [row.evidence.max(1) < UNRECOGNISED for row in rows]
    if not any(each.any() for each in poor):
        return shone, rows
    light, again = unlit(shone.loom), rows
    for _ in range(ALONE):
        again = [seen_under(light, row, view) for row, view in zip(again, views, strict=True)]
        alone = [
            replace(row, evidence=row.evidence - UNHEARD * ~unknown[:, None])
            for row, unknown in zip(again, poor, strict=True)
        ]
        light = relit(alone, views, light)
    again = [seen_under(light, row, view) for row, view in zip(again, views, strict=True)]
    light, again = settled(again, views, light, given, TOGETHER)
    again = [refine(row, view, light) for row, view in zip(holding_to(given, again, light.loom), views, strict=True)]
    again = holding_to(given, again, light.loom)
    return (light, again) if _worth(again, shone.loom) > _worth(rows, shone.loom) + BETTER else (shone, rows)


def _worth(rows: list[DecodedRow], loom: Loom) -> float:
    return sum(float(explained(row.evidence, np.diff(row.division.edges), loom).sum()) for row in rows)
