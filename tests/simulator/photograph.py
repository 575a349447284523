"""One photograph: from a level and a seed to pixels, what is true of them, and the file."""

import json
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from ribbonbar.spec.model import Specification
from tests.simulator import cloth, props
from tests.simulator.backing import backing_tile, lay_backing
from tests.simulator.bar import Bar, random_bar
from tests.simulator.camera import develop, distorted, expose, from_jpeg, lens, to_jpeg
from tests.simulator.catalogue import invent
from tests.simulator.chest import Chest, backdrop
from tests.simulator.cloth import Placed
from tests.simulator.scene import Patch, View, cast_shadow, pose, stamp
from tests.simulator.settings import Shot, draw_shot
from tests.simulator.truth import Turned, truth_of

Rows = list[list[Placed]]


@dataclass(frozen=True)
class Photograph:
    """``pixels`` is (H, W, 3) uint8 sRGB, upright, as decoded from ``jpeg``; ``truth`` as `truth.truth_of` gives it."""

    name: str
    pixels: np.ndarray
    truth: dict
    jpeg: bytes
    specification: Specification
    bars: tuple[Bar, ...]

    def save(self, folder: Path) -> None:
        """Write NAME.jpg and NAME.json."""
        (folder / f"{self.name}.jpg").write_bytes(self.jpeg)
        (folder / f"{self.name}.json").write_text(json.dumps(self.truth, indent=1), encoding="utf-8")


def simulate(
    level: int,
    seed: int,
    catalogue: Specification | None = None,
    *,
    bar: Bar | None = None,
    second: Bar | None = None,
    order: str | None = None,
    bare: bool = False,
    mirrored: bool | None = None,
    upside_down: bool = False,
    name: str | None = None,
    **fixed,
) -> Photograph:
    """A photograph at ``level`` 1 (tidy close-up) to 4 (whole chest at 12 megapixels); same arguments, same picture.

    ``catalogue`` (default: an invented one of 300 ribbons) gives the ribbons; ``bar`` a certain bar, ``second``
    another one lying below it, ``order`` a certain order of wear; ``bare`` leaves the bar away; ``mirrored`` and
    ``upside_down`` turn the picture (default: 1 in 12 mirrored at levels 2 and 3); further keywords replace settings
    of the shot, see `settings.draw_shot`.
    """
    rng = np.random.default_rng([seed, level, 977])
    specification = catalogue if catalogue is not None else invent(1, 300)
    if bar is None:
        bar = random_bar(specification, level, rng, order)
    if mirrored is None:
        mirrored = level in (2, 3) and bool(rng.random() < 1 / 12)
    widths = [sum(m.ribbon.width_mm for m in row) for row in bar.rows]
    shot = draw_shot(level, rng, max(widths) / (10.7 * len(bar.rows)), **fixed)
    laid = [cloth.lay_out(bar, shot.wear, rng)]
    if second:
        below = cloth.corners_of(laid[0])[:, 1].max() + float(rng.uniform(18, 40))
        rows = cloth.lay_out(second, shot.wear, rng)
        move = np.array([float(rng.uniform(-15, 15)), below - cloth.corners_of(rows)[:, 1].min()])
        laid.append([[replace(p, corners=p.corners + move) for p in row] for row in rows])
    camera, density = _aim(shot, cloth.corners_of(laid[0]))
    pixels, height = _photograph(shot, laid, camera, rng, bare)
    if mirrored:
        pixels = pixels[:, ::-1]
    if upside_down:
        pixels = pixels[::-1, ::-1]
    jpeg = to_jpeg(np.ascontiguousarray(pixels), shot.camera)
    name = name or f"s{level}-{seed:05d}"
    view = View(camera, (0, 0, *shot.size))

    def to_picture(corners: np.ndarray) -> np.ndarray:
        return distorted(view.project(corners, height), *shot.size, shot.camera.distortion)

    turned = Turned(mirrored, upside_down, shot.size, to_picture)
    bars = () if bare else (bar, second) if second else (bar,)
    truth = truth_of(name, seed, shot, bars, laid, specification, turned, density)
    return Photograph(name, from_jpeg(jpeg), truth, jpeg, specification, bars)


def _aim(shot: Shot, points: np.ndarray) -> tuple[np.ndarray, float]:
    """The camera whose picture shows the bar at the wanted share of the width and place; and its px per mm."""
    width, height = shot.size
    focal = shot.focal / 36 * width
    bar_width = float(np.ptp(points[:, 0]))
    distance = focal * bar_width / (shot.share * width)
    aim = np.zeros(2)
    for _ in range(6):
        camera = pose(width, height, focal, distance, shot.tilt, shot.tilt_towards, shot.roll, tuple(aim))
        view = View(camera, (0, 0, width, height))
        at = view.project(points)
        distance *= float(np.ptp(at[:, 0])) / (shot.share * width)
        middle = (at.min(0) + at.max(0)) / 2
        wanted = (np.array(shot.offset) + 0.5) * (width, height)
        back = cv2.perspectiveTransform(
            np.array([[middle], [wanted]], np.float64).reshape(-1, 1, 2), np.linalg.inv(view.plane())
        ).reshape(-1, 2)
        aim = aim + (back[0] - back[1])
    camera = pose(width, height, focal, distance, shot.tilt, shot.tilt_towards, shot.roll, tuple(aim))
    return camera, View(camera, (0, 0, width, height)).density_at()


def _photograph(
    shot: Shot, laid: list[Rows], camera: np.ndarray, rng: np.random.Generator, bare: bool
) -> tuple[np.ndarray, float]:
    """Draw the scene, light it and take the picture: (H, W, 3) uint8, and the bars' height over the plane in mm."""
    whole = View(camera, (0, 0, *shot.size), 0.5 if shot.level == 4 else 1.0)
    density = View(camera, whole.window).density_at()
    height = float(rng.uniform(1.6, 3.0))
    fine = float(np.clip(1.8 * density, 4, 24))
    patches = [cloth.bar_patch(rows, height, shot.wear, shot.light, fine, rng) for rows in laid]
    brightness = float(patches[0].rgb[patches[0].alpha > 0.9].mean())
    if bare:
        patches = []
    tile = backing_tile(shot.backing, density, shot.light, rng)
    offset = tuple(float(v) for v in rng.uniform(0, tile.size_mm, 2))
    corners = np.concatenate([cloth.corners_of(rows) for rows in laid])
    if shot.level == 4:
        chest = Chest(shot.backing, float(np.ptp(corners[:, 0])), shot.light, rng)
        picture = _chest_picture(shot, whole, chest, tile, backdrop(rng), offset, patches)
    else:
        turn = float(rng.uniform(0, 180)) if tile.name in ("oak", "walnut", "pine") else float(rng.normal(0, 3))
        radiance = lay_backing(tile, whole, turn, offset)
        box = (*corners.min(0).tolist(), *corners.max(0).tolist())
        for name in shot.props:
            make = props.ON_CLOTH.get(name) or props.ON_TABLE[name]
            for prop in make(box, shot.light, float(np.clip(1.5 * density, 3, 16)), rng):
                _put(radiance, whole, prop, shot)
        for patch in patches:
            _put(radiance, whole, patch, shot)
        picture = lens(_lit(radiance, whole, shot), shot.camera)
    light = shot.light.key + shot.light.ambient
    metered = float(np.clip(0.5 * brightness + 0.5 * float(picture[::16, ::16, 1].mean()), 0.02, 0.6))
    gain = 2**shot.camera.ev * (0.17 / metered) ** 0.6 / float((shot.camera.mixing @ light).max())
    return develop(picture, shot.camera, light, gain, rng), height


def _put(radiance: np.ndarray, view: View, patch: Patch, shot: Shot) -> None:
    cast_shadow(radiance, view, patch, shot.light)
    stamp(radiance, view, patch)


def _lit(radiance: np.ndarray, view: View, shot: Shot) -> np.ndarray:
    """Sensor values of a drawn window: the lights' fall, the shadow edge, glare."""
    k = 8
    small = View(view.camera, view.window, view.scale / k)
    x, y = small.grid()
    amount, direction = shot.falloff
    span = 0.5 * shot.size[0] / View(view.camera, (0, 0, *shot.size)).density_at()
    along = (x * np.cos(np.radians(direction)) + y * np.sin(np.radians(direction))) / span
    key = 1 / (1 + 0.6 * amount * np.clip(along, -0.9, 4)) ** 2 if amount else np.ones_like(x)
    if shot.gradient[0]:
        turn = np.radians(shot.gradient[1])
        mixed = 1 + shot.gradient[0] * np.tanh((x * np.cos(turn) + y * np.sin(turn)) / span)
        key = key * mixed
        ambient = np.clip(2 - mixed, 0.2, 2)
    else:
        ambient = np.ones_like(x)
    if shot.shadow:
        angle, at, penumbra, depth = shot.shadow
        across = x * np.cos(np.radians(angle)) + y * np.sin(np.radians(angle)) - at
        key = key * (1 - depth / (1 + np.exp(-np.clip(across / (0.25 * penumbra), -30, 30))))
        ambient = ambient * (1 - 0.25 * depth / (1 + np.exp(-np.clip(across / penumbra, -30, 30))))
    light = cv2.resize(np.dstack([ambient, key]).astype(np.float32), view.size, interpolation=cv2.INTER_LINEAR)
    if shot.glare:
        gx, gy, radius, strength = shot.glare
        shine = strength * np.exp(-((x - gx) ** 2 + 4 * (y - gy) ** 2) / (2 * radius**2))
        radiance = radiance + cv2.resize(shine.astype(np.float32), view.size)[..., None]
    return expose(radiance, light, shot.light.ambient, shot.light.key, shot.camera)


def _chest_picture(shot: Shot, whole: View, chest: Chest, tile, behind, offset, patches: list[Patch]) -> np.ndarray:
    """The chest at half size, enlarged, and the bar's surroundings at full size let into it."""
    radiance = chest.draw(whole, tile, behind, offset)
    picture = cv2.resize(lens(_lit(radiance, whole, shot), shot.camera, 0.5), shot.size, interpolation=cv2.INTER_CUBIC)
    for patch in patches:
        _let_in(picture, shot, whole, chest, tile, behind, offset, patch)
    return picture


def _let_in(picture, shot: Shot, whole: View, chest: Chest, tile, behind, offset, patch: Patch) -> None:
    """The surroundings of one bar at full size, let into the picture."""
    full = View(whole.camera, whole.window)
    height, width = patch.alpha.shape
    box = np.array([[0, 0], [width, 0], [width, height], [0, height]]) / patch.density + (patch.left, patch.top)
    at = full.project(box, patch.z)
    low = np.maximum(np.floor(at.min(0)).astype(int) - 60, 0)
    high = np.minimum(np.ceil(at.max(0)).astype(int) + 60, shot.size)
    near = View(whole.camera, (int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1])))
    radiance = chest.draw(near, tile, behind, offset)
    _put(radiance, near, patch, shot)
    detail = lens(_lit(radiance, near, shot), shot.camera)
    ramp = [
        np.clip(np.minimum(np.arange(n), np.arange(n)[::-1]) / 24, 0, 1).astype(np.float32) for n in near.size[::-1]
    ]
    feather = np.minimum.outer(*ramp)[..., None]
    where = (slice(low[1], high[1]), slice(low[0], high[0]))
    picture[where] = picture[where] * (1 - feather) + detail * feather
