"""What the bar lies on: jacket cloth, felt, wood, card, patterned cloth, as tiles that repeat over the plane."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.simulator.colour import hex_linear
from tests.simulator.scene import Light, View, periodic_noise

JACKETS = {
    "black": "#1c1b1d", "navy": "#1d2136", "air-blue": "#46597a", "khaki": "#86744b", "green": "#35453a",
    "grey": "#5d6168", "tunic-red": "#a3202b", "white": "#e8e5dc", "lovat": "#5f6a58", "dark-brown": "#40332a",
}  # fmt: skip
TABLES = {
    "felt-green": "#1e6b43", "felt-wine": "#642133", "felt-blue": "#23386f", "card-grey": "#9fa4a8",
    "card-white": "#efede6", "card-black": "#222222", "oak": "#a87743", "walnut": "#5d3a22", "pine": "#cfa467",
    "linen": "#cdc3ae", "blanket": "#6d7f93",
}  # fmt: skip
PATTERNED = ("check", "rug-stripe")


@dataclass(frozen=True)
class Tile:
    """A square of backing that repeats: ``rgb`` (N, N, 3) linear, ``size_mm`` wide; ``folds`` (M, M) relative shading
    over ``folds_mm``."""

    name: str
    rgb: np.ndarray
    size_mm: float
    folds: np.ndarray
    folds_mm: float


def backing_tile(kind: str, density: float, light: Light, rng: np.random.Generator) -> Tile:
    """A tile drawn for about ``density`` px per mm in the picture, so that it neither aliases nor blurs."""
    size = 512
    mm = size / min(max(density, 1.5), 16.0)
    code = JACKETS.get(kind) or TABLES.get(kind) or "#8a8a8a"
    base = hex_linear(code) * np.exp(rng.normal(0, 0.08)) * np.exp(rng.normal(0, 0.03, 3)).astype(np.float32)
    fine = size / mm  # px per mm
    if kind in JACKETS or kind in ("linen", "blanket"):
        rgb = base * _cloth(size, fine, kind, rng)[..., None]
    elif kind.startswith("felt"):
        fuzz = 0.6 * periodic_noise(rng, size, 0.12 * fine, 0.12 * fine) + 0.4 * periodic_noise(rng, size, fine, fine)
        rgb = base * (1 + 0.13 * fuzz)[..., None]
    elif kind.startswith("card"):
        rgb = base * (1 + 0.02 * periodic_noise(rng, size, 0.08 * fine, 0.08 * fine))[..., None]
    elif kind in PATTERNED:
        rgb = _patterned(size, fine, kind, rng)
    else:
        rgb = _wood(size, fine, base, rng)
    soft = kind in JACKETS or kind in ("linen", "blanket", *PATTERNED)
    folds_mm = float(rng.uniform(300, 700))
    folds = _folds(light, rng, float(rng.uniform(0.0, 1.0)) if soft else 0.0, folds_mm)
    return Tile(kind, np.clip(rgb, 0.002, 0.95).astype(np.float32), mm, folds, folds_mm)


def _cloth(size: int, fine: float, kind: str, rng: np.random.Generator) -> np.ndarray:
    """Relative reflectance of twill or plain-woven cloth."""
    pitch = float(rng.uniform(0.45, 1.3))
    turns = max(round(size / (pitch * fine)), 1)
    y, x = np.mgrid[:size, :size].astype(np.float32) / size
    if kind == "linen" or rng.random() < 0.25:
        ribs = 0.5 * (np.cos(2 * np.pi * turns * x) + np.cos(2 * np.pi * turns * y))
    else:
        rise = int(rng.choice([1, 2])) * turns
        ribs = np.cos(2 * np.pi * (turns * x + rise * y) + 0.4 * periodic_noise(rng, size, 2, 2))
    resolved = np.clip((size / turns - 2) / 2, 0, 1)
    mottle = 0.05 * periodic_noise(rng, size, 0.1 * fine + 0.3, 0.1 * fine + 0.3)
    slow = 0.02 * periodic_noise(rng, size, 4 * fine, 4 * fine)
    return 1 + float(rng.uniform(0.03, 0.14)) * resolved * ribs + mottle + slow


def _wood(size: int, fine: float, base: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    grain = periodic_noise(rng, size, 30 * fine, 0.35 * fine)
    rings = periodic_noise(rng, size, 60 * fine, 2.5 * fine)
    pores = np.clip(periodic_noise(rng, size, 3 * fine, 0.12 * fine + 0.25) - 1.4, 0, 2)
    tone = 0.16 * grain + 0.22 * np.sin(3 * rings) - 0.25 * pores
    rgb = base * np.exp(tone[..., None] * np.float32([0.9, 1.1, 1.3]))
    if rng.random() < 0.4:  # a joint between two boards
        at = int(rng.integers(size))
        rgb[max(at - 1, 0) : at + max(int(0.35 * fine), 1)] *= 0.25
    turn = int(rng.integers(0, 4))
    return np.ascontiguousarray(np.rot90(rgb, turn))


def _patterned(size: int, fine: float, kind: str, rng: np.random.Generator) -> np.ndarray:
    """Cloth with stripes or checks of its own, the worst thing to lay a bar on."""
    repeats = max(round(size / (float(rng.uniform(12, 30)) * fine)), 1)
    period = size / repeats
    edges = np.sort(rng.uniform(0, 1, int(rng.integers(2, 5))))
    tones = np.exp(rng.normal(np.log(0.18), 0.7, (len(edges) + 1, 1))) * np.exp(rng.normal(0, 0.3, (len(edges) + 1, 3)))
    at = np.searchsorted(edges, (np.arange(size) % period) / period)
    line = np.clip(tones[at], 0.01, 0.85).astype(np.float32)
    rgb = np.broadcast_to(line[None], (size, size, 3))
    if kind == "check":
        rgb = np.sqrt(rgb * line[:, None])
    return rgb * (1 + 0.08 * periodic_noise(rng, size, 0.1 * fine + 0.3, 0.1 * fine + 0.3))[..., None]


def _folds(light: Light, rng: np.random.Generator, amount: float, size_mm: float) -> np.ndarray:
    """(128, 128) relative shading of soft folds."""
    height = periodic_noise(rng, 128, float(rng.uniform(5, 20)), float(rng.uniform(5, 20)))
    per_mm = 128 / size_mm
    gy = (np.roll(height, -1, 0) - np.roll(height, 1, 0)) / 2 * per_mm
    gx = (np.roll(height, -1, 1) - np.roll(height, 1, 1)) / 2 * per_mm
    steep = amount * 0.12 / max(float(np.hypot(gx, gy).std()), 1e-6)
    return light.relative(-gx * steep, -gy * steep).astype(np.float32)


def lay_backing(tile: Tile, view: View, turn: float, offset: tuple[float, float]) -> np.ndarray:
    """The backing over the whole window: (H, W, 3) linear relative radiance. ``turn`` in degrees."""
    x, y = view.grid()
    folds = _sample(tile.folds, x, y, tile.folds_mm)
    cos, sin = np.float32(np.cos(np.radians(turn))), np.float32(np.sin(np.radians(turn)))
    u = x * cos + y * sin + np.float32(offset[0])
    v = y * cos - x * sin + np.float32(offset[1])
    return _sample(tile.rgb, u, v, tile.size_mm) * folds[..., None]


def _sample(tile: np.ndarray, x: np.ndarray, y: np.ndarray, size_mm: float) -> np.ndarray:
    """Look up a repeating tile by mm."""
    size = tile.shape[0]
    padded = cv2.copyMakeBorder(tile, 0, 1, 0, 1, cv2.BORDER_WRAP)
    k = np.float32(size / size_mm)
    return cv2.remap(padded, np.mod(x * k, size), np.mod(y * k, size), cv2.INTER_LINEAR)
