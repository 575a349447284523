"""How hard each level is: the ranges of view, light and camera, and a draw from them."""

from dataclasses import dataclass

import numpy as np

from tests.simulator.backing import JACKETS, PATTERNED, TABLES
from tests.simulator.camera import Camera, sensor_matrix
from tests.simulator.cloth import Wear
from tests.simulator.colour import light_of
from tests.simulator.scene import Light

MODES = ("overcast", "window", "sun", "lamp", "two", "led")


@dataclass(frozen=True)
class Level:
    """The ranges of one level. Pairs are uniform ranges; ``*_spread`` and single angles are standard deviations, cut
    at the ``most`` beside them."""

    width: tuple[int, int]
    ratios: tuple[float, ...]
    share: tuple[float, float]
    tilt: tuple[float, float]  # spread, most
    roll: tuple[float, float]  # spread, most
    modes: tuple[float, ...]
    shadow: float
    glare: float
    props: tuple[float, ...]
    old: float
    lot: tuple[float, float]
    slack: float
    sheen: tuple[float, float]
    wander: float
    adapted: float
    balance: float
    moved: float
    ev: tuple[float, float, float]  # mean, spread, most
    blur: tuple[float, float]
    distortion: float
    curve: float
    saturation: float
    sharpening: float
    grain: tuple[float, float]
    vignette: float
    veil: float
    quality: tuple[int, int]


LEVELS = {
    1: Level(
        width=(1500, 1800), ratios=(16 / 9, 2.0, 2.3), share=(0.72, 0.93), tilt=(2.5, 6.0), roll=(1.0, 2.0),
        modes=(0.6, 0.4, 0, 0, 0, 0), shadow=0, glare=0, props=(0.35, 0.65, 0, 0), wander=0.25,
        old=0, lot=(1.5, 4.5), slack=0.8, sheen=(0.005, 0.035),
        adapted=0.75, balance=0.05, moved=0, ev=(0.15, 0.4, 0.8), blur=(0.3, 0.55), distortion=0, curve=0.3,
        saturation=1.2, sharpening=0.4, grain=(0.002, 0.006), vignette=0.08, veil=0.005, quality=(84, 96),
    ),
    2: Level(
        width=(1360, 1840), ratios=(4 / 3, 4 / 3, 3 / 2, 3 / 2, 16 / 9, 16 / 9, 3 / 4), share=(0.35, 0.8),
        tilt=(8, 20), roll=(3.5, 8), modes=(0.25, 0.2, 0.15, 0.2, 0.08, 0.12), shadow=0.3, glare=0.2,
        props=(0.2, 0.4, 0.3, 0.1), wander=0.6, old=0.12, lot=(1.8, 5.0), slack=1.0, sheen=(0.005, 0.045),
        adapted=0.35, balance=0.045, moved=0, ev=(0.35, 0.45, 1.1), blur=(0.4, 0.85), distortion=0.006, curve=0.35,
        saturation=1.25, sharpening=0.7, grain=(0.004, 0.014), vignette=0.18, veil=0.02, quality=(70, 94),
    ),
    3: Level(
        width=(1280, 1600), ratios=(4 / 3, 4 / 3, 3 / 2, 16 / 9), share=(0.3, 0.75), tilt=(19, 40), roll=(9, 25),
        modes=(0.08, 0.1, 0.1, 0.5, 0.12, 0.1), shadow=0.5, glare=0.35, props=(0.1, 0.4, 0.35, 0.15), wander=0.8,
        old=0.35, lot=(1.8, 5.5), slack=1.2, sheen=(0.005, 0.06),
        adapted=0.0, balance=0.13, moved=0.6, ev=(0.35, 0.7, 1.5), blur=(0.5, 1.4), distortion=0.012, curve=0.4,
        saturation=1.5, sharpening=0.9, grain=(0.006, 0.024), vignette=0.25, veil=0.06, quality=(60, 94),
    ),
    4: Level(
        width=(4032, 4033), ratios=(4 / 3,), share=(0.08, 0.2), tilt=(7, 20), roll=(3.5, 9),
        modes=(0.25, 0.1, 0.15, 0.15, 0.25, 0.1), shadow=0.2, glare=0.15, props=(1, 0, 0, 0), wander=0.3,
        old=0.2, lot=(1.8, 5.0), slack=1.0, sheen=(0.005, 0.045),
        adapted=0.2, balance=0.06, moved=0, ev=(0.3, 0.45, 1.1), blur=(0.8, 1.25), distortion=0, curve=0.35,
        saturation=1.25, sharpening=0.8, grain=(0.006, 0.018), vignette=0.18, veil=0.02, quality=(72, 92),
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Shot:
    """One picture's settings. Angles in degrees; ``share``: the bar's part of the picture's width; ``offset``: where
    the bar's middle lies, as a part of the picture from its middle; ``falloff`` and ``gradient``: (amount, direction)
    of a near lamp's fall and of two lights' mixture; ``shadow``: (angle, mm, penumbra mm, depth) of a shadow edge
    across the scene or None; ``glare``: (x mm, y mm, radius mm, strength) or None."""

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


def draw_shot(level: int, rng: np.random.Generator, aspect: float, **fixed) -> Shot:
    """Settings of a picture at a level 1 to 4. ``aspect`` is the bar's width over its height; ``fixed`` replaces single
    settings by name: ``size``, ``share``, ``offset``, ``tilt``, ``roll``, ``mode``, ``kelvin``, ``shadow`` (True or
    False), ``backing``, ``props``, ``fading``, ``dirt``, ``ev``, ``adapted``, ``orientation``, ``quality``."""
    rules = LEVELS[level]
    uniform = rng.uniform

    def spread(sigma: float, most: float, mean: float = 0.0) -> float:
        return float(np.clip(rng.normal(mean, sigma), -most, most))

    width = int(rng.integers(*rules.width)) // 8 * 8
    size = fixed.get("size", (width, round(width / float(rng.choice(rules.ratios))) // 8 * 8))
    low, high = rules.share
    part = float(low + (high - low) * (rng.beta(1.2, 1.8) if level == 4 else rng.random()))
    share = fixed.get("share", min(part, 0.78 * size[1] / size[0] * aspect))
    tilt = fixed.get("tilt", abs(spread(*rules.tilt)))
    roll = fixed.get("roll", spread(*rules.roll))
    mode = fixed.get("mode", str(rng.choice(MODES, p=rules.modes)))
    light, kelvin, elevation = draw_light(mode, rng, fixed.get("kelvin"))
    hard = mode != "overcast"
    shadow = (float(uniform(0, 360)), float(rng.normal(0, 35)), float(uniform(2, 30)), float(uniform(0.5, 1.0)))
    shadow = shadow if fixed.get("shadow", hard and rng.random() < rules.shadow) else None
    glare = (float(rng.normal(0, 50)), float(rng.normal(0, 20)), float(uniform(15, 60)), float(uniform(0.03, 0.14)))
    glare = glare if hard and rng.random() < rules.glare else None
    kinds = list(JACKETS) if level == 4 or rng.random() < 0.6 else list(TABLES)
    backing = str(rng.choice(kinds))
    if level == 3 and rng.random() < 0.05:
        backing = str(rng.choice(PATTERNED))
    backing = fixed.get("backing", backing)
    cloth = ("pocket", "lapel", "plate")
    pool = cloth if backing in JACKETS else ("ruler", "coins", "paper", "plate", "pen", "fingers")
    props = rng.choice(pool, int(rng.choice(4, p=rules.props)), replace=False)
    old = rng.random() < rules.old
    fading = fixed.get("fading", float(uniform(0.2, 0.6)) if old else 0.0)
    dirt = fixed.get("dirt", float(uniform(0.05, 0.25)) if old and rng.random() < 0.6 else 0.0)
    room_x = max(0.0, 0.47 - share / 2) * rules.wander
    room_y = max(0.0, 0.44 - share * size[0] / size[1] / aspect / 2) * rules.wander
    offset = (float(uniform(-room_x, room_x)), float(uniform(-room_y, room_y)))
    return Shot(
        level=level,
        size=size,
        share=share,
        focal=float(uniform(26, 60)),
        tilt=tilt,
        tilt_towards=float(uniform(0, 360)),
        roll=roll,
        offset=fixed.get("offset", offset),
        backing=backing,
        props=fixed.get("props", tuple(str(p) for p in props)),
        light=light,
        mode=mode,
        kelvin=kelvin,
        elevation=elevation,
        falloff=(float(uniform(0.25, 1.2) if mode == "lamp" else uniform(0, 0.25)), float(uniform(0, 360))),
        gradient=(float(uniform(0.2, 0.9)) if mode == "two" else 0.0, float(uniform(0, 360))),
        shadow=shadow,
        glare=glare,
        wear=Wear(fading, dirt, rules.lot, rules.slack, float(uniform(*rules.sheen))),
        camera=_camera(rules, rng, mode, fixed),
    )


def draw_light(mode: str, rng: np.random.Generator, kelvin: float | None) -> tuple[Light, tuple[float, ...], float]:
    """The light of a mode, its colour temperatures (key first) and its elevation in degrees."""
    uniform = rng.uniform
    elevation = float(uniform(28, 65))
    warmth, ambient = {
        "overcast": ((uniform(5800, 7800),), uniform(0.75, 1.0)),
        "window": ((uniform(5000, 7000),), uniform(0.25, 0.6)),
        "sun": ((uniform(4800, 5700), uniform(6500, 8000)), uniform(0.25, 0.5)),
        "lamp": ((uniform(2700, 3600),), uniform(0.12, 0.35)),
        "two": ((uniform(5200, 7000), uniform(2700, 3700)), uniform(0.3, 0.6)),
        "led": ((uniform(2900, 6500),), uniform(0.3, 0.7)),
    }[mode]
    if kelvin is not None:
        warmth = (kelvin,)
    tint = float(rng.normal(0, 0.06 if mode == "led" else 0.012))
    key = light_of(warmth[0], tint)
    around = light_of(warmth[-1] if len(warmth) > 1 else warmth[0] * float(uniform(0.93, 1.07)), tint)
    azimuth = np.radians(float(rng.normal(-90, 55)))  # mostly from above
    tall = np.radians(elevation)
    towards = (float(np.cos(azimuth) * np.cos(tall)), float(np.sin(azimuth) * np.cos(tall)), float(np.sin(tall)))
    softness = {"sun": 0.12, "lamp": 0.3, "led": 0.45, "window": 0.6, "two": 0.5, "overcast": 1.2}[mode]
    light = Light(key * (1 - ambient), around * ambient, towards, softness)
    return light, tuple(float(k) for k in warmth), elevation


def _camera(rules: Level, rng: np.random.Generator, mode: str, fixed: dict) -> Camera:
    uniform = rng.uniform
    least = rules.adapted if mode in ("lamp", "two", "led") else max(rules.adapted, 0.75)
    most_adapted = 0.65 if least == 0 else 1.0
    mean, sigma, most = rules.ev
    moved = rng.random() < rules.moved
    return Camera(
        ev=fixed.get("ev", float(np.clip(rng.normal(mean, sigma), -most, most))),
        adapted=fixed.get("adapted", float(uniform(least, most_adapted))),
        residual=(float(np.exp(rng.normal(0, rules.balance))), 1.0, float(np.exp(rng.normal(0, rules.balance)))),
        blur=float(uniform(*rules.blur)),
        motion=(float(uniform(1.5, 6.0)), float(uniform(0, 180))) if moved else (0.0, 0.0),
        distortion=float(rng.normal(0, rules.distortion)) if rules.distortion else 0.0,
        curve=float(uniform(0, rules.curve)),
        saturation=float(uniform(0.97, rules.saturation)),
        sharpening=float(uniform(0, rules.sharpening)),
        grain=float(uniform(*rules.grain)),
        vignette=float(uniform(0, rules.vignette)),
        veil=float(uniform(0, rules.veil)),
        headroom=float(uniform(1.0, 3.0)),
        mixing=sensor_matrix(rng),
        quality=fixed.get("quality", int(rng.integers(*rules.quality))),
        subsampling=int(rng.choice([0, 1, 2], p=[0.25, 0.15, 0.6])),
        orientation=fixed.get("orientation", int(rng.choice([1, 6, 8, 3], p=[0.7, 0.15, 0.1, 0.05]))),
    )
