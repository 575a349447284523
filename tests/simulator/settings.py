"""How hard each level is: the ranges of view, light and camera, and a draw from them."""

from dataclasses import dataclass

import numpy as np

from tests.simulator.backing import JACKETS, PATTERNED, TABLES
from tests.simulator.camera import Camera, sensor_matrix
from tests.simulator.cloth import Wear
from tests.simulator.colour import light_of
from tests.simulator.scene import Light


@dataclass(frozen=True)
class Shot:
    """One picture's settings. Angles in degrees; ``share``: the bar's part of the picture's width; ``offset``: where the
    bar's middle lies, as a part of the picture from its middle; ``shadow``: (angle, mm, penumbra mm, depth) of a
    shadow edge across the scene or None; ``glare``: (x mm, y mm, radius mm, strength)."""

    level: int
    size: tuple[int, int]
    share: float
    focal: float
    tilt: float
    tilt_towards: float
    roll: float
    offset: tuple[float, float]
    backing: str
    props: tuple[str, ...]
    light: Light
    mode: str
    kelvin: tuple[float, ...]
    elevation: float
    falloff: tuple[float, float]
    gradient: tuple[float, float]
    shadow: tuple[float, float, float, float] | None
    glare: tuple[float, float, float, float] | None
    wear: Wear
    camera: Camera


def draw_shot(level: int, rng: np.random.Generator, rows: int, aspect: float, **fixed) -> Shot:
    """Settings of a picture at a level 1 to 4. ``rows`` and ``aspect`` (bar width / height) decide what fits; ``fixed``
    replaces single settings by name (``backing``, ``props``, ``kelvin``, ``tilt``, ``roll``, ``share``, ``fading``,
    ``dirt``, ``ev``, ``mode``, ``size``)."""

    def pick(name: str, value):
        return fixed.get(name, value)

    size = pick("size", _size(level, rng))
    share = pick("share", _share(level, size, aspect, rng))
    tilt = pick("tilt", float(abs(rng.normal(0, 1)) * [2.5, 8, 15, 7][level - 1]))
    tilt = min(tilt, [6.0, 20.0, 40.0, 20.0][level - 1])
    roll = pick(
        "roll", float(np.clip(rng.normal(0, [1.0, 3.5, 9, 3.5][level - 1]), *_plus_minus([2, 8, 25, 9][level - 1])))
    )
    mode = pick("mode", str(rng.choice(["overcast", "window", "sun", "lamp", "two", "led"],
                                       p=[[0.6, 0.4, 0, 0, 0, 0], [0.25, 0.2, 0.15, 0.2, 0.08, 0.12],
                                          [0.1, 0.15, 0.12, 0.35, 0.13, 0.15],
                                          [0.25, 0.1, 0.15, 0.15, 0.25, 0.1]][level - 1])))  # fmt: skip
    light, kelvin, elevation = _light(mode, level, rng, fixed.get("kelvin"))
    hard = mode in ("window", "sun", "lamp", "led", "two")
    shadow_share = [0, 0.3, 0.45, 0.2][level - 1]
    shadow = None
    if pick("shadow", hard and rng.random() < shadow_share):
        shadow = (float(rng.uniform(0, 360)), float(rng.normal(0, 35)), float(rng.uniform(2, 30)),
                  float(rng.uniform(0.5, 1.0)))  # fmt: skip
    glare = None
    if level > 1 and hard and rng.random() < [0, 0.2, 0.35, 0.15][level - 1]:
        glare = (
            float(rng.normal(0, 50)),
            float(rng.normal(0, 20)),
            float(rng.uniform(15, 60)),
            float(rng.uniform(0.03, 0.14)),
        )
    cloth = level == 4 or rng.random() < 0.6
    backing = pick("backing", str(rng.choice(list(JACKETS) if cloth else list(TABLES))))
    if "backing" not in fixed and level == 3 and rng.random() < 0.07:
        backing = str(rng.choice(PATTERNED))
    on_cloth = backing in JACKETS
    pool = ["pocket", "lapel", "plate"] if on_cloth else ["ruler", "coins", "paper", "plate", "pen", "fingers"]
    number = int(rng.choice([0, 1, 2, 3], p=[[0.35, 0.65, 0, 0], [0.2, 0.4, 0.3, 0.1], [0.1, 0.4, 0.35, 0.15], [1, 0, 0, 0]][level - 1]))  # fmt: skip
    props = pick("props", tuple(str(p) for p in rng.choice(pool, min(number, len(pool)), replace=False)))
    old = rng.random() < [0.0, 0.12, 0.3, 0.2][level - 1]
    fading = pick("fading", float(rng.uniform(0.2, 0.6)) if old else 0.0)
    dirt = pick("dirt", float(rng.uniform(0.05, 0.25)) if old and rng.random() < 0.6 else 0.0)
    lot = [(1.5, 4.5), (1.8, 5.0), (1.8, 5.5), (1.8, 5.0)][level - 1]
    distance = float(rng.uniform(*_plus_minus(0.12))) if level < 4 else 0.0
    high_share = share * size[0] / size[1] / aspect
    room_x, room_y = max(0.0, 0.5 - share / 2 - 0.03), max(0.0, 0.5 - high_share / 2 - 0.06)
    spread = [0.25, 0.6, 0.8, 0.0][level - 1]
    offset = (float(rng.uniform(-room_x, room_x)) * spread, float(rng.uniform(-room_y, room_y)) * spread)
    falloff = (
        float(rng.uniform(0.25, 1.2)) if mode == "lamp" else float(rng.uniform(0, 0.25)),
        float(rng.uniform(0, 360)),
    )
    gradient = (float(rng.uniform(0.2, 0.9)) if mode == "two" else 0.0, float(rng.uniform(0, 360)))
    return Shot(
        level, size, share, float(rng.uniform(26, 60)), tilt, float(rng.uniform(0, 360)), roll,
        (offset[0] + 0 * distance, offset[1]), backing, props, light, mode, kelvin, elevation, falloff, gradient, shadow,
        glare, Wear(fading, dirt, lot, [0.8, 1.0, 1.2, 1.0][level - 1]), _camera(level, rng, mode, fixed),
    )  # fmt: skip


def _plus_minus(value: float) -> tuple[float, float]:
    return -value, value


def _size(level: int, rng: np.random.Generator) -> tuple[int, int]:
    if level == 4:
        return 4032, 3024
    width = int(rng.integers(*[(1500, 1800), (1360, 1840), (1280, 1600)][level - 1])) // 8 * 8
    ratio = float(rng.choice([4 / 3, 3 / 2, 16 / 9]))
    if level == 1:
        ratio = float(rng.choice([16 / 9, 2.0, 2.3]))
    if level == 2 and rng.random() < 0.12:
        ratio = 3 / 4
    return width, round(width / ratio) // 8 * 8


def _share(level: int, size: tuple[int, int], aspect: float, rng: np.random.Generator) -> float:
    low, high = [(0.72, 0.93), (0.35, 0.8), (0.3, 0.75), (0.08, 0.2)][level - 1]
    share = float(rng.uniform(low, high)) if level != 4 else float(low + (high - low) * rng.beta(1.2, 1.8))
    tallest = 0.78 * size[1] / size[0] * aspect
    return min(share, tallest)


def _light(mode: str, level: int, rng: np.random.Generator, kelvin) -> tuple[Light, tuple[float, ...], float]:
    elevation = float(rng.uniform(28, 65))
    if mode == "overcast":
        warmth, ambient = (float(rng.uniform(5800, 7800)),), float(rng.uniform(0.75, 1.0))
    elif mode == "window":
        warmth, ambient = (float(rng.uniform(5000, 7000)),), float(rng.uniform(0.25, 0.6))
    elif mode == "sun":
        warmth, ambient = (
            (float(rng.uniform(4800, 5700)), float(rng.uniform(6500, 8000))),
            float(rng.uniform(0.25, 0.5)),
        )
    elif mode == "lamp":
        warmth, ambient = (float(rng.uniform(2700, 3600)),), float(rng.uniform(0.12, 0.35))
    elif mode == "two":
        warmth = (float(rng.uniform(5200, 7000)), float(rng.uniform(2700, 3700)))
        ambient = float(rng.uniform(0.3, 0.6))
    else:
        warmth, ambient = (float(rng.uniform(2900, 6500)),), float(rng.uniform(0.3, 0.7))
    if kelvin is not None:
        warmth = (float(kelvin),)
    tint = float(rng.normal(0, 0.06)) if mode == "led" else float(rng.normal(0, 0.012))
    key = light_of(warmth[0], tint)
    around = (
        light_of(warmth[-1], tint) if len(warmth) > 1 else light_of(warmth[0] * float(rng.uniform(0.93, 1.07)), tint)
    )
    azimuth = np.radians(float(rng.normal(-90, 55)))  # mostly from above
    tall = np.radians(elevation)
    towards = (float(np.cos(azimuth) * np.cos(tall)), float(np.sin(azimuth) * np.cos(tall)), float(np.sin(tall)))
    softness = {"sun": 0.12, "lamp": 0.3, "led": 0.45, "window": 0.6, "two": 0.5, "overcast": 1.2}[mode]
    return Light(key * (1 - ambient), around * ambient, towards, softness), warmth, elevation


def _camera(level: int, rng: np.random.Generator, mode: str, fixed: dict) -> Camera:
    warm = mode in ("lamp", "two", "led")
    least = [0.9, 0.6, 0.35, 0.5][level - 1]
    adapted = float(rng.uniform(least, 1.0)) if warm else float(rng.uniform(0.9, 1.0))
    error = [0.025, 0.035, 0.07, 0.045][level - 1]
    residual = (float(np.exp(rng.normal(0, error))), 1.0, float(np.exp(rng.normal(0, error))))
    moved = level == 3 and rng.random() < 0.5
    motion = (float(rng.uniform(1.5, 6.0)), float(rng.uniform(0, 180))) if moved else (0.0, 0.0)
    ev = float(np.clip(rng.normal(0, [0.15, 0.3, 0.55, 0.3][level - 1]), *_plus_minus([0.3, 0.8, 1.5, 0.8][level - 1])))
    return Camera(
        ev=fixed.get("ev", ev),
        adapted=fixed.get("adapted", adapted),
        residual=residual,
        blur=float(rng.uniform(*[(0.3, 0.55), (0.4, 0.85), (0.5, 1.4), (0.8, 1.25)][level - 1])),
        motion=motion,
        distortion=0.0 if level in (1, 4) else float(rng.normal(0, [0, 0.006, 0.012][level - 1])),
        curve=float(rng.uniform(0, 0.35 if level > 1 else 0.2)),
        saturation=float(rng.uniform(0.97, [1.1, 1.25, 1.35, 1.25][level - 1])),
        sharpening=float(rng.uniform(0, [0.4, 0.7, 0.9, 0.8][level - 1])),
        grain=float(rng.uniform(*[(0.002, 0.006), (0.004, 0.014), (0.008, 0.035), (0.006, 0.018)][level - 1])),
        vignette=float(rng.uniform(0, [0.08, 0.18, 0.25, 0.18][level - 1])),
        mixing=sensor_matrix(rng),
        quality=int(rng.integers(*[(84, 96), (70, 94), (60, 94), (72, 92)][level - 1])),
        subsampling=int(rng.choice([0, 1, 2], p=[0.25, 0.15, 0.6])),
        orientation=fixed.get(
            "orientation", int(rng.choice([1, 6, 8, 3], p=[0.7, 0.15, 0.1, 0.05])) if level > 1 else 1
        ),
    )
