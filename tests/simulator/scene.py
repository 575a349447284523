"""The scene as a camera sees it: a plane in millimetres, patches lying on or above it, and a picture window.

Scene coordinates: x to the viewer's right, y down, z towards the camera, all in mm; the bar's middle is the origin.
Arrays hold linear relative radiance (reflectance times relative shading), (H, W, 3) float32, sRGB primaries.
"""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Patch:
    """Something flat in the scene. ``rgb`` (H, W, 3), not premultiplied, and ``alpha`` (H, W), ``density`` px per mm.

    ``left``, ``top`` are the mm of the canvas' outer corner; ``z`` the height of its face, with walls down to the
    plane; ``multiply`` means that rgb scales what lies under it (seams, folds, shadows).
    """

    rgb: np.ndarray
    alpha: np.ndarray
    density: float
    left: float
    top: float
    z: float = 0.0
    multiply: bool = False

    @property
    def to_mm(self) -> np.ndarray:
        """3x3: canvas pixel centres to mm."""
        k = 1 / self.density
        return np.array([[k, 0, self.left + k / 2], [0, k, self.top + k / 2], [0, 0, 1]])


@dataclass(frozen=True)
class Light:
    """``key`` and ``ambient``: linear sRGB colours whose sum lights a face-on white; ``towards``: a unit vector."""

    key: np.ndarray
    ambient: np.ndarray
    towards: tuple[float, float, float]
    softness: float
    """Penumbra per mm of height."""

    @property
    def ambient_share(self) -> float:
        return float(self.ambient[1] / (self.key[1] + self.ambient[1]))

    def relative(self, nx: np.ndarray, ny: np.ndarray) -> np.ndarray:
        """Shading of a surface of normal (nx, ny, 1) against a face-on one."""
        lx, ly, lz = self.towards
        lambert = np.maximum((nx * lx + ny * ly + lz) / np.sqrt(1 + nx * nx + ny * ny), 0) / lz
        return self.ambient_share + (1 - self.ambient_share) * lambert


@dataclass(frozen=True)
class View:
    """A pinhole camera (before lens distortion) looking at the plane, and the window of the picture that is drawn.

    ``camera`` is 3x4: (x, y, z, 1) mm to picture pixels. ``window`` is x, y, width, height in picture pixels, drawn at
    ``scale`` drawn pixels per picture pixel.
    """

    camera: np.ndarray
    window: tuple[int, int, int, int]
    scale: float = 1.0

    @property
    def size(self) -> tuple[int, int]:
        """Drawn (width, height)."""
        return round(self.window[2] * self.scale), round(self.window[3] * self.scale)

    def plane(self, z: float = 0.0) -> np.ndarray:
        """3x3: (x, y) mm at height z to drawn pixel centres."""
        h = np.column_stack([self.camera[:, 0], self.camera[:, 1], self.camera[:, 2] * z + self.camera[:, 3]])
        s = self.scale
        shift = (s - 1) / 2
        return np.array([[s, 0, shift - s * self.window[0]], [0, s, shift - s * self.window[1]], [0, 0, 1]]) @ h

    def project(self, points: np.ndarray, z: float = 0.0) -> np.ndarray:
        """(N, 2) mm to (N, 2) drawn pixels."""
        return cv2.perspectiveTransform(np.asarray(points, np.float64).reshape(-1, 1, 2), self.plane(z)).reshape(-1, 2)

    def grid(self) -> tuple[np.ndarray, np.ndarray]:
        """x and y in mm on the plane z = 0 for every drawn pixel, two (H, W) float32."""
        width, height = self.size
        back = np.linalg.inv(self.plane()).astype(np.float32)
        x = np.arange(width, dtype=np.float32)[None]
        y = np.arange(height, dtype=np.float32)[:, None]
        bottom = 1 / (back[2, 0] * x + (back[2, 1] * y + back[2, 2]))
        across = (back[0, 0] * x + (back[0, 1] * y + back[0, 2])) * bottom
        down = (back[1, 0] * x + (back[1, 1] * y + back[1, 2])) * bottom
        return across, down

    def density_at(self, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> float:
        """Drawn pixels per mm along x at a point of the scene."""
        a, b = self.project(np.array([[x - 2, y], [x + 2, y]]), z)
        return float(np.linalg.norm(b - a) / 4)


def pose(
    width: int, height: int, focal_px: float, distance: float, tilt: float, tilt_towards: float, roll: float,
    aim: tuple[float, float],
) -> np.ndarray:  # fmt: skip
    """3x4 camera that looks at ``aim`` (mm) from ``distance`` mm. Angles in degrees: ``tilt`` off the plane's normal
    about the axis that lies at ``tilt_towards`` in the plane, ``roll`` in the picture."""
    axis = np.array([np.cos(np.radians(tilt_towards)), np.sin(np.radians(tilt_towards)), 0.0])
    rotation, _ = cv2.Rodrigues(axis * np.radians(tilt))
    turn, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(roll)]))
    rotation = turn @ rotation @ np.diag([1.0, 1.0, -1.0])  # scene z points at the camera, camera z away from it
    move = np.array([0.0, 0.0, distance]) - rotation @ np.array([*aim, 0.0])
    lens = np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1.0]])
    return lens @ np.column_stack([rotation, move])


def _warped(layer: np.ndarray, matrix: np.ndarray, shrink: float, size: tuple[int, int]):
    """``layer`` warped by ``matrix`` into its bounding box of the drawn window: (slices, array), or None outside."""
    height, width = layer.shape[:2]
    corners = np.array([[-1, -1], [width, -1], [width, height], [-1, height]], np.float64).reshape(-1, 1, 2)
    box = cv2.perspectiveTransform(corners, matrix).reshape(-1, 2)
    x0, y0 = np.maximum(np.floor(box.min(0)).astype(int) - 1, 0)
    x1, y1 = np.minimum(np.ceil(box.max(0)).astype(int) + 2, size)
    if x1 <= x0 or y1 <= y0:
        return None
    if shrink > 1.1:  # drawn smaller than the canvas: blur first, or fine threads alias
        layer = cv2.GaussianBlur(layer, (0, 0), 0.42 * shrink, borderType=cv2.BORDER_CONSTANT)
    moved = np.array([[1, 0, -x0], [0, 1, -y0], [0, 0, 1.0]]) @ matrix
    out = cv2.warpPerspective(layer, moved, (int(x1 - x0), int(y1 - y0)), flags=cv2.INTER_LINEAR)
    return (slice(y0, y1), slice(x0, x1)), out


def stamp(radiance: np.ndarray, view: View, patch: Patch, wall: float = 0.45) -> None:
    """Lay a patch into ``radiance``; a patch with height gets walls, ``wall`` times as bright as its face's rim."""
    density = view.density_at(patch.left, patch.top, patch.z)
    shrink = patch.density / density
    layer = np.dstack([patch.rgb * patch.alpha[..., None], patch.alpha]).astype(np.float32)
    steps = 0
    if patch.z > 0:
        move = np.abs(view.project(np.zeros((1, 2)), patch.z) - view.project(np.zeros((1, 2)))).max()
        steps = int(min(np.ceil(move), 10))
    for step in range(steps + 1):
        z = patch.z * step / max(steps, 1) if patch.z else 0.0
        warped = _warped(layer, view.plane(z) @ patch.to_mm, shrink, view.size)
        if warped is None:
            return
        where, part = warped
        alpha = part[..., 3:]
        if patch.multiply:
            radiance[where] *= part[..., :3] + (1 - alpha)
        else:
            bright = 1.0 if step == steps else wall
            radiance[where] = radiance[where] * (1 - alpha) + part[..., :3] * bright


def cast_shadow(radiance: np.ndarray, view: View, patch: Patch, light: Light, onto: float = 0.0) -> None:
    """Darken what lies under a patch of height: the key light's shadow, soft, and the crease where it touches."""
    height = patch.z - onto
    if height <= 0:
        return
    lx, ly, lz = light.towards
    k = min(1.0, 4.0 / patch.density)
    mask = cv2.resize(patch.alpha, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)
    density = patch.density * k
    margin = round(4 * height * density) + 2
    mask = cv2.copyMakeBorder(mask, *(margin,) * 4, cv2.BORDER_CONSTANT)
    shift = np.float32([[1, 0, -lx / lz * height * density], [0, 1, -ly / lz * height * density]])
    thrown = cv2.warpAffine(mask, shift, mask.shape[::-1])
    thrown = cv2.GaussianBlur(thrown, (0, 0), max(light.softness * height * density, 0.4))
    crease = cv2.GaussianBlur(mask, (0, 0), max(0.55 * height * density, 0.4))
    share = light.ambient_share
    keep = (1 - (1 - share) * 0.92 * thrown) * (1 - 0.5 * crease * (0.4 + 0.6 * share))
    darken = Patch(
        np.repeat(keep[..., None], 3, axis=2), np.ones_like(keep), density, patch.left - margin / density,
        patch.top - margin / density, onto, multiply=True,
    )  # fmt: skip
    density_seen = view.density_at(patch.left, patch.top)
    layer = (1 - darken.rgb[..., 0]).astype(np.float32)
    warped = _warped(layer, view.plane(onto) @ darken.to_mm, density / density_seen, view.size)
    if warped:
        where, part = warped
        radiance[where] *= (1 - part)[..., None]


def periodic_noise(rng: np.random.Generator, size: int, sigma_x: float, sigma_y: float) -> np.ndarray:
    """(size, size) float32 noise of unit variance that tiles, smoothed by a Gaussian of sigma pixels each way."""
    noise = rng.standard_normal((size, size), dtype=np.float32)
    fx = np.fft.rfftfreq(size)[None]
    fy = np.fft.fftfreq(size)[:, None]
    keep = np.exp(-2 * np.pi**2 * ((fx * sigma_x) ** 2 + (fy * sigma_y) ** 2))
    smooth = np.fft.irfft2(np.fft.rfft2(noise) * keep, s=(size, size)).astype(np.float32)
    return (smooth - smooth.mean()) / max(float(smooth.std()), 1e-6)
