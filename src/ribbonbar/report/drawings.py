"""The small pictures that pages carry within themselves, each as a data URI.

Drawings are SVG shown as images: a browser runs nothing in them and loads nothing for them.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

from ribbonbar.report.crop import Crop, data_uri, jpeg
from ribbonbar.report.layout import Slots, slot_ribbon
from ribbonbar.report.model import Position
from ribbonbar.spec.colour import hex_from_lab
from ribbonbar.spec.draw import ribbon_svg
from ribbonbar.spec.model import Ribbon, Specification

_SHOWN_HEIGHT_MM = 10.0
_UNKNOWN = '<path fill="#e6e7ea" d="M0 0H{w}V{h}H0Z"/><path d="M0 {h}L{w} 0" stroke="#9a9fa8" stroke-width=".4"/>'
_GAP_MM = 0.35  # the light between two ribbons on a drawing
_NUMBER_MM = 4.5  # kept free under each row for the numbers


@dataclass(frozen=True)
class Label:
    """Where a number stands on a picture, in per cent of its width and height; ``sign`` is ``!``, ``?`` or empty."""

    text: str
    x: float = 0.0
    y: float = 0.0
    sign: str = ""

    @property
    def kind(self) -> str:
        return {"!": "wrong", "?": "doubt"}.get(self.sign, "")


@dataclass(frozen=True)
class Numbered:
    """A picture with numbers on it. ``width`` and ``height`` in any one unit; ``lettering`` is the size of the numbers
    that leaves the ribbons to be seen, in per cent of the width."""

    uri: str
    alt: str
    width: float
    height: float
    labels: tuple[Label, ...]
    lettering: float


def lettering(ribbons_in_row: int, rows: int, width: float, height: float) -> float:
    """The size for numbers on a bar, in per cent of the picture's width."""
    return min(12 / max(ribbons_in_row, 1), 40 * height / (width * max(rows, 1)))


def ribbon_uri(ribbon: Ribbon, reversed: bool = False) -> str:
    """One ribbon as it looks on a bar, stretched to whatever box it is shown in."""
    width, height = ribbon.width_mm, ribbon.height_mm
    return _svg(ribbon_svg(ribbon, width, height, reversed), width, height, "none")


def seen_uri(seen: tuple[tuple[float, float, float], ...]) -> str:
    """The colours as read, left to right, as stripes; neighbours of one colour are one stripe."""
    bars: list[tuple[str, int]] = []
    for lab in seen:
        colour = hex_from_lab(lab)
        if bars and bars[-1][0] == colour:
            bars[-1] = colour, bars[-1][1] + 1
        else:
            bars.append((colour, 1))
    x, paths = 0, []
    for colour, width in bars:  # each reaches on under the next, which leaves no light between them
        paths.append(f'<path fill="{colour}" d="M{x} 0H{len(seen)}V1H{x}Z"/>')
        x += width
    return _svg("".join(paths), len(seen), 1, "none")


def cut_out(crop: Crop, position: Position, width: int = 480) -> str:
    """One ribbon of the crop, upright, as JPEG."""
    size = np.array(crop.image.size, float)
    quad = np.float32([np.array(point) * size for point in crop.outline(position.corners)])
    wide = max(np.linalg.norm(quad[1] - quad[0]), np.linalg.norm(quad[2] - quad[3]))
    tall = max(np.linalg.norm(quad[3] - quad[0]), np.linalg.norm(quad[2] - quad[1]))
    if min(wide, tall) < 1:
        return ""
    width = min(width, max(8, round(wide)))
    height = max(2, min(width, round(width * tall / wide)))
    flat = np.float32([[0, 0], [width, 0], [width, height], [0, height]])
    pixels = cv2.warpPerspective(
        np.asarray(crop.image),
        cv2.getPerspectiveTransform(quad, flat),
        (width, height),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return data_uri(jpeg(Image.fromarray(pixels), 82, 12_000))


def bar_drawing(
    rows: Slots, specification: Specification, alt: str, signs: dict[str, str], align: str = "centre"
) -> Numbered:
    """The whole bar to scale, room for numbers under each row. ``signs`` maps a slot's number to the sign beside it."""
    ribbons = [[slot_ribbon(slot, specification) for slot in row] for row in rows]
    widths = [[ribbon.width_mm if ribbon else 32.0 for ribbon in row] for row in ribbons]
    width = max((sum(row) for row in widths), default=1.0)
    body, labels, y = [], [], 0.0
    for slots, row, row_widths in zip(rows, ribbons, widths, strict=True):
        height = max((ribbon.height_mm for ribbon in row if ribbon), default=_SHOWN_HEIGHT_MM)
        x = 0.0 if align == "senior" else (width - sum(row_widths)) / 2
        for slot, ribbon, w in zip(slots, row, row_widths, strict=True):
            shown_w, shown_h = w - _GAP_MM, height - _GAP_MM
            drawn = ribbon_svg(ribbon, shown_w, shown_h) if ribbon else _UNKNOWN.format(w=shown_w, h=shown_h)
            body.append(f'<g transform="translate({x + _GAP_MM / 2:.4g} {y + _GAP_MM / 2:.4g})">{drawn}</g>')
            if slot.moved:
                body.append(_frame(x + _GAP_MM / 2, y + _GAP_MM / 2, shown_w, shown_h))
            labels.append((slot.number, x + w / 2, y + height + _NUMBER_MM, signs.get(slot.number, "")))
            x += w
        y += height + _NUMBER_MM
    y = y or 1.0
    return Numbered(
        _svg("".join(body), width, y),
        alt,
        width,
        y,
        tuple(Label(text, 100 * x / width, 100 * bottom / y, sign) for text, x, bottom, sign in labels),
        lettering(max(map(len, rows), default=1), len(rows), width, y),
    )


def _frame(x: float, y: float, width: float, height: float) -> str:
    """The frame round a ribbon that is to be moved: dark over light, so that it shows on any cloth."""
    box = 'x="{:.4g}" y="{:.4g}" width="{:.4g}" height="{:.4g}" fill="none"'
    outer = box.format(x + 0.6, y + 0.6, width - 1.2, height - 1.2)
    inner = box.format(x + 0.4, y + 0.4, width - 0.8, height - 0.8)
    return f'<rect {outer} stroke="#fff" stroke-width="1.2"/><rect {inner} stroke="#a82c00" stroke-width=".8"/>'


def _svg(body: str, width: float, height: float, aspect: str = "xMidYMid") -> str:
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.6g} {height:.6g}" width="{10 * width:.6g}" '
        f'height="{10 * height:.6g}" preserveAspectRatio="{aspect}">{body}</svg>'
    )
    return data_uri(text.encode(), "image/svg+xml")
