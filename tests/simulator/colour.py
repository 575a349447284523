"""Colour for the simulator: linear light in sRGB primaries, CIE L*a*b* (D65, 2°), lights of a temperature."""

import numpy as np
from skimage.color import deltaE_ciede2000, lab2xyz

# IEC 61966-2-1, XYZ (D65) to linear sRGB.
_XYZ_TO_RGB = np.array(
    [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]], dtype=np.float64
)
DARKEST = 0.004
"""Reflectance below which no dyed cloth goes."""


def linear_from_lab(lab: np.ndarray) -> np.ndarray:
    """(..., 3) L*a*b* to linear sRGB reflectance, clipped to what a dye can be."""
    rgb = lab2xyz(np.atleast_2d(lab), illuminant="D65", observer="2") @ _XYZ_TO_RGB.T
    return np.clip(rgb, DARKEST, 0.92).reshape(np.shape(lab)).astype(np.float32)


def encode(linear: np.ndarray) -> np.ndarray:
    """Linear 0..1 to sRGB-encoded 0..1 (IEC 61966-2-1)."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055)


def decode(encoded: np.ndarray) -> np.ndarray:
    """sRGB-encoded 0..1 to linear 0..1 (IEC 61966-2-1)."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def hex_linear(code: str) -> np.ndarray:
    """``"#rrggbb"`` to linear sRGB."""
    return decode(np.array([int(code[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0).astype(np.float32)


def light_of(kelvin: float, tint: float = 0.0) -> np.ndarray:
    """Linear sRGB of a black body of this temperature, green at 1; ``tint`` > 0 is greener (fluorescent, cheap LED).

    Chromaticity: cubic fit to the Planckian locus, Kim et al. 2002 (US patent 7024034), valid 1667-25000 K.
    """
    t = float(kelvin)
    if t < 4000:
        x = -0.2661239e9 / t**3 - 0.2343589e6 / t**2 + 0.8776956e3 / t + 0.179910
    else:
        x = -3.0258469e9 / t**3 + 2.1070379e6 / t**2 + 0.2226347e3 / t + 0.240390
    if t < 2222:
        y = -1.1063814 * x**3 - 1.34811020 * x**2 + 2.18555832 * x - 0.20219683
    elif t < 4000:
        y = -0.9549476 * x**3 - 1.37418593 * x**2 + 2.09137015 * x - 0.16748867
    else:
        y = 3.0817580 * x**3 - 5.87338670 * x**2 + 3.75112997 * x - 0.37001483
    rgb = np.maximum(_XYZ_TO_RGB @ np.array([x / y, 1.0, (1 - x - y) / y]), 0.02)
    rgb = rgb / rgb[1]
    return (rgb / np.array([1 + tint, 1.0, 1 + tint])).astype(np.float32)


def difference(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """CIEDE2000 between (..., 3) L*a*b* arrays (scikit-image)."""
    return deltaE_ciede2000(first, second)


def dye_lot(lab: np.ndarray, wanted: float, rng: np.random.Generator) -> np.ndarray:
    """Another lot of the same dye, about ``wanted`` CIEDE2000 away in a random direction."""
    direction = rng.normal(size=3) * (1.0, 1.1, 1.1)
    direction /= np.linalg.norm(direction)
    lab = np.asarray(lab, dtype=np.float64)
    step = wanted
    for _ in range(4):
        reached = float(difference(lab, lab + direction * step))
        step *= wanted / max(reached, 1e-3)
    moved = lab + direction * step
    moved[0] = np.clip(moved[0], 4.0, 97.0)
    return moved
