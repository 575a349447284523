"""Emblems and buttons: little metal things, shaded as metal from a height field."""

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.simulator.scene import Light, Patch

METALS = {
    "silver": (0.62, 0.61, 0.59),
    "gold": (0.83, 0.60, 0.20),
    "bronze": (0.40, 0.22, 0.10),
    "black": (0.03, 0.03, 0.032),
}
_USUAL = {"rosette": ("silver", "gold", "bronze"), "oak-leaf": ("bronze", "silver", "gold"),
          "star": ("bronze", "silver", "gold"), "numeral": ("silver", "gold")}  # fmt: skip


def _polar(points: int, radius, size: int) -> np.ndarray:
    """Mask (size, size) of the closed curve radius(angle), radius 1 touching the canvas' rim."""
    angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
    r = radius(angle) * size * 0.47
    curve = np.stack([size / 2 + r * np.sin(angle), size / 2 - r * np.cos(angle)], -1)
    mask = np.zeros((size, size), np.float32)
    cv2.fillPoly(mask, [np.round(curve * 16).astype(np.int32)], 1.0, cv2.LINE_AA, 4)
    return mask


def _rosette(size: int) -> tuple[np.ndarray, np.ndarray]:
    mask = _polar(240, lambda a: 0.90 + 0.10 * np.cos(8 * a), size)
    y, x = (np.mgrid[:size, :size] - size / 2) / (size * 0.47)
    angle, radius = np.arctan2(x, -y), np.hypot(x, y)
    petals = 0.35 * np.abs(np.cos(4 * angle)) * np.clip(radius, 0, 1)
    height = np.sqrt(np.clip(1 - radius**2 * 0.9, 0, 1)) * 0.5 + petals * np.clip(1.3 - radius, 0, 1)
    return mask, height - 0.4 * np.exp(-((radius / 0.15) ** 2))


def _star(size: int) -> tuple[np.ndarray, np.ndarray]:
    def radius(a):
        part = np.mod(a, 2 * np.pi / 5)
        part = np.minimum(part, 2 * np.pi / 5 - part)
        inner = 0.42  # a pentagram's is 0.38; cast stars are a little fuller
        point, notch = np.array([0, 1.0]), inner * np.array([np.sin(np.pi / 5), np.cos(np.pi / 5)])
        side = notch - point
        direction = np.stack([np.sin(part), np.cos(part)], -1)
        return (point[0] * side[1] - point[1] * side[0]) / (direction[..., 0] * side[1] - direction[..., 1] * side[0])

    mask = _polar(400, radius, size)
    y, x = (np.mgrid[:size, :size] - size / 2) / (size * 0.47)
    angle = np.arctan2(x, -y)
    return mask, 0.55 * np.clip(1 - np.hypot(x, y) / np.maximum(radius(np.mod(angle, 2 * np.pi)), 0.05), 0, 1)


def _oak_leaf(size: int) -> tuple[np.ndarray, np.ndarray]:
    mask = np.zeros((size, size), np.float32)
    t = np.linspace(0, 1, 80)
    half = 0.06 + 0.17 * np.sin(np.pi * np.clip(t * 1.15, 0, 1)) ** 0.7 * (0.72 + 0.28 * np.cos(2 * np.pi * t * 3.2))
    half = np.where(t > 0.9, 0.04, half)
    upper = np.stack([0.04 + 0.92 * t, 0.5 - half], -1)
    lower = np.stack([0.04 + 0.92 * t, 0.5 + half], -1)[::-1]
    cv2.fillPoly(mask, [np.round(np.concatenate([upper, lower]) * size * 16).astype(np.int32)], 1.0, cv2.LINE_AA, 4)
    y, x = np.mgrid[:size, :size] / size
    ridge = 0.5 - 1.6 * np.abs(y - 0.5) + 0.04 * np.cos(x * 50 + 14 * np.abs(y - 0.5))
    return mask, np.clip(ridge, 0, 1)


def glyphs(words: str, height_px: int) -> np.ndarray:
    """(H, W) float32 mask of a line of text, capitals about ``height_px`` high."""
    font = ImageFont.load_default(max(int(height_px * 1.38), 6))
    left, top, right, bottom = font.getbbox(words)
    image = Image.new("L", (int(right - left) + 4, int(bottom - top) + 4))
    ImageDraw.Draw(image).text((2 - left, 2 - top), words, 255, font)
    return np.asarray(image, np.float32) / 255


def metal_shading(mask: np.ndarray, height: np.ndarray, colour, light: Light, polish: float) -> np.ndarray:
    """Linear RGB of metal over a height field (in half-widths); ``polish`` 0..1 is how mirror-like it is."""
    half = mask.shape[1] * 0.47
    gy, gx = np.gradient(cv2.GaussianBlur(height.astype(np.float32), (0, 0), max(mask.shape[0] / 60, 0.5)) * half)
    nz = 1 / np.sqrt(1 + gx * gx + gy * gy)
    nx, ny = -gx * nz, -gy * nz
    lx, ly, lz = light.towards
    key = 1 - light.ambient_share
    diffuse = light.ambient_share * (0.55 + 0.45 * nz) + key * np.maximum(nx * lx + ny * ly + nz * lz, 0) / max(lz, 0.3)
    hx, hy, hz = np.array([lx, ly, lz + 1]) / np.linalg.norm([lx, ly, lz + 1])
    spark = np.maximum(nx * hx + ny * hy + nz * hz, 0) ** (12 + 60 * polish)
    sky = 0.5 + 0.5 * np.tanh(3 * (-(2 * nz * ny) + 0.1))  # a bright room above, a dark one below
    tone = (1 - polish) * diffuse + polish * (0.25 + 1.1 * sky) * (0.4 + 0.6 * diffuse)
    shine = (0.3 + 1.5 * polish) * spark * (0.3 + 0.7 * key)
    colour = np.asarray(colour, np.float32)
    return (tone[..., None] * colour + shine[..., None] * (0.5 * colour + 0.5)).astype(np.float32)


def emblem_patch(kind: str, middle, light: Light, density: float, rng: np.random.Generator) -> Patch:
    """One emblem, its middle at ``middle`` mm, with room round it for its shadow."""
    metal = str(rng.choice(_USUAL[kind], p=[0.6, 0.4] if kind == "numeral" else [0.6, 0.2, 0.2]))
    size_mm = {"rosette": rng.uniform(5.2, 7.6), "star": rng.uniform(4.6, 6.4), "oak-leaf": rng.uniform(7.0, 9.5),
               "numeral": rng.uniform(4.0, 5.6)}[kind]  # fmt: skip
    fine = max(int(size_mm * density * 2), 24)
    if kind == "numeral":
        letter = glyphs(str(rng.integers(2, 8)), int(fine * 0.92))
        mask = np.zeros((fine, fine), np.float32)
        h, w = min(letter.shape[0], fine), min(letter.shape[1], fine)
        mask[(fine - h) // 2 : (fine - h) // 2 + h, (fine - w) // 2 : (fine - w) // 2 + w] = letter[:h, :w]
        height = 0.18 * cv2.GaussianBlur(mask, (0, 0), fine / 40)
    else:
        mask, height = {"rosette": _rosette, "star": _star, "oak-leaf": _oak_leaf}[kind](fine)
    rgb = metal_shading(mask, height, METALS[metal], light, float(rng.uniform(0.05, 0.75)))
    turn = cv2.getRotationMatrix2D((fine / 2, fine / 2), float(np.clip(rng.normal(0, 4), -12, 12)), 1.0)
    rgb, mask = cv2.warpAffine(rgb, turn, (fine, fine)), cv2.warpAffine(mask, turn, (fine, fine))
    size = max(round(size_mm * density), 3)
    rgb, mask = (cv2.resize(a, (size, size), interpolation=cv2.INTER_AREA) for a in (rgb, mask))
    pad = max(round(1.5 * density), 1)
    rgb = cv2.copyMakeBorder(rgb, pad, pad, pad, pad, cv2.BORDER_REPLICATE)
    mask = cv2.copyMakeBorder(mask, pad, pad, pad, pad, cv2.BORDER_CONSTANT)
    half = (size / 2 + pad) / density
    return Patch(rgb, np.clip(mask, 0, 1), density, float(middle[0] - half), float(middle[1] - half))


def button_patch(middle, diameter: float, metal: str, light: Light, density: float, rng: np.random.Generator) -> Patch:
    """A domed button with an embossed device and a rim."""
    size = max(round(diameter * density), 5)
    mask = _polar(120, lambda a: np.ones_like(a), size)
    y, x = (np.mgrid[:size, :size] - size / 2) / (size * 0.47)
    radius, angle = np.hypot(x, y), np.arctan2(x, -y)
    device = 0.05 * np.cos(int(rng.integers(3, 9)) * angle) * np.exp(-(((radius - 0.45) / 0.2) ** 2))
    height = 0.55 * np.sqrt(np.clip(1.15 - radius**2, 0, 2)) + device + 0.08 * np.exp(-(((radius - 0.88) / 0.06) ** 2))
    rgb = metal_shading(mask, height, METALS[metal], light, 0.15 if metal == "black" else float(rng.uniform(0.3, 0.8)))
    left, top = middle[0] - size / 2 / density, middle[1] - size / 2 / density
    return Patch(rgb, mask, density, float(left), float(top), z=2.5)
