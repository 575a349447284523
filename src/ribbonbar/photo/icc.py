"""Colour profiles (ICC.1): from the file's own colours to sRGB, or straight to linear light in sRGB primaries.

Phones write Display P3, whose reds and greens lie outside sRGB; taken as sRGB every colour is off. A profile of three
tone curves and a 3x3 matrix (all that cameras write) is read here, because the curves give linear light directly, in
float, at the cost of a table look-up. Any other profile goes through Little CMS (Pillow's ImageCms) in 8 bits.
"""

import io
import struct
from functools import lru_cache

import numpy as np

# XYZ to linear sRGB for the D50 profile connection space: the inverse of the sRGB profile's colorants
# (ICC's own sRGB profile; IEC 61966-2-1 primaries, Bradford-adapted to D50).
_SRGB_D50 = np.array(
    [
        [0.4360747, 0.3850649, 0.1430804],
        [0.2225045, 0.7168786, 0.0606169],
        [0.0139322, 0.0971045, 0.7141733],
    ]
)


@lru_cache(maxsize=1)
def srgb_table() -> np.ndarray:
    """Linear light of the 256 sRGB codes, (256,) float32 (IEC 61966-2-1)."""
    code = np.arange(256) / 255.0
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4).astype(np.float32)


def useful_profile(profile: bytes) -> bytes:
    """``profile`` when it describes RGB colours that differ from sRGB by more than rounding; else empty."""
    if not profile or len(profile) > 1 << 22:
        return b""
    cube = np.array(np.meshgrid(*[[0, 64, 128, 192, 255]] * 3), np.uint8).reshape(3, -1).T[None]
    try:
        converted = _with_lcms(cube, profile)
    except Exception:  # a profile nobody can read tells nothing: the pixels are taken as sRGB, like every viewer does
        return b""
    return profile if np.abs(converted.astype(int) - cube).max() > 2 else b""


def to_srgb(pixels: np.ndarray, profile: bytes) -> np.ndarray:
    """(H, W, 3) uint8 in the profile's colours to (H, W, 3) uint8 sRGB, relative colorimetric."""
    return _with_lcms(np.ascontiguousarray(pixels), profile) if profile else pixels


def linear_tables(profile: bytes) -> tuple[np.ndarray, np.ndarray] | None:
    """Tone curves (3, 256) float32 and a 3x3 matrix to linear sRGB, or None when the profile is no such thing."""
    if not profile:
        return np.stack([srgb_table()] * 3), np.eye(3, dtype=np.float32)
    try:
        tags = _tags(profile)
        colorants = np.stack([_xyz(tags[name]) for name in (b"rXYZ", b"gXYZ", b"bXYZ")], axis=1)
        curves = np.stack([_curve(tags[name]) for name in (b"rTRC", b"gTRC", b"bTRC")])
    except (KeyError, ValueError, struct.error, IndexError):
        return None
    if b"A2B0" in tags or not np.isfinite(curves).all():
        return None
    return curves.astype(np.float32), (np.linalg.inv(_SRGB_D50) @ colorants).astype(np.float32)


def _with_lcms(pixels: np.ndarray, profile: bytes) -> np.ndarray:
    from PIL import Image

    return np.asarray(_transform(profile).apply(Image.fromarray(pixels)))


@lru_cache(maxsize=4)
def _transform(profile: bytes):
    from PIL import ImageCms

    source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    return ImageCms.buildTransform(
        source, ImageCms.createProfile("sRGB"), "RGB", "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC
    )


def _tags(profile: bytes) -> dict[bytes, bytes]:
    count = struct.unpack_from(">I", profile, 128)[0]
    if count > 200:
        raise ValueError("too many tags")
    table = [struct.unpack_from(">4sII", profile, 132 + 12 * k) for k in range(count)]
    return {name: profile[start : start + size] for name, start, size in table}


def _xyz(tag: bytes) -> np.ndarray:
    if tag[:4] != b"XYZ ":
        raise ValueError("not an XYZ tag")
    return np.array(struct.unpack_from(">3i", tag, 8)) / 65536.0


def _curve(tag: bytes) -> np.ndarray:
    """A `curv` or `para` tag (ICC.1:2022, 10.6 and 10.18) at the 256 codes."""
    code = np.arange(256) / 255.0
    if tag[:4] == b"curv":
        count = struct.unpack_from(">I", tag, 8)[0]
        if count == 0:
            return code
        values = np.array(struct.unpack_from(f">{count}H", tag, 12)) if count <= 65536 else None
        if values is None:
            raise ValueError("curve too long")
        if count == 1:
            return code ** (values[0] / 256.0)
        return np.interp(code, np.linspace(0, 1, count), values / 65535.0)
    if tag[:4] != b"para":
        raise ValueError("not a curve")
    kind = struct.unpack_from(">H", tag, 8)[0]
    numbers = [n / 65536.0 for n in struct.unpack_from(f">{(1, 3, 4, 5, 7)[kind]}i", tag, 12)]
    g, a, b, c, d, e, f = [*numbers, *[0.0] * 7][:7]
    if kind == 0:
        return code**g
    if kind == 1:
        return np.where(code >= -b / a, np.maximum(a * code + b, 0) ** g, 0.0)
    if kind == 2:
        return np.where(code >= -b / a, np.maximum(a * code + b, 0) ** g + c, c)
    return np.where(code >= d, np.maximum(a * code + b, 0) ** g + e, c * code + f)
