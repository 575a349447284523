"""Drawing a ribbon: as pixels in linear light, and as a vector drawing to scale.

The pixels are exact: every pixel holds the mean light of the cloth it covers, so a stripe narrower than a pixel mixes
as a camera would mix it. Drawing, reports and the reading's templates all come from ``weave``.
"""

from html import escape
from math import cos, radians, sin

import numpy as np

from ribbonbar.spec.colour import hex_from_lab, lab_from_linear, linear_from_lab
from ribbonbar.spec.model import Ribbon, Stripe

FRAME_MM = 1.5
"""Width of a metal frame worn round a ribbon; from memory."""
SHADES = 64
"""Steps in which one shaded stripe is woven; from black to white each is 1.6 units of L*."""
_HATCH_LIGHT, _HATCH_DARK = 0.60, 0.45
_HATCH_PERIOD_MM = 2.0


def weave(ribbon: Ribbon, width_px: int, height_px: int, reversed: bool = False, phase_mm: float = 0.0) -> np.ndarray:
    """The ribbon as a viewer sees it: (height_px, width_px, 3) float32, linear light in sRGB primaries, 0..1.

    The picture spans the ribbon's ``width_mm`` by ``height_mm``, so pixels need not be square. ``reversed`` shows it
    mounted back to front (mirrored left to right). A shaded stripe passes from one dye to the other in even steps of
    CIE L*a*b*, because a weaver grades the yarns by eye and not by their light. The pattern of a diagonal ribbon has
    its widths in millimetres across the stripes and begins at the lower left corner for ``phase_mm`` 0 (cloth is cut
    anywhere, so the phase of a real one is free); ``phase_mm`` shifts it to the right. An unmatched ribbon is hatched
    grey: a placeholder to look at, never a template.
    """
    if ribbon.shape == "diagonal":
        cloth = _diagonal(ribbon.stripes, ribbon, width_px, height_px, phase_mm)
    elif ribbon.shape == "unmatched":
        cloth = _hatch(ribbon, width_px, height_px)
    else:
        edges, light = _steps(ribbon.stripes)
        across = ribbon.shape == "stripes"
        line = _box_means(edges / edges[-1], light, width_px if across else height_px)
        cloth = np.broadcast_to(line if across else line[:, None], (height_px, width_px, 3))
    if ribbon.frame:
        cover = _frame_cover(ribbon, width_px, height_px)[..., None]
        cloth = cloth * (1 - cover) + linear_from_lab(np.array(ribbon.frame.lab)) * cover
    if reversed:
        cloth = cloth[:, ::-1]
    return np.clip(cloth, 0, 1).astype(np.float32)


def _steps(stripes: tuple[Stripe, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Edges (N + 1,) in the stripes' unit and linear light (N, 3) of plain steps; a shaded stripe becomes many."""
    widths, labs = [], []
    for stripe in stripes:
        shades = 1 if stripe.start == stripe.end else SHADES
        place = (np.arange(shades)[:, None] + 0.5) / shades
        labs.append(np.array(stripe.start.lab) * (1 - place) + np.array(stripe.end.lab) * place)
        widths += [stripe.width / shades] * shades
    return np.concatenate([[0.0], np.cumsum(widths)]), linear_from_lab(np.concatenate(labs))


def _box_means(edges: np.ndarray, light: np.ndarray, pixels: int) -> np.ndarray:
    """Mean light (pixels, 3) of each pixel of a line from 0 to 1 with steps at ``edges``."""
    integral = np.concatenate([np.zeros((1, 3)), np.cumsum(light * np.diff(edges)[:, None], axis=0)])
    at = np.linspace(0, 1, pixels + 1)
    return np.stack([np.diff(np.interp(at, edges, integral[:, c])) for c in range(3)], axis=1) * pixels


def _diagonal(
    stripes: tuple[Stripe, ...], ribbon: Ribbon, width_px: int, height_px: int, phase_mm: float
) -> np.ndarray:
    """A pattern repeated across ``ribbon.angle``, (height_px, width_px, 3).

    Seen along the normal of the stripes, a pixel is the fold of two boxes, so its mean light is a second difference
    of the pattern's second integral. The pattern is made free of its mean twice over to keep the integrals periodic.
    """
    edges, light = _steps(stripes)
    period, steps = edges[-1], np.diff(edges)[:, None]
    mean = (light * steps).sum(0) / period
    first = np.concatenate([np.zeros((1, 3)), np.cumsum((light - mean) * steps, axis=0)])
    first -= ((first[:-1] + first[1:]) / 2 * steps).sum(0) / period
    second = np.concatenate([np.zeros((1, 3)), np.cumsum((first[:-1] + first[1:]) / 2 * steps, axis=0)])

    def integral(at: np.ndarray) -> np.ndarray:
        rest = np.mod(at, period)
        step = np.clip(np.searchsorted(edges, rest, side="right") - 1, 0, len(light) - 1)
        into = (rest - edges[step])[..., None]
        return second[step] + into * (first[step] + into / 2 * (light - mean)[step])

    right, up = _normal(ribbon.angle)
    pixel_x, pixel_y = ribbon.width_mm / width_px, ribbon.height_mm / height_px
    x = (np.arange(width_px) + 0.5) * pixel_x - phase_mm
    y = ribbon.height_mm - (np.arange(height_px) + 0.5) * pixel_y
    at = x[None, :] * right + y[:, None] * up
    a, b = pixel_x * right, pixel_y * abs(up)
    wide, narrow = (a + b) / 2, abs(a - b) / 2
    fold = integral(at + wide) - integral(at + narrow) - integral(at - narrow) + integral(at - wide)
    return mean + fold / (a * b)


def _normal(degrees: float) -> tuple[float, float]:
    """The unit vector (right, up) across stripes of this slope; of the two, the one that points to the right."""
    angle = radians(degrees)
    return abs(sin(angle)), -cos(angle) if angle > 0 else cos(angle)


def _hatch(ribbon: Ribbon, width_px: int, height_px: int) -> np.ndarray:
    x = (np.arange(width_px) + 0.5) * ribbon.width_mm / width_px
    y = (np.arange(height_px) + 0.5) * ribbon.height_mm / height_px
    dark = np.mod(x[None, :] + y[:, None], _HATCH_PERIOD_MM) < _HATCH_PERIOD_MM / 4
    return np.repeat(np.where(dark, _HATCH_DARK, _HATCH_LIGHT)[..., None], 3, axis=2)


def _frame_cover(ribbon: Ribbon, width_px: int, height_px: int) -> np.ndarray:
    """How much of each pixel the frame covers, (height_px, width_px) in 0..1.

    Where the rest of such a pixel is not one colour, the mean of its whole cloth stands for the part left free.
    """

    def inside(size_mm: float, pixels: int) -> np.ndarray:
        edges = np.clip(np.linspace(0, size_mm, pixels + 1), FRAME_MM, max(size_mm - FRAME_MM, FRAME_MM))
        return np.diff(edges) * pixels / size_mm

    return 1 - inside(ribbon.height_mm, height_px)[:, None] * inside(ribbon.width_mm, width_px)[None, :]


def ribbon_svg(ribbon: Ribbon, width_mm: float, height_mm: float, reversed: bool = False, title: str = "") -> str:
    """The ribbon as an SVG ``<g>``, one user unit a millimetre, its upper left corner at the origin.

    There are no ids and no references in it (shades are thin strips, diagonals are cut at the edge), so any number of
    them fit in one drawing. Every strip reaches on under those after it, which leaves no light between them.
    """
    body = [f"<title>{escape(title)}</title>"] if title else []
    if ribbon.shape == "diagonal":
        strips = _cut_strips(ribbon, width_mm, height_mm)
    elif ribbon.shape == "unmatched":
        strips = [("#cccccc", _box(0, 0, width_mm, height_mm)), *_hatch_strips(width_mm, height_mm)]
    else:
        edges, light = _steps(ribbon.stripes)
        places = edges[:-1] / edges[-1]
        colours = [_hex(value) for value in light]
        level = ribbon.shape == "bands"
        strips = [
            (colour, _box(0 if level else place * width_mm, place * height_mm if level else 0, width_mm, height_mm))
            for colour, place in zip(colours, places, strict=True)
        ]
    body += [f'<path fill="{colour}" d="{_path(outline)}"/>' for colour, outline in strips]
    if ribbon.frame:
        outer, inner = (
            _box(0, 0, width_mm, height_mm),
            _box(FRAME_MM, FRAME_MM, width_mm - FRAME_MM, height_mm - FRAME_MM),
        )
        colour = hex_from_lab(ribbon.frame.lab)
        body.append(f'<path fill="{colour}" fill-rule="evenodd" d="{_path(outer)}{_path(inner)}"/>')
    if reversed:
        return f'<g transform="translate({width_mm:.4g} 0) scale(-1 1)">{"".join(body)}</g>'
    return f"<g>{''.join(body)}</g>"


_Outline = list[tuple[float, float]]


def _box(left: float, top: float, right: float, bottom: float) -> _Outline:
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def _path(outline: _Outline) -> str:
    return "M" + "L".join(f"{x:.6g} {y:.6g}" for x, y in outline) + "Z"


def _hex(light: np.ndarray) -> str:
    lightness, a, b = lab_from_linear(light)
    return hex_from_lab((lightness, a, b))


def _cut_strips(ribbon: Ribbon, width_mm: float, height_mm: float) -> list[tuple[str, _Outline]]:
    """Diagonal strips as outlines cut to the ribbon, from the lower left on."""
    edges, light = _steps(ribbon.stripes)
    right, up = _normal(ribbon.angle)
    corners = _box(0, 0, width_mm, height_mm)
    reach = [x * right + (height_mm - y) * up for x, y in corners]
    period = edges[-1]
    strips = []
    for turn in range(int(min(reach) // period), int(max(reach) // period) + 1):
        for start, value in zip(edges[:-1] + turn * period, light, strict=True):
            outline = _beyond(corners, reach, start)
            if len(outline) > 2:
                strips.append((_hex(value), outline))
    return strips


def _beyond(corners: _Outline, reach: list[float], start: float) -> _Outline:
    """The part of an outline whose ``reach`` is at least ``start`` (one clip after Sutherland and Hodgman)."""
    kept: _Outline = []
    for (p, r), (q, s) in zip(
        zip(corners, reach, strict=True),
        zip(corners[1:] + corners[:1], reach[1:] + reach[:1], strict=True),
        strict=True,
    ):
        if r >= start:
            kept.append(p)
        if (r >= start) != (s >= start):
            t = (start - r) / (s - r)
            kept.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    return kept


def _hatch_strips(width_mm: float, height_mm: float) -> list[tuple[str, _Outline]]:
    corners = _box(0, 0, width_mm, height_mm)
    reach = [x + y for x, y in corners]
    strips = []
    for turn in range(int(max(reach) / _HATCH_PERIOD_MM) + 1):
        start = turn * _HATCH_PERIOD_MM
        strips.append(("#b0b0b0", _beyond(corners, reach, start)))
        strips.append(("#cccccc", _beyond(corners, reach, start + _HATCH_PERIOD_MM / 4)))
    return [(colour, outline) for colour, outline in strips if len(outline) > 2]
