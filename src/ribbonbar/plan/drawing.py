"""The sheet as SVG, PNG and PDF, all from the one geometry of ``layout``."""

import io
import unicodedata
from datetime import UTC, datetime
from functools import lru_cache
from html import escape

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from ribbonbar.errors import OptionError
from ribbonbar.plan.layout import PAPER, Cloth, Item, Layout, Line, Page, Shape, Text
from ribbonbar.precedence.names import is_unsafe
from ribbonbar.spec.colour import srgb_from_linear
from ribbonbar.spec.draw import ribbon_svg, weave
from ribbonbar.spec.model import Ribbon

DPI = 300
MM_PER_INCH = 25.4
MAX_PNG_PIXELS = 120_000_000
_UNSETTLED = "#e8e8e8"
_OUTLINE, _HAIR = "#4d4d4d", 0.1
_POINTS_PER_MM = 72 / MM_PER_INCH
_FONT_FILES = (
    ("LiberationSans-Regular.ttf", "LiberationSans-Bold.ttf"),
    ("arial.ttf", "arialbd.ttf"),
    ("Arial.ttf", "Arial Bold.ttf"),
    ("DejaVuSansCondensed.ttf", "DejaVuSansCondensed-Bold.ttf"),
    ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf"),
)
"""Looked for on the machine, so that names in any alphabet can be set; else the drawing library's own Latin letters."""


def to_svg(layout: Layout) -> str:
    """One SVG, a user unit a millimetre, pages below one another. Holds no script, link or outside reference."""
    width = max(page.width for page in layout.pages)
    height = sum(page.height for page in layout.pages)
    body, top = [], 0.0
    for page in layout.pages:
        body += [f'<g transform="translate(0 {_n(top)})">', *(_svg_item(item) for item in page.items), "</g>"]
        top += page.height
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="0 0 {_n(width)} {_n(height)}" role="img" font-family="Helvetica, Arial, sans-serif">'
        f"<title>{_xml(layout.title)}</title>"
        f'<rect width="{_n(width)}" height="{_n(height)}" fill="{PAPER}"/>\n' + "\n".join(body) + "\n</svg>\n"
    )


def _svg_item(item: Item) -> str:
    match item:
        case Cloth(x, y, width, height, ribbon, name):
            box = f'<rect width="{_n(width)}" height="{_n(height)}" '
            cloth = ribbon_svg(ribbon, width, height, title=_clean(name)) if ribbon else f'{box}fill="{_UNSETTLED}"/>'
            outline = f'{box}fill="none" stroke="{_OUTLINE}" stroke-width="{_HAIR}"/>'
            return f'<g transform="translate({_n(x)} {_n(y)})">{cloth}{outline}</g>'
        case Line(x1, y1, x2, y2, thickness, colour):
            ends = f'x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"'
            return f'<line {ends} stroke="{colour}" stroke-width="{_n(thickness)}"/>'
        case Shape(points, fill, edge):
            path = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
            return f'<polygon points="{path}" fill="{fill}" stroke="{edge}" stroke-width="{_HAIR * 2}"/>'
        case Text(x, y, text, size, bold, middle, colour):
            weight = ' font-weight="bold"' if bold else ""
            anchor = ' text-anchor="middle"' if middle else ""
            place = f'x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}"'
            return f'<text {place}{weight}{anchor} fill="{colour}">{_xml(text)}</text>'


def _n(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _clean(text: str) -> str:
    """Without the characters that XML forbids, that steer a terminal, or that turn the direction of text."""
    return "".join(letter for letter in text if not is_unsafe(letter) and letter not in "\ufffe\uffff")


def _xml(text: str) -> str:
    return escape(_clean(text))


def to_png(layout: Layout, dpi: int = DPI) -> bytes:
    """One PNG (sRGB), ``dpi`` pixels an inch, pages below one another. Holds the resolution and no other metadata.

    Raises OptionError when the picture would be enormous.
    """
    scale = dpi / MM_PER_INCH
    width = round(max(page.width for page in layout.pages) * scale)
    heights = [round(page.height * scale) for page in layout.pages]
    if width * sum(heights) > MAX_PNG_PIXELS:
        raise OptionError("this drawing is too large for one PNG picture; use --pdf, which has pages")
    picture = Image.new("RGB", (width, sum(heights)), PAPER)
    top = 0
    for page, height in zip(layout.pages, heights, strict=True):
        _paint(picture, page, top, scale)
        top += height
    out = io.BytesIO()
    picture.save(out, "PNG", dpi=(dpi, dpi))
    return out.getvalue()


def _paint(picture: Image.Image, page: Page, top: int, scale: float) -> None:
    draw = ImageDraw.Draw(picture)
    for item in page.items:
        match item:
            case Cloth(x, y, width, height, ribbon):
                left, upper, right, lower = (round(v * scale) for v in (x, y, x + width, y + height))
                box = (left, top + upper, right, top + lower)
                if ribbon:
                    picture.paste(_woven(ribbon, right - left, lower - upper), box[:2])
                draw.rectangle(box, None if ribbon else _UNSETTLED, _OUTLINE)
            case Line(x1, y1, x2, y2, thickness, colour):
                ends = (x1 * scale, top + y1 * scale, x2 * scale, top + y2 * scale)
                draw.line(ends, colour, max(1, round(thickness * scale)))
            case Shape(points, fill, edge):
                placed = [(x * scale, top + y * scale) for x, y in points]
                _paint_smoothly(picture, placed, fill, edge, _HAIR * 2 * scale)
            case Text(x, y, text, size, bold, middle, colour, room):
                font, letters = _fitting(text, size * scale, bold, room * scale)
                draw.text((x * scale, top + y * scale), letters, colour, font, anchor="ms" if middle else "ls")


def _paint_smoothly(
    picture: Image.Image, points: list[tuple[float, float]], fill: str, edge: str, thickness: float
) -> None:
    """An outline drawn four times as large and reduced, since the drawing library sets whole pixels only."""
    left, top = (int(min(values) - thickness) for values in zip(*points, strict=True))
    right, bottom = (int(max(values) + thickness) + 2 for values in zip(*points, strict=True))
    large = Image.new("RGBA", ((right - left) * 4, (bottom - top) * 4), edge + "00")
    placed = [((x - left) * 4, (y - top) * 4) for x, y in points]
    draw = ImageDraw.Draw(large)
    draw.polygon(placed, fill)
    draw.line([*placed, *placed[:2]], edge, max(1, round(thickness * 4)), joint="curve")
    small = large.reduce(4)
    picture.paste(small, (left, top), small)


@lru_cache(256)
def _woven(ribbon: Ribbon, width: int, height: int) -> Image.Image:
    return Image.fromarray(np.rint(srgb_from_linear(weave(ribbon, width, height)) * 255).astype(np.uint8))


def _fitting(text: str, size: float, bold: bool, room: float) -> tuple[ImageFont.FreeTypeFont, str]:
    """The letters at this size in pixels, or smaller where they would be wider than their room."""
    font = _font(size, bold)
    letters = _clean(text) if _font_file(bold) else _latin(text, "ascii")
    width = font.getlength(letters)
    return (font if width <= room else _font(size * room / width, bold)), letters


@lru_cache(64)
def _font(size: float, bold: bool) -> ImageFont.FreeTypeFont:
    path = _font_file(bold)
    return ImageFont.truetype(path, size) if path else ImageFont.load_default(size)


@lru_cache(2)
def _font_file(bold: bool) -> str:
    """The path of a letter file on this machine; empty where there is none."""
    for pair in _FONT_FILES:
        try:
            return [str(ImageFont.truetype(name, 10).path) for name in pair][bold]
        except OSError:
            continue
    return ""


_TWO_LETTERS = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D"}
    | {"–": "-", "—": "-", "×": "x", "’": "'", "“": '"', "”": '"'}
)


def _latin(text: str, encoding: str) -> str:
    """A text in the letters of an encoding: accents dropped where they must be, else a question mark."""

    def fold(letter: str) -> str:
        if letter.encode(encoding, "ignore"):
            return letter
        plain = unicodedata.normalize("NFKD", letter.translate(_TWO_LETTERS))
        return plain.encode(encoding, "ignore").decode(encoding) or ("" if unicodedata.combining(letter) else "?")

    return "".join(fold(letter) for letter in _clean(text))


def to_pdf(layout: Layout) -> bytes:
    """A PDF of the layout's pages at their true size, asking the viewer to print unscaled. Holds no metadata."""
    from fpdf import FPDF
    from fpdf.prefs import ViewerPreferences

    pdf = FPDF(unit="mm")
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.set_creation_date(datetime.fromtimestamp(0, UTC))  # the format wants one; the same sheet is the same file
    pdf.set_producer("")
    pdf.viewer_preferences = ViewerPreferences(print_scaling="None")
    pdf.core_fonts_encoding = "cp1252"
    family = "Helvetica"
    if _font_file(False):
        family = "Letters"
        pdf.add_font(family, "", _font_file(False))
        pdf.add_font(family, "B", _font_file(True))
    for page in layout.pages:
        pdf.add_page(format=(page.width, page.height))
        for item in page.items:
            _print_item(pdf, item, family)
    return bytes(pdf.output())


def _print_item(pdf, item: Item, family: str) -> None:
    pdf.set_line_width(_HAIR)
    pdf.set_draw_color(_OUTLINE)
    match item:
        case Cloth(x, y, width, height, ribbon):
            if ribbon:
                pixels = (round(width * DPI / MM_PER_INCH), round(height * DPI / MM_PER_INCH))
                pdf.image(_woven(ribbon, *pixels), x, y, width, height)
            else:
                pdf.set_fill_color(_UNSETTLED)
            pdf.rect(x, y, width, height, "D" if ribbon else "DF")
        case Line(x1, y1, x2, y2, thickness, colour):
            pdf.set_line_width(thickness)
            pdf.set_draw_color(colour)
            pdf.line(x1, y1, x2, y2)
        case Shape(points, fill, edge):
            pdf.set_line_width(_HAIR * 2)
            pdf.set_draw_color(edge)
            pdf.set_fill_color(fill)
            pdf.polygon(points, style="DF")
        case Text(x, y, text, size, bold, middle, colour, room):
            pdf.set_font(family, "B" if bold else "", size * _POINTS_PER_MM)
            if family == "Helvetica":
                letters = _latin(text, "cp1252")
            else:
                known = pdf.current_font.cmap
                letters = "".join(letter if ord(letter) in known else "?" for letter in _clean(text))
            width = pdf.get_string_width(letters)
            if width > room:
                pdf.set_font_size(size * _POINTS_PER_MM * room / width)
                width = room
            pdf.set_text_color(colour)
            pdf.text(x - width / 2 if middle else x, y, letters)
