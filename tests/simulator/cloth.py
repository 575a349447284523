"""The bar as an object: every ribbon's cloth, mounted a little unevenly, its emblems, and where its corners are."""

from dataclasses import dataclass

import cv2
import numpy as np

from ribbonbar.spec.model import Ribbon
from tests.simulator.bar import Bar, Mounted
from tests.simulator.catalogue import diagonal_phase
from tests.simulator.colour import difference, dye_lot, linear_from_lab
from tests.simulator.emblems import emblem_patch
from tests.simulator.scene import Light, Patch, periodic_noise

LUT_PER_MM = 25


@dataclass(frozen=True)
class Wear:
    """How worn the cloth is. ``fading`` 0..1 goes toward pale and yellowish; ``dirt`` 0..1; ``lot`` the range of the
    dyes' departure in CIEDE2000; ``slack`` scales the mounting's unevenness; ``sheen``
    is the fibres' own gloss, a reflectance of the light's colour that lifts dark dyes."""

    fading: float = 0.0
    dirt: float = 0.0
    lot: tuple[float, float] = (1.8, 5.0)
    slack: float = 1.0
    sheen: float = 0.0


@dataclass(frozen=True)
class Placed:
    """One ribbon in the bar's frame: ``corners`` (4, 2) mm clockwise from top left, and its dyes as they really are."""

    mounted: Mounted
    corners: np.ndarray
    dyes: dict[str, np.ndarray]
    dye_de00: dict[str, float]


def lay_out(bar: Bar, wear: Wear, rng: np.random.Generator) -> list[list[Placed]]:
    """Where each ribbon sits: rows 10 mm high, a gap between them, every ribbon and row a little off its place."""
    slack = wear.slack
    gap = float(rng.uniform(0.2, 1.1))
    widths = [sum(m.ribbon.width_mm for m in row) for row in bar.rows]
    widest = max(widths)
    rows: list[list[Placed]] = []
    y = 0.0
    for row, width in zip(bar.rows, widths, strict=True):
        left = (widest - width) * (bar.top if width < widest - 4 else 0.5) + float(rng.normal(0, 0.35)) * slack
        slope = np.radians(float(rng.normal(0, 0.25)) * slack)
        placed, x = [], left
        for mounted in row:
            ribbon = mounted.ribbon
            wide = ribbon.width_mm + float(rng.normal(0, 0.15)) * slack
            high = ribbon.height_mm + float(rng.normal(0, 0.12)) * slack
            turn = np.radians(float(np.clip(rng.normal(0, 0.25), -0.6, 0.6)) * slack)
            up = float(np.clip(rng.normal(0, 0.22), -0.55, 0.55)) * slack + (x - left) * slope
            box = np.array([[0, 0], [wide, 0], [wide, high], [0, high]])
            middle = box.mean(0)
            rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
            corners = (box - middle) @ rotation.T + middle + (x, y + up)
            placed.append(Placed(mounted, corners, *_dyes(ribbon, wear, rng)))
            x += wide + float(np.clip(rng.normal(0.06, 0.08), -0.02, 0.3)) * slack
        rows.append(placed)
        y += 10.0 + gap + float(rng.normal(0, 0.12)) * slack
    points = np.concatenate([p.corners for row in rows for p in row])
    middle = (points.min(0) + points.max(0)) / 2
    return [[Placed(p.mounted, p.corners - middle, p.dyes, p.dye_de00) for p in row] for row in rows]


def _dyes(ribbon: Ribbon, wear: Wear, rng: np.random.Generator) -> tuple[dict[str, np.ndarray], dict[str, float]]:
    """Every dye of one ribbon as this lot and these years made it, linear RGB, and its departure."""
    seen, departure = {}, {}
    for stripe in ribbon.stripes:
        for colour in (stripe.start, stripe.end):
            if colour.name in seen:
                continue
            lab = np.array(colour.lab, float)
            hue, chroma = np.arctan2(lab[2], lab[1]), np.hypot(*lab[1:])
            blue_green = max(0.0, float(np.cos(hue - np.radians(215)))) * min(chroma / 25, 1)
            moved = dye_lot(lab, float(rng.uniform(*wear.lot)) * (1 + 0.25 * blue_green), rng)
            if wear.fading:
                amount = wear.fading * float(rng.uniform(0.5, 1.2))
                moved = moved + amount * np.array([0.42 * (86 - moved[0]), -0.6 * moved[1], 4.0 - 0.55 * moved[2]])
            seen[colour.name] = linear_from_lab(moved)
            departure[colour.name] = round(float(difference(lab, moved)), 2)
    return seen, departure


def _colour_line(placed: Placed, length_mm: float, rng: np.random.Generator, jitter: float) -> np.ndarray:
    """The stripes (or bands, or one diagonal period) along ``length_mm`` as (N, 3) linear, edges a little displaced."""
    ribbon = placed.mounted.ribbon
    widths = np.array([s.width for s in ribbon.stripes], float)
    widths *= np.clip(rng.normal(1, 0.03 * jitter, len(widths)), 0.85, 1.15)
    ends = np.cumsum(widths) / widths.sum() * length_mm
    ends[:-1] += np.clip(rng.normal(0, 0.07 * jitter, len(ends) - 1), -0.2, 0.2)
    starts = np.concatenate([[0.0], ends[:-1]])
    number = max(int(length_mm * LUT_PER_MM), 8)
    at = (np.arange(number) + 0.5) * length_mm / number
    index = np.minimum(np.searchsorted(ends, at, side="right"), len(ends) - 1)
    start = np.array([placed.dyes[s.start.name] for s in ribbon.stripes])[index]
    end = np.array([placed.dyes[s.end.name] for s in ribbon.stripes])[index]
    share = np.clip((at - starts[index]) / np.maximum(ends - starts, 1e-6)[index], 0, 1)[:, None]
    line = start + (end - start) * share
    if rng.random() < 0.5:  # no two weavers grade a shaded stripe alike: in even light, or evenly to the eye
        line = (np.cbrt(start) + (np.cbrt(end) - np.cbrt(start)) * share) ** 3
    line = line.astype(np.float32)
    return cv2.blur(line[None], (3, 1), borderType=cv2.BORDER_REPLICATE)[0]


def corners_of(rows: list[list[Placed]]) -> np.ndarray:
    """(N, 2) mm: every ribbon's corners."""
    return np.concatenate([placed.corners for row in rows for placed in row])


def bar_patch(
    rows: list[list[Placed]], z: float, wear: Wear, light: Light, density: float, rng: np.random.Generator
) -> Patch:
    """The bar's face as one patch at height ``z`` mm, ribbons and emblems, the wrap round the edges included."""
    margin = 1.2
    points = corners_of(rows)
    left, top = points.min(0) - margin
    right, bottom = points.max(0) + margin
    width, height = int(np.ceil((right - left) * density)), int(np.ceil((bottom - top) * density))
    rgb = np.full((height, width, 3), 0.02, np.float32)
    alpha = np.zeros((height, width), np.float32)
    tile = 256
    noises = [periodic_noise(rng, tile, 6, 0.6), periodic_noise(rng, tile, 0.5, 4), periodic_noise(rng, tile, 24, 24)]
    style = {"pitch": float(rng.uniform(0.30, 0.46)), "depth": float(rng.uniform(0.16, 0.42)),
             "thread": float(rng.uniform(0.02, 0.05)), "round": float(rng.uniform(0.35, 0.75))}  # fmt: skip
    # A carrier shows dark between the rows where they nearly touch.
    for row in rows:
        quad = np.concatenate([[p.corners[0], p.corners[1], p.corners[2], p.corners[3]] for p in row])
        hull = cv2.convexHull(((quad - (left, top)) * density).astype(np.float32)).reshape(-1, 2)
        cv2.fillConvexPoly(alpha, np.round(hull * 16).astype(np.int32), 1.0, cv2.LINE_AA, 4)
    for row in rows:
        for placed in row:
            _weave(rgb, alpha, placed, (left, top), density, style, noises, wear, light, rng)
    for row in rows:
        for placed in row:
            for patch in _emblems(placed, light, density, rng):
                _overlay(rgb, patch, (left, top), density, light)
    return Patch(rgb, np.clip(alpha, 0, 1), density, float(left), float(top), z=z)


def _weave(rgb, alpha, placed, origin, density, style, noises, wear, light, rng) -> None:
    """Draw one ribbon's cloth into the bar's canvas."""
    corners = placed.corners
    ribbon = placed.mounted.ribbon
    across, down = corners[1] - corners[0], corners[3] - corners[0]
    wide, high = float(np.linalg.norm(across)), float(np.linalg.norm(down))
    across, down = across / wide, down / high
    wrap = 0.45
    x0, y0 = np.maximum(np.floor((corners.min(0) - wrap - origin) * density).astype(int), 0)
    x1, y1 = np.ceil((corners.max(0) + wrap - origin) * density).astype(int)
    x1, y1 = min(x1, rgb.shape[1]), min(y1, rgb.shape[0])
    px = ((np.arange(x0, x1) + 0.5) / density + origin[0] - corners[0][0]).astype(np.float32)[None]
    py = ((np.arange(y0, y1) + 0.5) / density + origin[1] - corners[0][1]).astype(np.float32)[:, None]
    u = px * np.float32(across[0]) + py * np.float32(across[1])
    v = px * np.float32(down[0]) + py * np.float32(down[1])
    shape = u.shape

    def tiled(noise):
        dx, dy = rng.integers(0, noise.shape[0], 2)
        rolled = np.roll(noise, (dy, dx), (0, 1))
        reps = (shape[0] // noise.shape[0] + 1, shape[1] // noise.shape[1] + 1)
        return np.tile(rolled, reps)[: shape[0], : shape[1]]

    rib_noise, warp_noise, slow_noise = (tiled(n) for n in noises)
    pitch = style["pitch"] * float(rng.uniform(0.92, 1.08))
    phase = (v + 0.05 * slow_noise) / pitch
    turns = phase * np.float32(2 * np.pi)
    groove = (0.5 + 0.5 * np.cos(turns)) ** 3
    resolved = float(np.clip((density * pitch - 2.0) / 2.0, 0, 1))
    depth = style["depth"] * float(rng.uniform(0.8, 1.2))
    shade = (1 - depth * (0.3125 + resolved * (groove - 0.3125))) * (
        1 + style["thread"] * (rib_noise + 0.7 * warp_noise)
    )
    # Colours: a wobble of a thread or two at the stripes' edges, one weft at a time.
    jitter = float(rng.uniform(0.5, 1.2))
    rib_index = np.floor(phase).astype(np.int32)
    wobble = rng.normal(0, float(rng.uniform(0.006, 0.028)), 96).astype(np.float32)[rib_index % 96]
    mirrored = placed.mounted.reversed
    if ribbon.shape == "bands":
        line = _colour_line(placed, high, rng, jitter)
        at = v + wobble
    elif ribbon.shape == "diagonal":
        period = float(sum(s.width for s in ribbon.stripes))
        line = _colour_line(placed, period, rng, 0.4 * jitter)
        stepped = (rib_index + 0.5) * np.float32(pitch)
        x = np.float32(wide) - u if mirrored else u
        at = (diagonal_phase(x, stepped, ribbon.angle) + float(rng.uniform(0, period))) % period
    else:
        line = _colour_line(placed, wide, rng, jitter)
        at = u + wobble
        if mirrored:
            at = np.float32(wide) - at
    index = np.clip((at * LUT_PER_MM).astype(np.int32), 0, len(line) - 1)
    colour = line[index]
    # Form: the cloth turns over the carrier at top and bottom; the middle bulges or sags a little.
    over_top = np.clip((style["round"] * 0.6 - v) / style["round"], 0, 1.2)
    over_bottom = np.clip((v - high + style["round"] * 0.6) / style["round"], 0, 1.2)
    tilt_x, tilt_y = rng.normal(0, 0.025, 2)
    ny = -1.6 * over_top + 1.6 * over_bottom + tilt_y + resolved * 0.25 * depth * np.sin(turns)
    nx = tilt_x + 0.03 * slow_noise + 0.04 * (u / wide - 0.5)
    shade = shade * light.relative(nx.astype(np.float32), ny.astype(np.float32))
    edge = np.minimum(u, wide - u)
    shade = shade * (1 - 0.45 * np.exp(-np.maximum(edge, 0) / 0.12))
    colour = colour * shade[..., None]
    colour = colour + np.float32(wear.sheen) * (shade * (1 + 0.3 * rib_noise * style["thread"] / 0.035))[..., None]
    if wear.dirt:
        grime = np.clip(wear.dirt * (0.5 + 0.35 * slow_noise + 0.12 * rib_noise), 0, 0.8)[..., None]
        colour = colour * (1 - grime) + colour * grime * np.float32([0.55, 0.47, 0.36]) + 0.012 * grime
    if ribbon.frame:
        colour = _framed(colour, u, v, wide, high, linear_from_lab(np.array(ribbon.frame.lab)), density, light)
    inside = np.clip(np.minimum(edge, np.minimum(v + wrap, high + wrap - v)) * density + 0.5, 0, 1)
    part = (slice(y0, y1), slice(x0, x1))
    rgb[part] = rgb[part] * (1 - inside[..., None]) + colour * inside[..., None]
    alpha[part] = np.maximum(alpha[part], inside)


def _framed(colour, u, v, wide: float, high: float, metal: np.ndarray, density: float, light: Light) -> np.ndarray:
    """A half-round metal frame, 1.5 mm broad (from memory), laid round the cloth."""
    broad = np.float32(1.5)
    sides, ends = np.minimum(u, wide - u), np.minimum(v, high - v)
    into = np.minimum(sides, ends)
    lean = 1 - 2 * np.clip(into / broad, 0, 1)  # 1 at the outer rim, -1 at the inner
    nx = np.where(sides < ends, np.where(u < wide / 2, -lean, lean), 0) * 0.9
    ny = np.where(sides < ends, 0, np.where(v < high / 2, -lean, lean)) * 0.9
    shade = 0.2 + 0.8 * light.relative(nx, ny)
    glint = 0.5 * np.exp(-(((ny + 0.35) / 0.15) ** 2)) * (ends <= sides)
    bead = metal * shade[..., None] + glint[..., None] * (0.4 + 0.6 * metal)
    on = np.clip((broad - into) * density + 0.5, 0, 1)[..., None]
    return (colour * (1 - on) + bead * on).astype(np.float32)


def _emblems(placed: Placed, light: Light, density: float, rng: np.random.Generator) -> list[Patch]:
    """The emblem patches of one ribbon, in the bar's frame: in the middle, or side by side."""
    kinds = placed.mounted.emblems
    corners = placed.corners
    middle = corners.mean(0)
    along = (corners[1] - corners[0]) / np.linalg.norm(corners[1] - corners[0])
    spread = float(rng.uniform(7.0, 9.0))
    patches = []
    for i, kind in enumerate(kinds):
        at = middle + along * ((i - (len(kinds) - 1) / 2) * spread) + rng.normal(0, 0.35, 2)
        patches.append(emblem_patch(kind, (float(at[0]), float(at[1])), light, density, rng))
    return patches


def _overlay(rgb: np.ndarray, patch: Patch, origin, density: float, light: Light) -> None:
    """An emblem and its shadow onto the bar's canvas."""
    x = round((patch.left - origin[0]) * density)
    y = round((patch.top - origin[1]) * density)
    height, width = patch.alpha.shape
    x0, y0, x1, y1 = max(x, 0), max(y, 0), min(x + width, rgb.shape[1]), min(y + height, rgb.shape[0])
    if x1 <= x0 or y1 <= y0:
        return
    lx, ly, lz = light.towards
    lift = 0.9 * density
    shift = np.float32([[1, 0, -lx / lz * lift], [0, 1, -ly / lz * lift]])
    thrown = cv2.GaussianBlur(cv2.warpAffine(patch.alpha, shift, (width, height)), (0, 0), 0.25 * density)
    crease = cv2.GaussianBlur(patch.alpha, (0, 0), 0.4 * density)
    keep = (1 - (1 - light.ambient_share) * 0.8 * thrown) * (1 - 0.35 * crease)
    cut = (slice(y0 - y, y1 - y), slice(x0 - x, x1 - x))
    area = (slice(y0, y1), slice(x0, x1))
    a = patch.alpha[cut][..., None]
    rgb[area] = rgb[area] * keep[cut][..., None] * (1 - a) + patch.rgb[cut] * a
