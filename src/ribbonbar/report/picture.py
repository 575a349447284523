"""The annotated picture: the bar as photographed, and under it the bar as it should be, both numbered."""

import io
import unicodedata
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from ribbonbar.report import verdict, words
from ribbonbar.report.crop import Crop, crops_of
from ribbonbar.report.layout import Slot, as_it_should_be, slot_ribbon
from ribbonbar.report.model import CAUTIONS, Position, Report
from ribbonbar.report.text import safe_text
from ribbonbar.spec.colour import srgb_from_linear, srgb_profile
from ribbonbar.spec.draw import weave
from ribbonbar.spec.model import Ribbon, Specification

WIDTH = 1600
_EDGE = 48
_ROOM = WIDTH - 2 * _EDGE
_TALLEST_CROP = 1100
_PAPER, _INK, _GREY, _HAIR = (255, 255, 255), (22, 26, 34), (92, 97, 107), (203, 206, 212)
_WRONG, _DOUBT = (168, 44, 0), (0, 84, 148)  # apart for every kind of colour vision, and never without a sign
_TONES = {verdict.WRONG: _WRONG, verdict.DOUBTFUL: _DOUBT, "": _INK}
_MOST_PX_PER_MM = 12.0
# Tried in turn where the letters that come with Pillow lack one of a picture's letters.
_FONTS = (
    "DejaVuSans.ttf",
    "LiberationSans-Regular.ttf",
    "NotoSans-Regular.ttf",
    "Arial.ttf",
    "arial.ttf",
    "Helvetica.ttc",
)


def annotate(
    report: Report,
    pixels: np.ndarray,
    specification: Specification,
    to_srgb: Callable[[np.ndarray], np.ndarray] | None = None,
) -> Image.Image:
    """The annotated picture, RGB, 1600 pixels wide, sRGB.

    ``pixels`` is the upright photo, (H, W, 3) uint8; ``to_srgb`` turns a piece of it into sRGB where it is not that
    already. Of the photo only the bar with a little surround is shown. Wrong ribbons carry ``!``, doubtful ones ``?``,
    those to be moved say from where.
    """
    sheet = _Sheet(_every_text(report, specification))
    sheet.paragraph(verdict.title(report), 46, _INK)
    sheet.paragraph(safe_text(verdict.summary(report)), 27, _INK)
    sheet.paragraph(safe_text(report.photo.name, 100), 21, _GREY)
    for bar, crop in zip(report.bars, crops_of(report, pixels, to_srgb, _ROOM, 0.5), strict=True):
        if crop:
            sheet.heading("As photographed")
            _photographed(sheet, crop, [p for row in bar.rows for p in row], report)
    if report.bars:
        sheet.heading(verdict.drawing_title(report))
        rows = as_it_should_be(report)
        widest = max(sum(_width_mm(slot, specification) for slot in row) for row in rows)
        for row in rows:
            _row(sheet, row, min(_MOST_PX_PER_MM, _ROOM / widest), report, specification)
    sheet.gap(12)
    for line in _small_print(report, specification):
        sheet.paragraph(line, 20, _GREY)
    return sheet.finished()


def to_png(image: Image.Image) -> bytes:
    """The image as a PNG file with the sRGB profile and nothing else beside the pixels."""
    buffer = io.BytesIO()
    bare = Image.fromarray(np.asarray(image.convert("RGB")))
    bare.save(buffer, "PNG", icc_profile=srgb_profile())
    return buffer.getvalue()


def _small_print(report: Report, specification: Specification) -> list[str]:
    title = words.order_title(report, specification)
    return [*([f"Held against: {safe_text(title)}"] if title else []), *CAUTIONS]


def _every_text(report: Report, specification: Specification) -> str:
    names = [words.name(slot.award, specification) for row in as_it_should_be(report) for slot in row]
    texts = [report.photo.name, verdict.summary(report), words.order_title(report, specification), *names]
    return "".join(safe_text(text) for text in texts)


class _Sheet:
    """A page of fixed width that grows downwards."""

    def __init__(self, texts: str) -> None:
        self._face = _face_for(texts)
        self._strips: list[Image.Image] = [Image.new("RGB", (WIDTH, _EDGE), _PAPER)]

    def font(self, size: int) -> ImageFont.FreeTypeFont:
        return _font(self._face, size)

    def shown(self, text: str) -> str:
        """The text in letters that the sheet's font has."""
        return text if self._face != _PLAIN_ONLY else _plain(text)

    def gap(self, height: int) -> None:
        self._strips.append(Image.new("RGB", (WIDTH, height), _PAPER))

    def add(self, strip: Image.Image) -> None:
        self._strips.append(strip)

    def strip(self, height: int) -> tuple[Image.Image, ImageDraw.ImageDraw]:
        strip = Image.new("RGB", (WIDTH, height), _PAPER)
        return strip, ImageDraw.Draw(strip)

    def heading(self, text: str) -> None:
        strip, pen = self.strip(76)
        pen.line([(_EDGE, 26), (WIDTH - _EDGE, 26)], _HAIR, 2)
        pen.text((_EDGE, 38), text, _GREY, self.font(24))
        self.add(strip)

    def paragraph(self, text: str, size: int, colour: tuple[int, int, int]) -> None:
        lines = self.wrapped(text, size, _ROOM, 4)
        step = round(size * 1.35)
        strip, pen = self.strip(step * len(lines) + size // 4)
        for place, line in enumerate(lines):
            pen.text((_EDGE, place * step), line, colour, self.font(size))
        self.add(strip)

    def wrapped(self, text: str, size: int, room: float, most: int) -> list[str]:
        """Lines of at most ``room`` pixels, a longer word cut; past ``most`` lines the text ends in an ellipsis."""
        font, lines, line = self.font(size), [], ""
        for word in self.shown(text).split():
            longer = f"{line} {word}" if line else word
            if font.getlength(longer) <= room:
                line = longer
                continue
            lines += [line] if line else []
            while font.getlength(word) > room and len(word) > 1:
                cut = max(1, int(len(word) * room / font.getlength(word)))
                cut = next((n for n in range(cut, 0, -1) if font.getlength(word[:n]) <= room), 1)
                lines.append(word[:cut])
                word = word[cut:]
            line = word
        lines += [line] if line else []
        if len(lines) > most:
            last = lines[most - 1]
            while last and font.getlength(last + "…") > room:
                last = last[:-1]
            lines = [*lines[: most - 1], last + "…"]
        return lines

    def finished(self) -> Image.Image:
        self.gap(_EDGE)
        picture = Image.new("RGB", (WIDTH, sum(strip.height for strip in self._strips)), _PAPER)
        top = 0
        for strip in self._strips:
            picture.paste(strip, (0, top))
            top += strip.height
        return picture


def _photographed(sheet: _Sheet, crop: Crop, places: list[Position], report: Report) -> None:
    scale = min(_ROOM / crop.image.width, _TALLEST_CROP / crop.image.height)
    size = max(1, round(crop.image.width * scale)), max(1, round(crop.image.height * scale))
    strip, pen = sheet.strip(size[1] + 8)
    left = (WIDTH - size[0]) // 2
    strip.paste(crop.image.resize(size, Image.Resampling.LANCZOS), (left, 0))
    outlines = [[(left + x * size[0], y * size[1]) for x, y in crop.outline(place.corners)] for place in places]
    # the outlines that matter come last, so that no neighbour's line covers them
    marked = [verdict.sign(report, place) for place in places]
    for i in sorted(range(len(places)), key=lambda i: bool(marked[i])):
        colour = _TONES[marked[i]]
        ring = [*outlines[i], outlines[i][0]]
        pen.line(ring, _PAPER, 7 if marked[i] else 4, joint="curve")
        pen.line(ring, colour, 4 if marked[i] else 2, joint="curve")
    for place, sign, outline in zip(places, marked, outlines, strict=True):
        _tag(sheet, pen, outline, f"{place.position} {sign}".strip(), _TONES[sign])
    sheet.add(strip)


def _tag(sheet: _Sheet, pen: ImageDraw.ImageDraw, outline: list[tuple[float, float]], text: str, colour) -> None:
    """The number on a dark plate in the middle of the ribbon's lower edge, as large as the ribbon allows."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    wide, tall = max(xs) - min(xs), max(ys) - min(ys)
    size = int(min(30.0, max(9.0, min(tall * 0.28, wide * 0.8 / max(len(text), 1) * 1.6))))
    font = sheet.font(size)
    length, pad = font.getlength(text), size * 0.35
    x, y = sum(xs) / 4, (outline[2][1] + outline[3][1]) / 2 - 3
    box = [x - length / 2 - pad, y - size * 1.35, x + length / 2 + pad, y]
    pen.rounded_rectangle(box, size * 0.25, colour, _PAPER, 2)
    pen.text((x, (box[1] + box[3]) / 2), text, _PAPER, font, anchor="mm")


def _width_mm(slot: Slot, specification: Specification) -> float:
    ribbon = slot_ribbon(slot, specification)
    return ribbon.width_mm if ribbon else 32.0


def _row(sheet: _Sheet, row: tuple[Slot, ...], scale: float, report: Report, specification: Specification) -> None:
    """One row of the bar as it should be, ``scale`` pixels to the millimetre, each ribbon with its name under it."""
    ribbons = [slot_ribbon(slot, specification) for slot in row]
    widths = [_width_mm(slot, specification) for slot in row]
    height = round(scale * max((ribbon.height_mm for ribbon in ribbons if ribbon), default=10.0))
    size = 24 if scale * min(widths) > 260 else 20 if scale * min(widths) > 150 else 17
    labels = []
    for slot, width in zip(row, widths, strict=True):
        name = f"{slot.number}  {words.name(slot.award, specification)}"
        notes = verdict.slot_notes(slot, report, specification)
        texts = [(safe_text(name), _INK), *((safe_text(note), _WRONG if slot.moved else _GREY) for note in notes)]
        room = scale * width - 14
        labels.append([(line, colour) for text, colour in texts for line in sheet.wrapped(text, size, room, 4)])
    step = round(size * 1.3)
    strip, pen = sheet.strip(height + 14 + step * max(map(len, labels)) + 26)
    order = specification.orders.get(report.order_of_wear)
    x = _EDGE if order and order.short_row_align == "senior" else (WIDTH - scale * sum(widths)) / 2
    for slot, ribbon, width, lines in zip(row, ribbons, widths, labels, strict=True):
        box = [round(x), 2, round(x + scale * width) - 1, 2 + height - 1]
        if ribbon:
            strip.paste(_cloth(ribbon, box[2] - box[0] + 1, height), (box[0], 2))
        else:
            pen.rectangle(box, (240, 241, 243))
            pen.text(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), "?", _GREY, sheet.font(44), anchor="mm")
        pen.rectangle(box, outline=_PAPER, width=1)
        if slot.moved:
            pen.rectangle([box[0] + 1, box[1], box[2] - 1, box[3]], outline=_PAPER, width=7)
            pen.rectangle([box[0] + 2, box[1] + 1, box[2] - 2, box[3] - 1], outline=_WRONG, width=4)
            _arrow(pen, (box[0] + box[2]) / 2, box[3])
        for place, (line, colour) in enumerate(lines):
            pen.text((box[0] + 6, height + 14 + place * step), line, colour, sheet.font(size))
        x += scale * width
    sheet.add(strip)


def _arrow(pen: ImageDraw.ImageDraw, x: float, y: float) -> None:
    """A wedge that points up at a ribbon from below: this one comes here."""
    pen.polygon([(x - 15, y + 12), (x + 15, y + 12), (x, y - 8)], _WRONG, _PAPER)


def _cloth(ribbon: Ribbon, width: int, height: int) -> Image.Image:
    light = weave(ribbon, width, height)
    return Image.fromarray(np.round(srgb_from_linear(light) * 255).astype(np.uint8))


_PLAIN_ONLY = ""


@lru_cache(maxsize=64)
def _font(face: str, size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(face, size) if face else ImageFont.load_default(size)


def _face_for(texts: str) -> str:
    """The first font that has every letter; the one that comes with Pillow (plain letters only) where none does."""
    letters = {c for c in texts if not c.isspace()}
    for face in (_PLAIN_ONLY, *_FONTS):
        try:
            font = _font(face, 24)
        except OSError:
            continue
        missing = _shape(font, "\U0010fffd")
        if all(_shape(font, letter) != missing for letter in letters):
            return face
    return _PLAIN_ONLY


def _shape(font: ImageFont.FreeTypeFont, letter: str) -> bytes:
    mask = font.getmask(letter)
    return bytes(mask) if mask.size[0] else b"blank"


_LIKENESS = str.maketrans({"–": "-", "—": "-", "×": "x", "ß": "ss", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "æ": "ae"})


def _plain(text: str) -> str:
    """The nearest plain letters: é becomes e, – becomes -, what has no likeness becomes ?."""
    split = unicodedata.normalize("NFKD", text.translate(_LIKENESS))
    return "".join("" if unicodedata.combining(c) else c if c.isascii() or c in "’“”…" else "?" for c in split)
