"""The camera: lens, sensor, white balance, tone, sharpening, file. From linear light to JPEG bytes."""

import io
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

from tests.simulator.colour import encode
from tests.simulator.scene import periodic_noise


@dataclass(frozen=True)
class Camera:
    """``ev`` exposure in stops; ``adapted`` 0..1 how far white balance follows the light, ``residual`` its gains;
    ``blur`` Gaussian sigma and ``motion`` (length, degrees) in pixels; ``distortion`` the radial k1 at the half
    diagonal; ``curve`` the s-curve's strength; ``grain`` the noise at white; ``veil`` stray light
    in the lens, as a part of white; ``headroom`` the light that fills the sensor, white being 1: the tone curve's
    shoulder bends what lies above 0.6 down to it."""

    ev: float
    adapted: float
    residual: tuple[float, float, float]
    blur: float
    motion: tuple[float, float]
    distortion: float
    curve: float
    saturation: float
    sharpening: float
    grain: float
    vignette: float
    veil: float
    headroom: float
    mixing: np.ndarray
    quality: int
    subsampling: int
    orientation: int = 1


def sensor_matrix(rng: np.random.Generator) -> np.ndarray:
    """3x3 from linear sRGB to a sensor's own primaries: broad, overlapping, rows summing to 1."""
    mix = np.array([[0.74, 0.23, 0.03], [0.19, 0.68, 0.13], [0.03, 0.20, 0.77]]) + rng.normal(0, 0.02, (3, 3))
    return mix / mix.sum(1, keepdims=True)


def expose(radiance: np.ndarray, irradiance: np.ndarray, ambient: np.ndarray, key: np.ndarray, camera: Camera):
    """Sensor values of relative ``radiance`` (H, W, 3) under lights: (H, W, 3) float32, sensor primaries.

    ``irradiance`` (H, W, 2) scales ambient and key. Light and reflectance meet in the sensor's primaries, so that a
    change of light is not quite a gain of sRGB channels, as in life.
    """
    mix = camera.mixing.astype(np.float32)
    light = np.stack([mix @ ambient, mix @ key]).astype(np.float32)
    seen = cv2.transform(radiance, mix)
    return seen * cv2.transform(irradiance, np.ascontiguousarray(light.T))


def lens(picture: np.ndarray, camera: Camera, scale: float = 1.0) -> np.ndarray:
    """Defocus, motion and radial distortion, in linear light. ``scale``: drawn pixels per picture pixel."""
    if camera.blur * scale > 0.25:
        picture = cv2.GaussianBlur(picture, (0, 0), camera.blur * scale)
    length, direction = camera.motion[0] * scale, np.radians(camera.motion[1])
    if length > 0.7:
        size = 2 * int(np.ceil(length / 2)) + 3
        kernel = np.zeros((size, size), np.float32)
        ends = np.array([np.cos(direction), np.sin(direction)]) * length / 2
        a, b = (np.round(((size - 1) / 2 + sign * ends) * 256).astype(int).tolist() for sign in (-1, 1))
        cv2.line(kernel, a, b, 1.0, 1, cv2.LINE_AA, 8)
        picture = cv2.filter2D(picture, -1, kernel / kernel.sum())
    if camera.distortion:
        height, width = picture.shape[:2]
        y, x = np.mgrid[:height, :width].astype(np.float32)
        cx, cy = (width - 1) / 2, (height - 1) / 2
        half = np.float32(np.hypot(cx, cy))
        dx, dy = (x - np.float32(cx)) / half, (y - np.float32(cy)) / half
        swell = 1 + np.float32(camera.distortion) * (dx * dx + dy * dy)
        x, y = np.float32(cx) + dx * swell * half, np.float32(cy) + dy * swell * half
        picture = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    return picture


def distorted(points: np.ndarray, width: int, height: int, k: float) -> np.ndarray:
    """Where undistorted picture points come to lie; the inverse of the sampling in `lens`."""
    centre = np.array([(width - 1) / 2, (height - 1) / 2])
    half = np.hypot(*centre)
    wanted = (points - centre) / half
    at = wanted.copy()
    for _ in range(12):
        at = wanted / (1 + k * (at**2).sum(-1, keepdims=True))
    return centre + at * half


def tone(camera: Camera) -> np.ndarray:
    """(4096,) float32: sRGB-encoded values for linear light from 0 to the headroom; a shoulder, then an s-curve."""
    linear = np.arange(4096) / 4095 * camera.headroom
    knee = 0.6
    if camera.headroom > 1:
        over = np.maximum(linear - knee, 0) / (1 - knee)
        full = (camera.headroom - knee) / (1 - knee)
        linear = np.minimum(linear, knee) + (1 - knee) * np.tanh(over) / np.tanh(full)
    coded = encode(linear)
    return (coded + camera.curve * (coded * coded * (3 - 2 * coded) - coded)).astype(np.float32)


def develop(sensor: np.ndarray, camera: Camera, light: np.ndarray, gain: float, rng: np.random.Generator) -> np.ndarray:
    """Sensor values to (H, W, 3) uint8 sRGB. ``light`` is the scene light in linear sRGB, for the white balance."""
    height, width = sensor.shape[:2]
    mix = camera.mixing
    white = mix @ light
    balance = (white[1] / white) ** camera.adapted * np.array(camera.residual)
    balance = (balance / balance.min()).astype(np.float32)  # no gain below 1: what fills the sensor comes out white
    back = np.linalg.inv(mix).astype(np.float32)
    tile = rng.standard_normal((512, 512, 3), dtype=np.float32)
    blotches = np.dstack([periodic_noise(rng, 512, 2, 2) for _ in range(3)])
    noise = 1.4 * tile.mean(2, keepdims=True) + 0.35 * tile + 0.5 * blotches
    stray = (camera.veil * white / white.max()).astype(np.float32)
    table = tone(camera)
    vivid = camera.saturation * np.eye(3) + (1 - camera.saturation) * np.array([[0.299, 0.587, 0.114]])
    vivid = vivid.astype(np.float32)
    out = np.empty((height, width, 3), np.uint8)
    cx, cy = (width - 1) / 2, (height - 1) / 2
    fall = ((np.arange(width) - cx) / np.hypot(cx, cy)).astype(np.float32) ** 2
    halo = 6
    for start in range(0, height, 192):  # strips that stay in the cache
        stop = min(start + 192, height)
        low, high = max(start - halo, 0), min(stop + halo, height)
        strip = sensor[low:high] * np.float32(gain)
        if camera.vignette:
            rows = ((np.arange(low, high) - cy) / np.hypot(cx, cy)).astype(np.float32)[:, None] ** 2
            strip = strip * (1 - np.float32(camera.vignette) * (rows + fall[None]))[..., None]
        shift = rng.integers(0, 512, 2)
        rolled = np.roll(noise, tuple(shift), (0, 1))
        grain = np.tile(rolled[: high - low], (1, width // 512 + 1, 1))[:, :width]
        np.maximum(strip, 0, out=strip)
        strip += stray
        strip += np.float32(camera.grain) * (0.07 + np.sqrt(strip)) * grain
        np.clip(strip, 0, camera.headroom, out=strip)  # the sensor is full
        strip = cv2.transform(np.minimum(strip * balance, np.float32(camera.headroom)), back)
        np.clip(strip, 0, camera.headroom, out=strip)
        strip *= 4095 / camera.headroom
        picture = cv2.transform(table[strip.astype(np.uint16)], vivid)
        if camera.sharpening:
            soft = cv2.GaussianBlur(picture, (7, 7), 1.3)
            picture = cv2.addWeighted(picture, 1 + camera.sharpening, soft, -camera.sharpening, 0)
        cut = picture[start - low : start - low + (stop - start)]
        out[start:stop] = cv2.convertScaleAbs(np.maximum(cut, 0), alpha=255)
    return out


_TO_STORED = {1: None, 3: cv2.ROTATE_180, 6: cv2.ROTATE_90_COUNTERCLOCKWISE, 8: cv2.ROTATE_90_CLOCKWISE}


def to_jpeg(pixels: np.ndarray, camera: Camera) -> bytes:
    """The file as a phone writes it: turned on its side with an EXIF orientation that says so."""
    turn = _TO_STORED[camera.orientation]
    stored = pixels if turn is None else cv2.rotate(pixels, turn)
    exif = Image.Exif()
    exif[0x0112] = camera.orientation
    buffer = io.BytesIO()
    Image.fromarray(stored).save(buffer, "JPEG", quality=camera.quality, subsampling=camera.subsampling, exif=exif)
    return buffer.getvalue()


def from_jpeg(data: bytes) -> np.ndarray:
    """(H, W, 3) uint8 sRGB, upright."""
    return cv2.cvtColor(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
