"""What is true of a simulated picture, as plain values; one form for every truth file that the scorer reads."""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from ribbonbar.spec.model import Specification
from tests.simulator.bar import Bar, judge
from tests.simulator.cloth import Placed, corners_of
from tests.simulator.settings import Shot

WORST_FIRST = ("out-of-order", "unconfirmed", "in-order")


@dataclass(frozen=True)
class Turned:
    """How the picture was turned over once taken; ``to_picture`` maps a bar's (N, 2) mm to its pixels before that."""

    mirrored: bool
    upside_down: bool
    size: tuple[int, int]
    to_picture: Callable[[np.ndarray], np.ndarray]

    def quad(self, corners: np.ndarray) -> np.ndarray:
        """(4, 2) mm clockwise from top left to pixels, again clockwise from top left as the picture shows it."""
        at = self.to_picture(corners)
        if self.mirrored:
            at = np.column_stack([self.size[0] - 1 - at[:, 0], at[:, 1]])[[1, 0, 3, 2]]
        if self.upside_down:
            at = (np.array(self.size) - 1 - at)[[2, 3, 0, 1]]
        return at

    def reading_order(self, rows: list[list]) -> list[list]:
        """The rows as a viewer of the picture reads them."""
        if self.mirrored:
            rows = [row[::-1] for row in rows]
        if self.upside_down:
            rows = [row[::-1] for row in rows[::-1]]
        return rows


def truth_of(
    name: str,
    seed: int,
    shot: Shot,
    bars: tuple[Bar, ...],
    laid: list[list[list[Placed]]],
    specification: Specification,
    turned: Turned,
    px_per_mm: float,
) -> dict:
    """The truth file's values.

    Coordinates are of the upright picture, quads clockwise from top left as the picture shows it; ``ribbons`` stand in
    reading order as seen, so a mirrored or upside-down picture lists them as a viewer of it would. ``reversed`` is said
    of the mounting; ``outcome`` of the bars themselves, the worst of several; ``out_of_place`` of the first bar,
    positions again as seen.
    """
    described = [_bar(bar, rows, turned) for bar, rows in zip(bars, laid, strict=False)]
    judged = [judge(bar, specification) for bar in bars]
    seen_as = described[0][1] if described else {}
    camera = shot.camera
    return {
        "id": name,
        "seed": seed,
        "level": shot.level,
        "photo": f"{name}.jpg",
        "width": shot.size[0],
        "height": shot.size[1],
        "exif_orientation": camera.orientation,
        "order_of_wear": bars[0].order if bars else None,
        "bars": [bar for bar, _ in described],
        "mirrored": turned.mirrored,
        "upside_down": turned.upside_down,
        "any_reversed": any(m.reversed for bar in bars for m in bar.ribbons),
        "outcome": next((o for o in WORST_FIRST if o in {j.outcome for j in judged}), "no-bar"),
        "why": {why: any(getattr(j, why) for j in judged) for why in ("unsettled", "same", "unknown")},
        "out_of_place": [sorted(seen_as[p] for p in group) for group in judged[0].out_of_place] if judged else [[]],
        "old": shot.wear.fading > 0,
        "backing": shot.backing,
        "props": list(shot.props),
        "light": {
            "mode": shot.mode,
            "kelvin": [round(k) for k in shot.kelvin],
            "ambient": round(shot.light.ambient_share, 2),
            "elevation": round(shot.elevation),
            "shadow_edge": bool(shot.shadow),
            "glare": bool(shot.glare),
        },
        "view": {
            "tilt": round(shot.tilt, 1),
            "roll": round(shot.roll, 1),
            "focal": round(shot.focal, 1),
            "share": round(shot.share, 3),
            "px_per_mm": round(px_per_mm, 2),
        },
        "camera": {
            "k": round(camera.distortion, 4),
            "ev": round(camera.ev, 2),
            "wb_residual": [round(v, 3) for v in camera.residual],
            "adapted": round(camera.adapted, 2),
            "motion_px": round(camera.motion[0], 1),
            "blur_sigma": round(camera.blur, 2),
            "scurve": round(camera.curve, 2),
            "grain": round(camera.grain, 4),
        },
        "jpeg_quality": camera.quality,
    }


def _bar(bar: Bar, rows: list[list[Placed]], turned: Turned) -> tuple[dict, dict[str, str]]:
    """One bar's entry, and for every position of the bar its position as seen."""
    own = iter(bar.positions)
    named = [[(next(own), placed) for placed in row] for row in rows]
    seen_as, ribbons, row_quads, quads = {}, [], [], []
    seen = turned.reading_order(named)
    for r, row in enumerate(seen, 1):
        line = [turned.quad(placed.corners) for _, placed in row]
        quads += line
        row_quads.append(_rounded(np.array([line[0][0], line[-1][1], line[-1][2], line[0][3]])))
        for p, ((position, placed), quad) in enumerate(zip(row, line, strict=True), 1):
            seen_as[position] = f"{r}.{p}"
            mounted = placed.mounted
            ribbons.append(
                {
                    "position": f"{r}.{p}",
                    "corners": _rounded(quad),
                    "award": mounted.award,
                    "unknown": mounted.unknown,
                    "unknown_kind": mounted.unknown_kind,
                    "same_ribbon": mounted.same_ribbon[0] if mounted.same_ribbon else None,
                    "also": list(mounted.same_ribbon),
                    "reversed": mounted.reversed,
                    "symmetric": mounted.ribbon.symmetrical,
                    "emblems": list(mounted.emblems),
                    "dye_de00": placed.dye_de00,
                }
            )
    points = corners_of(rows)
    (left, top), (right, bottom) = points.min(0), points.max(0)
    outline = turned.quad(np.array([[left, top], [right, top], [right, bottom], [left, bottom]]))
    hull = cv2.convexHull(np.concatenate(quads).astype(np.float32)).reshape(-1, 2)
    entry = {
        "corners": _rounded(outline),
        "hull": _rounded(hull),
        "rows": row_quads,
        "row_lengths": [len(row) for row in seen],
        "ribbons": ribbons,
    }
    return entry, seen_as


def _rounded(points: np.ndarray) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in points]
