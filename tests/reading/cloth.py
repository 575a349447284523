"""A small invented catalogue and flat strips woven from it, for tests of the reading."""

from dataclasses import replace

import numpy as np

from ribbonbar.photo.model import Strip
from ribbonbar.spec.colour import lab_from_hex, linear_from_lab
from ribbonbar.spec.draw import weave
from ribbonbar.spec.model import Award, Colour, Ribbon, Specification, Stripe

PIXELS_PER_MM = 6


def dye(name: str, code: str) -> Colour:
    return Colour(name, lab_from_hex(code), "memory")


NAVY, WHITE, RED = dye("navy", "#1b2440"), dye("white", "#f4f2ea"), dye("red", "#b01e2e")
GREEN, GOLD, SKY = dye("green", "#276b3f"), dye("gold", "#c9962f"), dye("sky", "#7fb0d8")


def stripes(*parts: tuple[Colour, float]) -> tuple[Stripe, ...]:
    return tuple(Stripe(colour, colour, width) for colour, width in parts)


def ribbon(*parts: tuple[Colour, float], width_mm: float = 32.0) -> Ribbon:
    return Ribbon("standard", "stripes", stripes(*parts), width_mm, 10.0)


RIBBONS = {
    "harbour-star": ribbon((NAVY, 10), (WHITE, 2), (RED, 8), (WHITE, 2), (NAVY, 10)),
    "valour-cross": ribbon((RED, 32)),
    "long-service": ribbon((GREEN, 12), (GOLD, 8), (GREEN, 12)),
    "polar-medal": ribbon((WHITE, 16), (SKY, 16)),
    "sea-medal": ribbon((SKY, 6), (NAVY, 20), (SKY, 6)),
    "jubilee": ribbon((GOLD, 4), (RED, 4), (GOLD, 4), (RED, 8), (GOLD, 4), (RED, 4), (GOLD, 4)),
    "order-of-merit": ribbon((SKY, 10), (WHITE, 18), (SKY, 10), width_mm=38.0),
    "flying-cross": replace(
        ribbon((WHITE, 3), (NAVY, 3)), shape="diagonal", angle=45.0, stripes=stripes((WHITE, 3), (NAVY, 3))
    ),
    "republic": replace(ribbon((RED, 1), (WHITE, 1), (NAVY, 1)), shape="bands"),
}


def catalogue(*names: str) -> Specification:
    chosen = names or tuple(RIBBONS)
    awards = {f"calder/{n}": Award(f"calder/{n}", n.replace("-", " ").title(), ribbons=(RIBBONS[n],)) for n in chosen}
    return Specification(awards=awards)


def woven_strip(
    ribbons: list[tuple[Ribbon, bool]], light=(1.0, 1.0, 1.0), noise: float = 0.004, seed: int = 0
) -> Strip:
    """A flat strip of these ribbons (each with whether it is back to front), under a light of these channel gains."""
    height = round(ribbons[0][0].height_mm * PIXELS_PER_MM)
    parts = [weave(r, round(r.width_mm * PIXELS_PER_MM), height, reversed=back) for r, back in ribbons]
    pixels = np.concatenate(parts, axis=1) * np.array(light) * 0.8
    pixels = pixels + np.random.default_rng(seed).normal(0, noise, pixels.shape)
    return Strip(np.clip(pixels, 0, 1).astype(np.float32), np.eye(3), 1.0)


def strip_of(*names: str, back_to_front: tuple[int, ...] = (), **light) -> Strip:
    return woven_strip([(RIBBONS[n], i in back_to_front) for i, n in enumerate(names)], **light)


def plain(colour: Colour) -> np.ndarray:
    """The dye in linear sRGB."""
    return np.clip(linear_from_lab(np.array(colour.lab)), 0, 1)
