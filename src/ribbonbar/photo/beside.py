"""A row that finding missed right above or below a bar's rows: a short one, or one set a little apart."""

from dataclasses import replace

import numpy as np

from ribbonbar.photo.edges import refine
from ribbonbar.photo.finding import bar_outline, may_be_row
from ribbonbar.photo.model import FoundBar, Row
from ribbonbar.photo.rectifying import project, squared_by, view
from ribbonbar.photo.rows import Bands, RowFit, fit_rows
from ribbonbar.photo.scales import Scales

ROW_PIXELS, WIDEST = 20.0, 900
AWAY, OVER, AROUND = 1.8, 0.25, 1.0
"""Row heights of a view of what is above a bar: from where to how far over the bar it goes, and beside it."""
ALIKE, GAP = 0.3, 0.5
"""Logarithm by which the row's height may differ from the others', and row heights that may lie between."""


def with_row_beside(scales: Scales, bar: FoundBar) -> list[FoundBar]:
    """The bar with one row more that is seen right above it or below, for each that there is."""
    rows = [np.asarray(row.corners, float) for row in bar.rows]
    square, _ = squared_by(max(rows, key=lambda row: np.linalg.norm(row[1] - row[0])))
    flat = np.array([project(square, row) for row in rows])
    (left, top), (right, bottom) = flat.min(axis=(0, 1)), flat.max(axis=(0, 1))
    height = float(np.median(flat[:, 2:, 1].mean(axis=1) - flat[:, :2, 1].mean(axis=1)))
    found = []
    for above in True, False:
        edges = (
            (top - AWAY * height, top + OVER * height) if above else (bottom - OVER * height, bottom + AWAY * height)
        )
        frame = np.array([left - AROUND * height, edges[0], right + AROUND * height, edges[1]])
        seen = view(scales, square, frame, int(np.clip((frame[2] - frame[0]) / height * ROW_PIXELS, 60, WIDEST)))
        if seen is None:
            continue
        scale = seen.features.shape[1] / (frame[2] - frame[0])
        tall, bar_edge = height * scale, ((top if above else bottom) - frame[1]) * scale
        fits, _ = fit_rows(Bands.of(seen.features))
        fit = min(fits, key=lambda one: _apart(one, bar_edge, above), default=None)
        if fit is None or _apart(fit, bar_edge, above) > GAP * tall:
            continue
        fit = replace(fit, bottom=min(fit.bottom, bar_edge)) if above else replace(fit, top=max(fit.top, bar_edge))
        if not np.exp(-ALIKE) < fit.height / tall < np.exp(ALIKE):
            continue
        row = refine(scales, seen.from_photo, [fit])[0]
        if may_be_row(scales, row):
            more = (Row(row), *bar.rows) if above else (*bar.rows, Row(row))
            found.append(replace(bar, rows=more, corners=bar_outline(tuple(one.corners for one in more))))
    return found


def _apart(fit: RowFit, bar_edge: float, above: bool) -> float:
    """Pixels of the view between a row and the bar."""
    return max(bar_edge - fit.bottom if above else fit.top - bar_edge, 0.0)
