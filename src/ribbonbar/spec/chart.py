"""A labelled chart of ribbons, for a person who checks or mends a specification."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from ribbonbar.errors import OptionError
from ribbonbar.spec.colour import srgb_from_linear, srgb_profile
from ribbonbar.spec.draw import weave
from ribbonbar.spec.faults import guess, shown
from ribbonbar.spec.model import Award, Interval, Ribbon, Specification
from ribbonbar.spec.reader import read_specification

MOST_RIBBONS = 3000
COLUMNS = 4
_PX_PER_MM = 7
_CELL, _MARGIN, _GAP = 330, 24, 10
_PAPER, _INK, _GREY, _LINE = (255, 255, 255), (20, 20, 20), (105, 105, 105), (200, 200, 200)


@dataclass(frozen=True)
class Section:
    """A heading and the awards under it."""

    title: str
    awards: tuple[Award, ...]


def sections(specification: Specification, wanted: str = "", order: str = "") -> tuple[Section, ...]:
    """What to draw: by default every order of wear, group by group, then every award that stands in none.

    ``wanted`` is one award's key, or its id when only one authority uses it; ``order`` an order of wear's key.
    Raises OptionError when there is no such award or order.
    """
    awards, orders = specification.awards, specification.orders
    if wanted:
        keys = [key for key in awards if wanted in (key, key.split("/")[1])]
        if not keys:
            raise OptionError(f"{shown(wanted)} is neither a file nor a known award; {guess(wanted, awards)}")
        return (Section("", tuple(awards[key] for key in keys)),)
    if order and order not in orders:
        raise OptionError(f"no order of wear {shown(order)}; {guess(order, orders)}")
    left = dict(awards)  # an award that stands in several orders is drawn with the first
    placed = [
        Section(f"{one.title}: {group.title}", tuple(left.pop(key) for key in group.awards if key in left))
        for one in ([orders[order]] if order else orders.values())
        for group in one.groups
    ]
    if not order:
        placed.append(Section("In no order of wear", tuple(left.values())))
    return tuple(section for section in placed if section.awards)


def draw_chart(path_or_award: str, paths: Sequence[Path], order: str = "") -> Image.Image:
    """The chart of a specification file or folder, or of one award of the specification in ``paths``.

    Raises SpecError for a file with faults, OptionError for an unknown award or order, or too many ribbons.
    """
    is_path = "\0" not in path_or_award and Path(path_or_award).exists()
    if is_path:
        return chart(sections(read_specification([Path(path_or_award)]), order=order))
    return chart(sections(read_specification(paths), wanted=path_or_award))


def chart(parts: Sequence[Section]) -> Image.Image:
    """Every ribbon of every award with name, key, pattern, certainty and way round; unmatched ones hatched, with why.

    The picture is sRGB. Raises OptionError when there are more than ``MOST_RIBBONS`` ribbons.
    """
    count = sum(max(1, len(award.ribbons)) for part in parts for award in part.awards)
    if count > MOST_RIBBONS:
        raise OptionError(f"{count} ribbons are too many for one chart; draw one order of wear with --order")
    fonts = ImageFont.load_default(14), ImageFont.load_default(12), ImageFont.load_default(20)
    rows = [row for part in parts for row in _rows_of(part)]
    heights = [_height(row) for row in rows]
    size = 2 * _MARGIN + COLUMNS * _CELL, 2 * _MARGIN + sum(heights)
    picture = Image.new("RGB", size, _PAPER)
    pen = ImageDraw.Draw(picture)
    top = _MARGIN
    for row, height in zip(rows, heights, strict=True):
        if isinstance(row, str):
            pen.text((_MARGIN, top + 8), _cut(row, fonts[2], COLUMNS * _CELL), _INK, fonts[2])
            pen.line([(_MARGIN, top + 36), (size[0] - _MARGIN, top + 36)], _LINE)
        else:
            for column, (award, ribbon) in enumerate(row):
                _cell(picture, pen, (_MARGIN + column * _CELL, top), award, ribbon, fonts)
        top += height
    return picture


def png(picture: Image.Image) -> bytes:
    """The picture as a PNG file, its colour profile embedded."""
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", icc_profile=srgb_profile())
    return buffer.getvalue()


_Cell = tuple[Award, Ribbon | None]


def _rows_of(part: Section) -> list[str | list[_Cell]]:
    cells: list[_Cell] = [(award, ribbon) for award in part.awards for ribbon in award.ribbons or (None,)]
    rows: list[str | list[_Cell]] = [cells[i : i + COLUMNS] for i in range(0, len(cells), COLUMNS)]
    return [part.title, *rows] if part.title else rows


def _height(row: str | list[_Cell]) -> int:
    if isinstance(row, str):
        return 48
    tallest = max(ribbon.height_mm if ribbon else 10.0 for _, ribbon in row)
    return round(tallest * _PX_PER_MM) + 5 * 17 + _GAP


def _cell(picture: Image.Image, pen: ImageDraw.ImageDraw, at: tuple[int, int], award: Award, ribbon, fonts) -> None:
    left, top = at
    if ribbon:
        width = min(round(ribbon.width_mm * _PX_PER_MM), _CELL - _GAP)
        height = round(ribbon.height_mm * _PX_PER_MM)
        light = weave(ribbon, width, height)
        cloth = np.round(srgb_from_linear(light) * 255).astype(np.uint8)
        picture.paste(Image.fromarray(cloth), (left, top))
        pen.rectangle([left - 1, top - 1, left + width, top + height], outline=_LINE)
    else:
        height = 10 * _PX_PER_MM
        pen.text((left, top + height // 2 - 8), "no ribbon", _GREY, fonts[1])
    lines = [award.name, award.key, *_facts(award, ribbon)]
    for place, line in enumerate(lines[:5]):
        font = fonts[0] if place == 0 else fonts[1]
        pen.text(
            (left, top + height + 4 + 17 * place), _cut(line, font, _CELL - _GAP), _INK if place < 1 else _GREY, font
        )


def _facts(award: Award, ribbon: Ribbon | None) -> list[str]:
    facts = []
    if ribbon:
        way = "" if ribbon.symmetrical or ribbon.shape == "unmatched" else "has a way round"
        worn = f"issued {_days(ribbon.worn)}" if ribbon.worn != Interval() else ""
        size = f"{ribbon.width_mm:g} mm"
        certainty = ribbon.certainty if ribbon.stripes else ""
        division = ribbon.division if ribbon.division != ribbon.id else ""
        facts.append(" · ".join(x for x in (ribbon.id, division, certainty, size, way) if x))
        facts += [worn] if worn else []
        facts += [f"unmatched: {ribbon.unmatched}"] if ribbon.unmatched else []
    if award.earned != Interval():
        facts.append(f"earned {_days(award.earned)}")
    if award.worn_elsewhere:
        facts.append(f"worn elsewhere: {award.worn_elsewhere}")
    return facts


def _days(interval: Interval) -> str:
    start = f"from {interval.start}" if interval.start else ""
    return f"{start} to {interval.end}".strip() if interval.end else start


def _cut(text: str, font: ImageFont.FreeTypeFont, width: int) -> str:
    """The text, shortened until it fits."""
    if font.getlength(text) <= width:
        return text
    while text and font.getlength(text + "…") > width:
        text = text[: -1 - len(text) // 40]
    return text + "…"
