"""One photograph: from a level and a seed to pixels, what is true of them, and the file."""

import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from ribbonbar.spec.model import Specification
from tests.simulator import cloth, props
from tests.simulator.backing import backing_tile, lay_backing
from tests.simulator.bar import Bar, judge, random_bar
from tests.simulator.camera import develop, distorted, expose, from_jpeg, lens, to_jpeg
from tests.simulator.catalogue import invent
from tests.simulator.chest import Chest, backdrop
from tests.simulator.scene import Patch, View, cast_shadow, pose, stamp
from tests.simulator.settings import Shot, draw_shot

ORIGIN = np.zeros((1, 2))


@dataclass(frozen=True)
class Photograph:
    """``pixels`` is (H, W, 3) uint8 sRGB, upright, as decoded from ``jpeg``; ``truth`` as `truth_of` gives it."""

    name: str
    pixels: np.ndarray
    truth: dict
    jpeg: bytes
    specification: Specification
    bar: Bar

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
    order: str | None = None,
    mirrored: bool | None = None,
    upside_down: bool = False,
    name: str | None = None,
    **fixed,
) -> Photograph:
    """A photograph at ``level`` 1 (tidy close-up) to 4 (whole chest at 12 megapixels); same arguments, same picture.

    ``catalogue`` (default: an invented one of 300 ribbons) gives the ribbons; ``bar`` a certain bar, ``order`` a
    certain order of wear; ``mirrored`` and ``upside_down`` turn the picture (default: 1 in 12 mirrored at levels 2 and
    3); further keywords replace settings of the shot, see `settings.draw_shot`.
    """
    rng = np.random.default_rng([seed, level, 977])
    specification = catalogue if catalogue is not None else invent(1, 300)
    if bar is None:
        bar = random_bar(specification, level, rng, order)
    if mirrored is None:
        mirrored = level in (2, 3) and bool(rng.random() < 1 / 12)
    widths = [sum(m.ribbon.width_mm for m in row) for row in bar.rows]
    shot = draw_shot(level, rng, max(widths) / (10.7 * len(bar.rows)), **fixed)
    rows = cloth.lay_out(bar, shot.wear, rng)
    points = np.concatenate([p.corners for row in rows for p in row])
    camera, face = _aim(shot, points)
    pixels, patch = _photograph(shot, rows, points, camera, rng)
    if mirrored:
        pixels = np.ascontiguousarray(pixels[:, ::-1])
    if upside_down:
        pixels = np.ascontiguousarray(pixels[::-1, ::-1])
    jpeg = to_jpeg(pixels, shot.camera)
    name = name or f"s{level}-{seed:05d}"

    def to_picture(corners: np.ndarray) -> np.ndarray:
        view = View(camera, (0, 0, *shot.size))
        at = distorted(view.project(corners, patch.z), *shot.size, shot.camera.distortion)
        if mirrored:
            at = np.column_stack([shot.size[0] - 1 - at[:, 0], at[:, 1]])
        if upside_down:
            at = np.array(shot.size) - 1 - at
        return at

    truth = truth_of(name, seed, shot, bar, rows, specification, to_picture, mirrored, upside_down)
    truth["view"]["px_per_mm"] = round(face, 2)
    return Photograph(name, from_jpeg(jpeg), truth, jpeg, specification, bar)


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


def _photograph(shot: Shot, rows, points: np.ndarray, camera: np.ndarray, rng: np.random.Generator):
    """Draw the scene, light it and take the picture: (H, W, 3) uint8, and the bar's patch."""
    whole = View(camera, (0, 0, *shot.size), 0.5 if shot.level == 4 else 1.0)
    face = View(camera, whole.window).density_at()
    patch = cloth.bar_patch(rows, shot.wear, shot.light, float(np.clip(1.8 * face, 4, 24)), rng)
    sample = float(patch.rgb[patch.alpha > 0.9].mean())
    tile = backing_tile(shot.backing, face, shot.light, rng)
    offset = tuple(float(v) for v in rng.uniform(0, tile.size_mm, 2))
    if shot.level == 4:
        behind, _ = backdrop(rng)
        chest = Chest(shot.backing, float(np.ptp(points[:, 0])), shot.light, rng)
        picture = _chest_picture(shot, whole, chest, tile, behind, offset, patch)
    else:
        turn = float(rng.normal(0, 3)) if tile.name not in ("oak", "walnut", "pine") else float(rng.uniform(0, 180))
        radiance = lay_backing(tile, whole, turn, offset)
        box = (*points.min(0).tolist(), *points.max(0).tolist())
        for name in shot.props:
            make = props.ON_CLOTH.get(name) or props.ON_TABLE[name]
            for prop in make(box, shot.light, float(np.clip(1.5 * face, 3, 16)), rng):
                cast_shadow(radiance, whole, prop, shot.light)
                stamp(radiance, whole, prop)
        _put_bar(radiance, whole, patch, shot)
        picture = lens(_lit(radiance, whole, shot), shot.camera)
    metered = float(np.clip(0.75 * sample + 0.25 * float(picture[::16, ::16, 1].mean()), 0.03, 0.5))
    gain = 2**shot.camera.ev * 1.0 / float((shot.camera.mixing @ (shot.light.key + shot.light.ambient)).max())
    gain *= (0.17 / metered) ** 0.35
    return develop(picture, shot.camera, shot.light.key + shot.light.ambient, gain, rng), patch


def _put_bar(radiance: np.ndarray, view: View, patch: Patch, shot: Shot) -> None:
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


def _chest_picture(shot: Shot, whole: View, chest: Chest, tile, behind, offset, patch: Patch) -> np.ndarray:
    """The chest at half size, enlarged, and the bar's surroundings at full size let into it."""
    radiance = chest.draw(whole, tile, behind, offset)
    picture = cv2.resize(lens(_lit(radiance, whole, shot), shot.camera, 0.5), shot.size, interpolation=cv2.INTER_CUBIC)
    full = View(whole.camera, whole.window)
    height, width = patch.alpha.shape
    box = np.array([[0, 0], [width, 0], [width, height], [0, height]]) / patch.density + (patch.left, patch.top)
    at = full.project(box, patch.z)
    low = np.maximum(np.floor(at.min(0)).astype(int) - 60, 0)
    high = np.minimum(np.ceil(at.max(0)).astype(int) + 60, shot.size)
    near = View(whole.camera, (int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1])))
    radiance = chest.draw(near, tile, behind, offset)
    _put_bar(radiance, near, patch, shot)
    detail = lens(_lit(radiance, near, shot), shot.camera)
    ramp = [
        np.clip(np.minimum(np.arange(n), np.arange(n)[::-1]) / 24, 0, 1).astype(np.float32) for n in near.size[::-1]
    ]
    feather = np.minimum.outer(*ramp)[..., None]
    where = (slice(low[1], high[1]), slice(low[0], high[0]))
    picture[where] = picture[where] * (1 - feather) + detail * feather
    return picture


def _rounded(points: np.ndarray) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in points]


def truth_of(
    name, seed, shot: Shot, bar: Bar, rows, specification, to_picture, mirrored: bool, upside_down: bool
) -> dict:
    """What is true of the picture, as plain values.

    Coordinates are of the upright picture, quads clockwise from top left as the picture shows it; ``ribbons`` stand in
    reading order as seen, so a mirrored or upside-down picture lists them as a viewer of it would. ``reversed`` is said
    of the mounting, ``outcome`` and ``out_of_place`` of the bar itself, positions again as seen.
    """
    judged = judge(bar, specification)
    seen_rows = [list(enumerate(row)) for row in rows]
    own = {(r, p): f"{r + 1}.{p + 1}" for r, row in enumerate(rows) for p in range(len(row))}
    order = [[(r, p) for p in range(len(row))] for r, row in enumerate(rows)]
    turned = [0, 1, 2, 3]
    if mirrored:
        order = [line[::-1] for line in order]
        turned = [1, 0, 3, 2]
    if upside_down:
        order = [line[::-1] for line in order[::-1]]
        turned = [turned[(i + 2) % 4] for i in range(4)]
    renamed, ribbons, row_quads, everything = {}, [], [], []
    for r, line in enumerate(order, 1):
        quads = []
        for p, (row, place) in enumerate(line, 1):
            placed = seen_rows[row][place][1]
            renamed[own[row, place]] = f"{r}.{p}"
            corners = to_picture(placed.corners)[turned]
            quads.append(corners)
            mounted = placed.mounted
            ribbons.append({
                "position": f"{r}.{p}",
                "corners": _rounded(corners),
                "award": mounted.award,
                "unknown": mounted.unknown,
                "same_ribbon": mounted.same_ribbon[0] if mounted.same_ribbon else None,
                "also": list(mounted.same_ribbon),
                "reversed": mounted.reversed,
                "symmetric": mounted.ribbon.symmetrical,
                "emblems": list(mounted.emblems),
                "dye_de00": placed.dye_de00,
            })  # fmt: skip
        everything += quads
        row_quads.append(_rounded(np.array([quads[0][0], quads[-1][1], quads[-1][2], quads[0][3]])))
    points = np.concatenate([p.corners for row in rows for p in row])
    (left, top), (right, bottom) = points.min(0), points.max(0)
    corners = to_picture(np.array([[left, top], [right, top], [right, bottom], [left, bottom]]))[turned]
    hull = cv2.convexHull(np.concatenate(everything).astype(np.float32)).reshape(-1, 2)
    camera, light = shot.camera, shot.light
    return {
        "id": name,
        "seed": seed,
        "level": shot.level,
        "photo": f"{name}.jpg",
        "width": shot.size[0],
        "height": shot.size[1],
        "exif_orientation": camera.orientation,
        "order_of_wear": bar.order,
        "bars": [{
            "corners": _rounded(corners),
            "hull": _rounded(hull),
            "rows": row_quads,
            "row_lengths": [len(line) for line in order],
            "ribbons": ribbons,
        }],
        "mirrored": mirrored,
        "upside_down": upside_down,
        "any_reversed": any(m.reversed for m in bar.ribbons),
        "outcome": judged.outcome,
        "why": {"unsettled": judged.unsettled, "same": judged.same, "unknown": judged.unknown},
        "out_of_place": [sorted(renamed[p] for p in group) for group in judged.out_of_place],
        "old": shot.wear.fading > 0,
        "backing": shot.backing,
        "props": list(shot.props),
        "light": {"mode": shot.mode, "kelvin": [round(k) for k in shot.kelvin],
                  "ambient": round(light.ambient_share, 2), "elevation": round(shot.elevation),
                  "shadow_edge": bool(shot.shadow), "glare": bool(shot.glare)},
        "view": {"tilt": round(shot.tilt, 1), "roll": round(shot.roll, 1), "focal": round(shot.focal, 1),
                 "share": round(shot.share, 3)},
        "camera": {"k": round(camera.distortion, 4), "ev": round(camera.ev, 2),
                   "wb_residual": [round(v, 3) for v in camera.residual], "adapted": round(camera.adapted, 2),
                   "motion_px": round(camera.motion[0], 1), "blur_sigma": round(camera.blur, 2),
                   "scurve": round(camera.curve, 2), "grain": round(camera.grain, 4)},
        "jpeg_quality": camera.quality,
    }  # fmt: skip
