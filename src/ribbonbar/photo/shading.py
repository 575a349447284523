"""Shadows and glows that fall across a bar, judged from the ground beside it.

A shadow's edge crosses ribbons and ground alike, but only on the ground is it plain to see: there the cloth is one
colour. Light is taken to change in one direction only, as it does over a straight shadow's edge or away from a lamp;
the direction is the one under which the ground's lightness is best told by how far along it a place lies.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from ribbonbar.photo.model import Strip
from ribbonbar.photo.rectifying import LIGHTNESS_WEIGHT
from ribbonbar.photo.silhouette import Silhouette

DIRECTIONS = np.radians(np.arange(0, 180, 10))
BINS, LEAST_IN_BIN = 48, 5
LEAST_PLACES = 400
LEAST_CHANGE = 0.18
"""Logarithm of light by which the ground must differ along the bar for anything to be done."""
EXPLAINED = 0.6
"""Share of the ground's mean departure that the light must explain."""
DARKEST = 0.2
"""Light, of the brightest, below which a shadow is brightened no further: there is little left to see."""


@dataclass(frozen=True)
class Shading:
    """Light at every place of a view, (H, W) in linear light, 1 where the bar is brightest; 3x3 ``from_photo``."""

    light: np.ndarray
    from_photo: np.ndarray

    def taken_out(self, strip: Strip) -> Strip:
        """The strip as if the brightest light fell on all of it."""
        height, width = strip.pixels.shape[:2]
        there = cv2.warpPerspective(
            self.light,
            self.from_photo @ strip.to_photo,
            (width, height),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return replace(strip, pixels=np.clip(strip.pixels / there[..., None], 0.0, 1.0))


def shading_on(outline: Silhouette) -> Shading | None:
    """The shading on a bar; None where the ground shows no change worth speaking of, or too little of itself."""
    y, x = np.nonzero(outline.like_ground)
    if len(x) < LEAST_PLACES:
        return None
    shape = outline.mask.shape
    lightness = cv2.blur(outline.seen.features[..., 0], (3, 3))  # 55 LIGHTNESS_WEIGHT log(L* + 24), see to_features
    log_light = 3.0 * np.log((np.exp(lightness / (55 * LIGHTNESS_WEIGHT)) - 8.0) / 116.0)
    seen = log_light[y, x]
    curves = [_curve(_bins(x, y, direction, shape), seen) for direction in DIRECTIONS]
    best = int(np.argmin([left for _, left in curves]))
    curve, left = curves[best]
    if not left <= (1 - EXPLAINED) * np.mean(np.abs(seen - np.median(seen))):
        return None
    down, along = np.mgrid[0 : shape[0], 0 : shape[1]]
    log = np.interp(_bins(along, down, DIRECTIONS[best], shape), np.arange(BINS) + 0.5, curve)
    on_bar = [
        log[max(int(top), 0) : int(bottom) + 1, max(int(left), 0) : int(right) + 1].ravel()
        for left, top, right, bottom in outline.boxes
    ]
    low, high = np.quantile(np.concatenate(on_bar), [0.03, 0.97])
    if high - low < LEAST_CHANGE:
        return None
    return Shading(np.clip(np.exp(log - high), DARKEST, 1.0).astype(np.float32), outline.seen.from_photo)


def _bins(x: np.ndarray, y: np.ndarray, direction: float, shape: tuple[int, int]) -> np.ndarray:
    """How far along a direction (radians) places lie, as numbers of bins between 0 and BINS."""
    height, width = shape
    along = np.cos(direction) * (x - width / 2) + np.sin(direction) * (y - height / 2)
    reach = (abs(np.cos(direction)) * width + abs(np.sin(direction)) * height) / 2
    return (along / reach + 1) / 2 * (BINS - 1e-3)


def _curve(bins: np.ndarray, seen: np.ndarray) -> tuple[np.ndarray, float]:
    """Median (BINS,) of what was ``seen`` in each bin, gaps filled, and the mean departure from it; infinite where most
    bins are empty."""
    bins = bins.astype(int)
    counts = np.bincount(bins, minlength=BINS)
    parts = np.split(seen[np.argsort(bins, kind="stable")], np.cumsum(counts)[:-1])
    known = np.flatnonzero(counts >= LEAST_IN_BIN)
    if len(known) < BINS // 3:
        return np.zeros(BINS), np.inf
    curve = np.interp(np.arange(BINS), known, [np.median(parts[number]) for number in known])
    return curve, float(np.mean(np.abs(seen - curve[bins])))
