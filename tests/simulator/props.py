"""Things that lie beside the bar: name plates, pocket flaps, lapels, rulers, coins, papers, fingers, pens."""

from collections.abc import Callable

import cv2
import numpy as np

from tests.simulator.colour import hex_linear
from tests.simulator.emblems import METALS, button_patch, glyphs, metal_shading
from tests.simulator.scene import Light, Patch

WORDS = ("STORES", "GATE TWO", "RANGE OFFICE", "MESS", "SIGNALS", "WATCH", "CLERK", "HARBOUR", "PILOT", "GUARD ROOM")

Box = tuple[float, float, float, float]
"""The bar's box: left, top, right, bottom, mm."""


def _canvas(width: float, height: float, density: float) -> tuple[int, int]:
    return max(round(width * density), 2), max(round(height * density), 2)


def _polygon(shape: tuple[int, int], points: np.ndarray, density: float) -> np.ndarray:
    mask = np.zeros(shape, np.float32)
    cv2.fillPoly(mask, [np.round(np.asarray(points) * density * 16).astype(np.int32)], 1.0, cv2.LINE_AA, 4)
    return mask


def name_plate(box: Box, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    wide, high = float(rng.uniform(55, 82)), float(rng.uniform(11, 18))
    w, h = _canvas(wide, high, density)
    ground, ink = [("#16171a", "#f2f2f2"), ("#f1efe8", "#1d1d1f"), ("#c9a13a", "#1d1a12"), ("#b9bcc0", "#202020"),
                   ("#2b3a67", "#f3f1e4"), ("#7b1d22", "#f3e9c4")][int(rng.integers(6))]  # fmt: skip
    rgb = np.empty((h, w, 3), np.float32)
    rgb[:] = hex_linear(ground)
    words = str(rng.choice(WORDS))
    letters = glyphs(words, int(h * 0.45))
    if letters.shape[1] > 0.9 * w:
        letters = glyphs(words, int(h * 0.45 * 0.9 * w / letters.shape[1]))
    lh, lw = min(letters.shape[0], h - 2), min(letters.shape[1], w - 2)
    y, x = (h - lh) // 2, (w - lw) // 2
    a = letters[:lh, :lw, None]
    rgb[y : y + lh, x : x + lw] = rgb[y : y + lh, x : x + lw] * (1 - a) + hex_linear(ink) * a
    gleam = np.exp(-(((np.linspace(-1, 1, w) - float(rng.uniform(-1, 1))) / 0.35) ** 2)) * float(rng.uniform(0, 0.12))
    rgb += gleam[None, :, None].astype(np.float32)
    rim = np.minimum.outer(np.minimum(np.arange(h), np.arange(h)[::-1]), np.minimum(np.arange(w), np.arange(w)[::-1]))
    rgb *= (0.75 + 0.25 * np.clip(rim / (0.5 * density), 0, 1))[..., None].astype(np.float32)
    left = (box[0] + box[2]) / 2 - wide / 2 + float(rng.normal(0, 8))
    top = box[1] - high - float(rng.uniform(6, 22))
    return [Patch(rgb, np.ones((h, w), np.float32), density, left, top, z=1.8)]


def pocket(box: Box, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    """A pocket flap under the bar: seam, stitches, lower edge standing off the cloth, and its button."""
    wide, high = float(rng.uniform(105, 140)), float(rng.uniform(42, 62))
    point = float(rng.choice([0, 8, 14]))
    pad = 6.0
    w, h = _canvas(wide + 2 * pad, high + point + 2 * pad, density)
    outline = np.array([[0, 0], [wide, 0], [wide, high], [wide / 2, high + point], [0, high]]) + pad
    mask = _polygon((h, w), outline, density)
    edge = cv2.GaussianBlur(mask, (0, 0), 0.5 * density)
    thrown = cv2.GaussianBlur(np.roll(mask, (round(1.2 * density), round(-0.5 * density)), (0, 1)), (0, 0), density)
    relief = 1 - 0.5 * np.clip(thrown - mask, 0, 1) - 0.35 * (4 * edge * (1 - edge)) ** 2 * 0.8
    inner = (outline - outline.mean(0)) * np.array([(wide - 6) / wide, (high - 6) / high]) + outline.mean(0)
    stitches = np.zeros((h, w), np.float32)
    for a, b in zip(inner, np.roll(inner, -1, 0), strict=True):
        length = float(np.linalg.norm(b - a))
        for at in np.arange(0, length - 1.6, 2.6):
            p, q = a + (b - a) * at / length, a + (b - a) * (at + 1.6) / length
            cv2.line(stitches, *(tuple(np.round(v * density * 16).astype(int).tolist()) for v in (p, q)), 1.0,
                     max(round(0.3 * density), 1), cv2.LINE_AA, 4)  # fmt: skip
    relief = relief * (1 - 0.3 * stitches)
    left = (box[0] + box[2]) / 2 - wide / 2 - pad + float(rng.normal(0, 6))
    top = box[3] + float(rng.uniform(2, 20)) - pad
    flap = Patch(np.repeat(relief[..., None], 3, 2).astype(np.float32), np.ones((h, w), np.float32), density, left, top,
                 multiply=True)  # fmt: skip
    metal = str(rng.choice(["gold", "gold", "silver", "black", "bronze"]))
    middle = (left + pad + wide / 2, top + pad + high * 0.68)
    return [flap, button_patch(middle, float(rng.uniform(14, 20)), metal, light, density, rng)]


def lapel(box: Box, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    """A lapel's edge slanting down at one side: a fold with light on it and shade under it."""
    density = min(density, 4.0)
    high = 260.0
    wide = 130.0
    w, h = _canvas(wide, high, density)
    lean = float(rng.uniform(0.1, 0.45))
    y, x = np.mgrid[:h, :w].astype(np.float32) / density
    at = x - (wide - 18) + y * lean + 2.5 * np.sin(y / 60)
    fold = 1 - 0.55 * np.exp(-np.clip(at, 0, None) / 4.0) * (at > 0) - 0.35 * (np.abs(at) < 0.35)
    fold += 0.12 * np.exp(-np.clip(-at, 0, None) / 3.0) * (at <= 0)
    left = box[0] - wide + 18 + float(rng.uniform(-30, -12)) + 0.0
    top = box[1] - high * 0.55
    patch = Patch(np.repeat(fold[..., None], 3, 2).astype(np.float32), np.ones((h, w), np.float32), density, left, top,
                  multiply=True)  # fmt: skip
    return [patch]


def ruler(box: Box, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    wide, high = float(rng.uniform(100, 210)), float(rng.uniform(18, 30))
    w, h = _canvas(wide, high, density)
    rgb = np.empty((h, w, 3), np.float32)
    rgb[:] = hex_linear(str(rng.choice(["#d9b967", "#c7c9cb", "#e9e7df", "#f0d23c"])))
    rgb *= np.exp(0.04 * rng.standard_normal((h, 1, 1)) + 0.02 * rng.standard_normal((1, w, 1))).astype(np.float32)
    for mm in range(3, int(wide) - 3):
        tick = high * (0.42 if mm % 10 == 3 else 0.32 if mm % 5 == 3 else 0.2)
        x = round(mm * density)
        rgb[: round(tick * density), x : x + max(round(0.25 * density), 1)] *= 0.12
        if mm % 10 == 3 and mm > 3:
            digits = glyphs(str(mm // 10), max(int(3.2 * density), 5))
            dh, dw = digits.shape
            y0, x0 = round(high * 0.5 * density), x - dw // 2
            part = rgb[y0 : y0 + dh, x0 : x0 + dw]
            part *= 1 - 0.88 * digits[: part.shape[0], : part.shape[1], None]
    above = rng.random() < 0.5
    top = box[1] - high - float(rng.uniform(5, 25)) if above else box[3] + float(rng.uniform(5, 25))
    left = box[0] + float(rng.uniform(-40, 25))
    return [Patch(rgb, np.ones((h, w), np.float32), density, left, top, z=1.0)]


def coins(box: Box, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    found = []
    for _ in range(int(rng.integers(1, 4))):
        diameter = float(rng.uniform(16, 26))
        x = float(rng.uniform(box[0] - 20, box[2] + 20))
        below = rng.random() < 0.6
        y = box[3] + diameter + float(rng.uniform(2, 25)) if below else box[1] - diameter - float(rng.uniform(2, 20))
        metal = str(rng.choice(["silver", "bronze", "gold"]))
        found.append(button_patch((x, y), diameter, metal, light, density, rng))
    return found


def paper(box: Box, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    """A sheet with lines of print, partly in view."""
    wide, high = 120.0, 150.0
    w, h = _canvas(wide, high, density)
    rgb = np.full((h, w, 3), 0.78, np.float32) * np.float32([1, 0.985, 0.94])
    line = 5.0
    while line < high - 6:
        words = " ".join("".join(chr(97 + c) for c in rng.integers(0, 26, n)) for n in rng.integers(2, 9, 11))
        ink = glyphs(words, max(int(1.9 * density), 4))
        y, x = round(line * density), round(6 * density)
        part = rgb[y : y + ink.shape[0], x : min(x + ink.shape[1], w - x)]
        part *= 1 - 0.85 * ink[: part.shape[0], : part.shape[1], None]
        line += 4.6
    if rng.random() < 0.5:
        left, top = box[2] + float(rng.uniform(6, 30)), box[1] - float(rng.uniform(20, 60))
    else:
        left, top = box[0] + float(rng.uniform(-60, 40)), box[3] + float(rng.uniform(8, 30))
    return [Patch(rgb, np.ones((h, w), np.float32), density, left, top, z=0.2)]


def fingers(box: Box, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    """Two or three finger tips reaching in from below."""
    density = min(density, 8.0)
    skin = hex_linear(str(rng.choice(["#c98f6c", "#8d5a3c", "#e0b394", "#5a3a28"])))
    found = []
    x = float(rng.uniform(box[0], box[2]))
    for i in range(int(rng.integers(2, 4))):
        wide, high = float(rng.uniform(14, 18)), 90.0
        w, h = _canvas(wide, high, density)
        yy, xx = np.mgrid[:h, :w].astype(np.float32) / density
        across = (xx - wide / 2) / (wide / 2)
        tip = np.clip((yy - wide * 0.55) / (wide * 0.55), -1, 0)
        inside = np.clip((1 - np.hypot(across, tip)) * wide / 2 * density, 0, 1)
        shade = light.relative(across * 0.8, tip * 0.8) * (0.7 + 0.3 * (1 - across**2))
        rgb = skin * shade[..., None]
        nail = np.exp(-(((across / 0.5) ** 2 + ((yy - wide * 0.5) / (wide * 0.35)) ** 2) ** 3))
        rgb = rgb * (1 + 0.25 * nail[..., None])
        top = box[3] + float(rng.uniform(4, 16)) + 5 * i
        found.append(Patch(rgb.astype(np.float32), inside.astype(np.float32), density, x + i * wide * 0.96, top, z=6.0))
    return found


def pen(box: Box, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    """A pen or a tape with coloured rings: long, thin and striped, the nearest thing to a bar that is none."""
    wide, high = float(rng.uniform(90, 140)), float(rng.uniform(7, 11))
    w, h = _canvas(wide, high, density)
    tones = np.exp(rng.normal(np.log(0.2), 0.8, (5, 3))).clip(0.01, 0.85).astype(np.float32)
    edges = np.sort(rng.uniform(0.05, 0.95, 4))
    line = tones[np.searchsorted(edges, np.linspace(0, 1, w))]
    round_off = np.linspace(-0.98, 0.98, h).astype(np.float32)
    shade = light.relative(np.zeros(h, np.float32), (round_off / np.sqrt(1 - round_off**2 * 0.98)).astype(np.float32))
    rgb = line[None] * shade[:, None, None] + 0.25 * np.exp(-(((round_off + 0.35) / 0.08) ** 2))[:, None, None]
    top = box[3] + float(rng.uniform(12, 35)) if rng.random() < 0.5 else box[1] - float(rng.uniform(16, 40))
    left = (box[0] + box[2]) / 2 - wide / 2 + float(rng.normal(0, 25))
    return [Patch(rgb.astype(np.float32), np.ones((h, w), np.float32), density, left, top, z=4.0)]


def badge(middle, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    """A cast metal badge with enamel, as on a chest."""
    size_mm = float(rng.uniform(22, 38))
    size = max(round(size_mm * density), 8)
    y, x = (np.mgrid[:size, :size] - size / 2) / (size * 0.47)
    radius, angle = np.hypot(x, y), np.arctan2(x, -y)
    lobes = int(rng.integers(4, 9))
    rim = 0.85 + 0.15 * np.cos(lobes * angle)
    mask = np.clip((rim - radius) * size * 0.4, 0, 1).astype(np.float32)
    height = 0.3 * np.sqrt(np.clip(1 - (radius / rim) ** 2, 0, 1)) + 0.1 * np.cos(lobes * angle) * radius
    metal = str(rng.choice(["gold", "silver"]))
    rgb = metal_shading(mask, height, METALS[metal], light, 0.5)
    enamel = (radius < 0.4).astype(np.float32)[..., None]
    rgb = rgb * (1 - enamel) + enamel * np.exp(rng.normal(np.log(0.1), 0.8, 3)).clip(0.01, 0.7).astype(np.float32)
    return [Patch(rgb.astype(np.float32), mask, density, middle[0] - size_mm / 2, middle[1] - size_mm / 2, z=2.0)]


ON_CLOTH: dict[str, Callable[..., list[Patch]]] = {"pocket": pocket, "lapel": lapel, "plate": name_plate}
ON_TABLE: dict[str, Callable[..., list[Patch]]] = {
    "ruler": ruler, "coins": coins, "paper": paper, "plate": name_plate, "fingers": fingers, "pen": pen,
}  # fmt: skip
