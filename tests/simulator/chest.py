"""A whole chest before a blurred backdrop: jacket, sleeves, collar, tie, pockets, buttons, badges; and the bar."""

import cv2
import numpy as np

from tests.simulator.backing import JACKETS, Tile, lay_backing
from tests.simulator.colour import hex_linear
from tests.simulator.emblems import button_patch
from tests.simulator.props import badge, name_plate
from tests.simulator.scene import Light, Patch, View, cast_shadow, stamp


def _smooth(points: list[tuple[float, float]], rounds: int = 3) -> np.ndarray:
    """Chaikin's corner cutting: a soft outline through a few points."""
    curve = np.array(points, float)
    for _ in range(rounds):
        ahead = np.roll(curve, -1, 0)
        curve = np.stack([0.75 * curve + 0.25 * ahead, 0.25 * curve + 0.75 * ahead], 1).reshape(-1, 2)
    return curve


def _mask(view: View, outline: np.ndarray) -> np.ndarray:
    width, height = view.size
    mask = np.zeros((height, width), np.uint8)
    points = np.clip(view.project(outline), -8000, 16000)
    cv2.fillPoly(mask, [np.round(points * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    return mask


def _lay(radiance: np.ndarray, mask: np.ndarray, colour: np.ndarray) -> None:
    """Blend ``colour`` (3,) or (H, W, 3) into ``radiance`` under a uint8 mask, only in the mask's bounding box."""
    x, y, w, h = cv2.boundingRect(mask)
    if not w:
        return
    part = (slice(y, y + h), slice(x, x + w))
    a = mask[part].astype(np.float32)[..., None] / 255
    shade = colour[part] if colour.ndim == 3 else colour
    radiance[part] = radiance[part] * (1 - a) + shade * a


def _shadow(radiance: np.ndarray, mask: np.ndarray, shift: tuple[float, float], blur: float, depth: float) -> None:
    """Darken along a mask's edge, as one layer of cloth over another does."""
    k = 0.25
    small = cv2.resize(mask, None, fx=k, fy=k, interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    moved = cv2.warpAffine(small, np.float32([[1, 0, shift[0] * k], [0, 1, shift[1] * k]]), small.shape[::-1])
    soft = cv2.GaussianBlur(moved, (0, 0), max(blur * k, 0.5))
    keep = cv2.resize(1 - depth * soft, mask.shape[::-1], interpolation=cv2.INTER_LINEAR)
    radiance *= keep[..., None]


class Chest:
    """One wearer, drawn once and laid into any window. ``middle`` is the mm x of the jacket's centre line, ``kind`` the
    jacket's cloth; the bar's middle is the origin, on the wearer's left."""

    def __init__(self, kind: str, bar_width: float, light: Light, rng: np.random.Generator):
        self.light = light
        self.seed = int(rng.integers(2**31))
        self.middle = -max(bar_width / 2 + float(rng.uniform(22, 40)), float(rng.uniform(88, 108)))
        self.neck = -float(rng.uniform(165, 200))
        self.skin = hex_linear(str(rng.choice(["#c98f6c", "#8d5a3c", "#e0b394", "#5a3a28", "#a87150"])))
        self.tie = hex_linear(str(rng.choice(["#15161a", "#1c2340", "#5a1f26", "#2f3b2c", "#3c3c40"])))
        self.shirt = hex_linear(str(rng.choice(["#eceae4", "#eceae4", "#c9c19c", "#b9c8d8"])))
        self.jacket = hex_linear(JACKETS[kind])
        self.metal = str(rng.choice(["gold", "gold", "silver", "black", "bronze"]))
        self.wide = float(rng.uniform(200, 235))
        odds = {"plate": 0.6, "badge": 0.35, "flag": 0.3, "cord": 0.2}
        self.extras = {name for name, chance in odds.items() if rng.random() < chance}

    def draw(self, view: View, tile: Tile, backdrop: np.ndarray, offset: tuple[float, float]) -> np.ndarray:
        """(H, W, 3) linear relative radiance of the window, without the bar."""
        rng = np.random.default_rng(self.seed)
        light, m, n, w = self.light, self.middle, self.neck, self.wide
        scale = view.density_at()
        radiance = _cut(backdrop, view)
        cloth = lay_backing(tile, view, 0.0, offset)
        x, y = View(view.camera, view.window, view.scale / 8).grid()  # form shades slowly: an eighth will do
        lx, ly, _ = light.towards

        def rounded(centre, half):
            across = np.clip((x - centre) / half, -1.1, 1.1)
            square = across * across
            shade = light.relative(0.85 * square * across, np.zeros_like(across)) * (1 - 0.22 * square * square)
            return cv2.resize(shade, view.size, interpolation=cv2.INTER_LINEAR)

        slim = w - 42
        for side in (-1, 1):
            sleeve = [(w - 48, 42), (w + 22, 70), (w + 62, 330), (w + 88, 640), (w + 8, 650), (w - 30, 380)]
            arm = _smooth([(m + side * across, n + down) for across, down in sleeve])
            lean = (y - n) * 0.08 * side
            _lay(radiance, _mask(view, arm), cloth * rounded(m + side * (w + 12) + lean, 70)[..., None])
        half = [(62, 0), (w - 60, 26), (w - 6, 60), (slim + 18, 240), (slim + 8, 420), (slim + 26, 690)]
        torso = _smooth([(m + a, n + d) for a, d in half] + [(m - a, n + d) for a, d in half[::-1]])
        mask = _mask(view, torso)
        _shadow(
            radiance, mask, (-lx * 14 * scale, -ly * 6 * scale), 12 * scale, 0.45 * (1 - light.ambient_share) + 0.12
        )
        _lay(radiance, mask, cloth * rounded(m, slim + 60)[..., None])
        neck = _smooth([(m - 56, n - 100), (m + 56, n - 100), (m + 58, n + 20), (m, n + 70), (m - 58, n + 20)])
        shirt = _smooth([(m - 58, n - 8), (m + 58, n - 8), (m + 40, n + 60), (m, n + 200), (m - 40, n + 60)], 2)
        _lay(radiance, _mask(view, shirt), self.shirt * rounded(m, 110)[..., None])
        _lay(radiance, _mask(view, neck), self.skin * rounded(m, 66)[..., None])
        tie = np.array([(m - 17, n + 52), (m + 17, n + 52), (m + 21, n + 200), (m - 21, n + 200)])
        _lay(radiance, _mask(view, tie), self.tie * rounded(m, 60)[..., None])
        for side in (-1, 1):
            collar = [(58, -18), (22, 52), (40, 98), (78, 22)]
            mask = _mask(view, np.array([(m + side * a, n + d) for a, d in collar]))
            _shadow(radiance, mask, (-lx * 2 * scale, 2.5 * scale), 2.5 * scale, 0.35)
            _lay(radiance, mask, self.shirt * 0.97)
            edge = [(76, 4), (112, 96), (88, 104), (104, 122), (4, 214), (18, 190), (44, 98)]
            mask = _mask(view, np.array([(m + side * a, n + d) for a, d in edge]))
            _shadow(radiance, mask, (-lx * 2 * scale, 3 * scale), 2.5 * scale, 0.4)
            _lay(radiance, mask, cloth * 1.04)
        for dx, depth in ((16, 0.42), (-2, 0.12)):
            self._seam(radiance, view, [(m + dx, n + 212), (m + dx + 2, n + 690)], depth)
        for side in (-1, 1):
            cx, top, half = m + side * (w * 0.47), 24.0 + 8 * rng.random(), 58
            outline = [(cx - half, top), (cx - half, top + 46), (cx, top + 58), (cx + half, top + 46), (cx + half, top)]
            self._seam(radiance, view, [*outline, outline[0]], 0.3)
            self._put(radiance, view, button_patch((cx, top + 42), 13, self.metal, light, 2 * scale, rng))
        for i in range(4):
            self._put(radiance, view, button_patch((m + 4, n + 236 + i * 92), 20, self.metal, light, 2 * scale, rng))
        self._extras(radiance, view, rng, scale)
        return radiance

    def _extras(self, radiance: np.ndarray, view: View, rng: np.random.Generator, scale: float) -> None:
        m, n, w, light = self.middle, self.neck, self.wide, self.light
        right = m - w * 0.47
        if "plate" in self.extras:
            for patch in name_plate((right - 40, 18, right + 40, 26), light, 2 * scale, rng):
                self._put(radiance, view, patch)
        if "badge" in self.extras:
            for patch in badge((right, n + 128), light, 2 * scale, rng):
                self._put(radiance, view, patch)
        if "flag" in self.extras:  # a coloured cloth patch on the sleeve, striped as a bar is
            high, wide = round(38 * scale), round(56 * scale)
            tones = np.exp(rng.normal(np.log(0.2), 0.8, (int(rng.integers(2, 5)), 1, 3))).clip(0.01, 0.8)
            rgb = np.repeat(tones, -(-high // len(tones)), 0)[:high]
            rgb = np.repeat(rgb, wide, 1).astype(np.float32)
            self._put(radiance, view, Patch(rgb, np.ones(rgb.shape[:2], np.float32), scale, m + w - 8, n + 110, z=0.8))
        if "cord" in self.extras:
            points = _smooth(
                [
                    (m - w + 40, n + 40),
                    (m - w + 70, n + 200),
                    (m - 60, n + 190),
                    (m - 40, n + 120),
                    (m - 60, n + 190),
                    (m - w + 66, n + 206),
                ]
            )
            projected = np.round(view.project(points) * 16).astype(np.int32)
            overlay = np.zeros(view.size[::-1], np.uint8)
            cv2.polylines(overlay, [projected], False, 255, max(round(6 * scale), 1), cv2.LINE_AA, 4)
            _lay(radiance, overlay, np.float32([0.55, 0.4, 0.08]) * float(rng.uniform(0.3, 1.2)))

    def _seam(self, radiance: np.ndarray, view: View, points: list[tuple[float, float]], depth: float) -> None:
        mask = np.zeros(view.size[::-1], np.uint8)
        line = np.round(np.clip(view.project(np.array(points)), -8000, 16000) * 16).astype(np.int32)
        thick = max(round(1.2 * view.density_at()), 1)
        cv2.polylines(mask, [line], False, 255, thick, cv2.LINE_AA, 4)
        x, y, w, h = cv2.boundingRect(mask)
        x, y = max(x - 9, 0), max(y - 9, 0)
        part = (slice(y, y + h + 18), slice(x, x + w + 18))
        soft = cv2.GaussianBlur(mask[part], (0, 0), max(0.6 * thick, 0.6)).astype(np.float32) / 255
        radiance[part] *= (1 - depth * soft)[..., None]

    def _put(self, radiance: np.ndarray, view: View, patch: Patch) -> None:
        cast_shadow(radiance, view, patch, self.light)
        stamp(radiance, view, patch)


def _cut(backdrop: np.ndarray, view: View) -> np.ndarray:
    """The part of the (small) backdrop behind this window."""
    x, y, w, h = view.window
    k = backdrop.shape[1] / 4032
    move = np.float32([[w * k / view.size[0], 0, x * k], [0, h * k / view.size[1], y * k]])
    return cv2.warpAffine(
        backdrop, move, view.size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )


def backdrop(rng: np.random.Generator) -> np.ndarray:
    """A far, blurred room at 252 x 189: (H, W, 3) linear."""
    kind = str(rng.choice(["wall", "flags", "lights", "garden", "hall"]))
    height, width = 189, 252
    tone = np.exp(rng.normal(np.log(0.2), 0.6)) * np.exp(rng.normal(0, 0.2, 3))
    picture = np.empty((height, width, 3), np.float32)
    picture[:] = np.clip(tone, 0.01, 0.8)
    picture *= np.linspace(float(rng.uniform(0.6, 1.2)), float(rng.uniform(0.5, 1.1)), height, dtype=np.float32)[
        :, None, None
    ]
    if kind == "flags":
        for _ in range(int(rng.integers(1, 4))):
            x, wide = int(rng.integers(-20, width - 30)), int(rng.integers(30, 90))
            stripes = np.exp(rng.normal(np.log(0.2), 0.9, (int(rng.integers(2, 6)), 3))).clip(0.01, 0.85)
            upright = rng.random() < 0.6
            span = max(min(x + wide, width) - max(x, 0), 1)
            index = np.linspace(0, len(stripes) - 1e-3, span if upright else height).astype(int)
            block = stripes[index][None] if upright else stripes[index][:, None]
            waves = 1 + 0.25 * np.sin(np.linspace(0, float(rng.uniform(6, 20)), span))[None, :, None]
            picture[:, max(x, 0) : max(x, 0) + span] = block * waves
    elif kind in ("lights", "hall"):
        for _ in range(int(rng.integers(6, 40))):
            at = (int(rng.integers(width)), int(rng.integers(height)))
            colour = np.exp(rng.normal(0.2, 0.8, 3)).clip(0.05, 4.0).tolist()
            cv2.circle(picture, at, int(rng.integers(1, 9)), colour, -1, cv2.LINE_AA)
    if kind in ("garden", "hall", "wall"):
        for _ in range(int(rng.integers(5, 30))):
            at, axes = (
                (int(rng.integers(width)), int(rng.integers(height))),
                (int(rng.integers(5, 50)), int(rng.integers(5, 60))),
            )
            colour = np.exp(rng.normal(np.log(0.2), 0.8, 3))
            if kind == "garden":
                colour = colour * (0.7, 1.3, 0.5)
            shade = picture.copy()
            cv2.ellipse(shade, at, axes, float(rng.uniform(0, 180)), 0, 360, np.clip(colour, 0.01, 1.2).tolist(), -1)
            picture = picture * 0.4 + shade * 0.6
    return cv2.GaussianBlur(picture, (0, 0), float(rng.uniform(1.5, 9)))
