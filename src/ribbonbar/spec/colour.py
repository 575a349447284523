"""Colour conversions: sRGB (IEC 61966-2-1), linear light, CIE XYZ, CIE L*a*b* (D65, 2 degree observer), CIEDE2000.

All functions take and give arrays whose last axis is the three channels; linear light is 0..1 in sRGB primaries,
XYZ is 0..1 with Y = 1 for white, L* is 0..100.
"""

from functools import cache

import numpy as np

# IEC 61966-2-1:1999, 5.2. The standard prints the matrix to four decimals; its rows add up to the white point used
# here, so that a neutral stays exactly neutral.
_XYZ_OF_LINEAR = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_LINEAR_OF_XYZ = np.linalg.inv(_XYZ_OF_LINEAR)
WHITE_D65 = _XYZ_OF_LINEAR.sum(axis=1)
"""XYZ of the D65 white, (3,)."""
_EPSILON, _KAPPA = 216 / 24389, 24389 / 27  # CIE 15: the exact fractions behind 0.008856 and 903.3


def linear_from_srgb(srgb: np.ndarray) -> np.ndarray:
    """Linear light from sRGB-encoded values in 0..1 (IEC 61966-2-1)."""
    srgb = np.asarray(srgb, dtype=float)
    return np.where(srgb <= 0.04045, srgb / 12.92, ((np.maximum(srgb, 0.04045) + 0.055) / 1.055) ** 2.4)


def srgb_from_linear(linear: np.ndarray) -> np.ndarray:
    """sRGB-encoded values from linear light in 0..1 (IEC 61966-2-1). Values outside the range are not clipped."""
    linear = np.asarray(linear, dtype=float)
    return np.where(linear <= 0.0031308, linear * 12.92, 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055)


def xyz_from_linear(linear: np.ndarray) -> np.ndarray:
    """CIE XYZ from linear light."""
    return np.asarray(linear, dtype=float) @ _XYZ_OF_LINEAR.T


def linear_from_xyz(xyz: np.ndarray) -> np.ndarray:
    """Linear light from CIE XYZ; outside 0..1 where sRGB cannot show the colour."""
    return np.asarray(xyz, dtype=float) @ _LINEAR_OF_XYZ.T


def lab_from_xyz(xyz: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (D65) from CIE XYZ (CIE 15)."""
    ratio = np.asarray(xyz, dtype=float) / WHITE_D65
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16) / 116)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def xyz_from_lab(lab: np.ndarray) -> np.ndarray:
    """CIE XYZ from CIE L*a*b* (D65) (CIE 15)."""
    lab = np.asarray(lab, dtype=float)
    y = (lab[..., 0] + 16) / 116
    f = np.stack([y + lab[..., 1] / 500, y, y - lab[..., 2] / 200], axis=-1)
    return np.where(f**3 > _EPSILON, f**3, (116 * f - 16) / _KAPPA) * WHITE_D65


def lab_from_linear(linear: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (D65) from linear light."""
    return lab_from_xyz(xyz_from_linear(linear))


def linear_from_lab(lab: np.ndarray) -> np.ndarray:
    """Linear light from CIE L*a*b* (D65); outside 0..1 where sRGB cannot show the colour."""
    return linear_from_xyz(xyz_from_lab(lab))


def lab_from_hex(text: str) -> tuple[float, float, float]:
    """CIE L*a*b* (D65) of an sRGB colour written ``"#rrggbb"``."""
    srgb = np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    lightness, a, b = lab_from_linear(linear_from_srgb(srgb))
    return float(lightness), float(a), float(b)


def hex_from_lab(lab: tuple[float, float, float]) -> str:
    """The nearest ``"#rrggbb"`` that sRGB can show, each channel clipped."""
    srgb = np.clip(srgb_from_linear(linear_from_lab(np.array(lab))), 0, 1)
    return "#" + "".join(f"{round(float(v) * 255):02x}" for v in srgb)


def ciede2000(lab1: np.ndarray, lab2: np.ndarray) -> np.ndarray:
    """CIEDE2000 colour difference (...,) between arrays (..., 3) of CIE L*a*b*, weights 1; scikit-image computes it."""
    from skimage.color import deltaE_ciede2000

    return deltaE_ciede2000(lab1, lab2)


@cache
def srgb_profile() -> bytes:
    """An sRGB ICC profile to embed in pictures; its creation date is blanked so that same input gives same output."""
    from PIL import ImageCms

    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    profile[24:36] = (2000).to_bytes(2, "big") + bytes([0, 1, 0, 1]) + bytes(6)  # ICC.1 header, field dateTimeNumber
    return bytes(profile)
