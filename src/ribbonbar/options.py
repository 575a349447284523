"""What the user asked for, checked once; command line and Python use the same."""

import math
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ribbonbar.errors import OptionError
from ribbonbar.precedence.model import Record
from ribbonbar.precedence.names import Names, harmless
from ribbonbar.report.model import Corners
from ribbonbar.spec.model import OrderOfWear, Specification

_POSITION = re.compile(r"(?:[1-9][0-9]?/)?[1-9][0-9]?\.[1-9][0-9]{0,2}")
_CORNERS_FORM = '"x,y x,y x,y x,y", clockwise from top left, in pixels of the upright picture'
_LEAST_SIDE = 8.0  # pixels; nothing can be read within less
_MOST_BYTES = 50_000  # an answers file of a thousand ribbons is smaller


@dataclass(frozen=True)
class AuditOptions:
    """What the user asked for, checked once. ``answers`` maps a position (``"1.3"``) to an award's key."""

    order: str = ""
    record: Record | None = None
    work_order: Record | None = None
    corners: Corners | None = None
    answers: dict[str, str] = field(default_factory=dict)
    max_megapixels: float = 60.0
    debug_folder: Path | None = None

    @property
    def order_of_wear(self) -> str:
        """The order asked for, else the record's or the work order's; empty where none is."""
        held = (each.order_of_wear for each in (self.record, self.work_order) if each)
        return self.order or next(filter(None, held), "")


def parse_corners(text: str) -> Corners:
    """The outline of a bar from ``"x,y x,y x,y x,y"``.

    Raises OptionError for anything that is not four pairs of finite numbers, and for an outline that is folded, runs
    counter-clockwise (the bar would be read mirrored) or is too small to hold a bar.
    """
    pairs = re.sub(r"\s*,\s*", ",", text.strip()).split()
    try:
        corners = tuple((float(x), float(y)) for x, y in (pair.split(",") for pair in pairs))
    except ValueError:
        raise OptionError(f"--corners {harmless(text)}: not pairs of numbers; give {_CORNERS_FORM}") from None
    if len(corners) != 4:
        raise OptionError(f"--corners: a bar has 4 corners, {len(corners)} are given; give {_CORNERS_FORM}")
    if not all(math.isfinite(value) for corner in corners for value in corner):
        raise OptionError(f"--corners {harmless(text)}: every number must be finite; give {_CORNERS_FORM}")
    turns = [_turn(corners[k - 2], corners[k - 1], corners[k]) for k in range(4)]
    if all(turn < 0 for turn in turns):
        raise OptionError(f"--corners: the corners run counter-clockwise; give {_CORNERS_FORM}")
    if not all(turn > 0 for turn in turns):
        raise OptionError(f"--corners: the lines between the corners cross or fold back; give {_CORNERS_FORM}")
    if min(math.dist(corners[k - 1], corners[k]) for k in range(4)) < _LEAST_SIDE:
        raise OptionError(f"--corners: a side is shorter than {_LEAST_SIDE:g} pixels; give the whole bar's outline")
    return corners


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    """Above zero where the way from a over b to c turns clockwise as seen (y grows downwards)."""
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def check_corners(corners: Corners, width: int, height: int) -> None:
    """Raises OptionError when a corner lies outside a picture of this size."""
    for number, (x, y) in enumerate(corners, 1):
        if not (0 <= x <= width and 0 <= y <= height):
            raise OptionError(
                f"--corners: corner {number} ({x:g},{y:g}) lies outside the picture, which is {width} x {height} "
                "pixels when upright; --show-grid FILE writes it with coordinates to read"
            )


def check_max_megapixels(megapixels: float) -> float:
    """Raises OptionError for what is no size of a picture."""
    if not (math.isfinite(megapixels) and megapixels > 0):
        raise OptionError(f"--max-megapixels {megapixels:g}: give a number above 0, as in --max-megapixels 100")
    return megapixels


def parse_answers(
    texts: Iterable[str], file: Path | None, specification: Specification, order: OrderOfWear | None = None
) -> dict[str, str]:
    """What each position holds, as given by hand: ``texts`` like ``"1.3=calder/harbour-star"``, and an answers file.

    Awards may be given by id, name or abbreviation; they come back as keys. Raises OptionError, with what was perhaps
    meant, for a name that does not exist, a position that cannot be, and a position given two awards.
    """
    given = [("--answer", *_split(text)) for text in texts]
    given += [(harmless(file.name)[1:-1], *pair) for pair in _in_file(file).items()] if file else []
    names = Names(specification)
    answers: dict[str, str] = {}
    for where, position, text in given:
        position = position.strip()
        if not _POSITION.fullmatch(position):
            raise OptionError(f"{where}: {harmless(position)} is no position; write row.place, as in 1.3")
        try:
            award = names.award(text.strip(), order)
        except OptionError as error:
            raise OptionError(f"{where}, position {position}: {error}") from None
        if answers.setdefault(position, award) != award:
            raise OptionError(f"{where}: position {position} is given two awards, {answers[position]} and {award}")
    return answers


def check_positions(answers: Iterable[str], positions: Iterable[str]) -> None:
    """Raises OptionError when an answer is for a position that the bar does not have."""
    there = list(positions)
    for position in answers:
        if position not in there:
            raise OptionError(f"there is no position {position} on this bar to answer for; it has {', '.join(there)}")


def _split(text: str) -> tuple[str, str]:
    position, equals, award = text.partition("=")
    if not equals:
        raise OptionError(f"--answer {harmless(text)}: write POSITION=AWARD, as in --answer 1.3=calder/harbour-star")
    return position, award


def _in_file(path: Path) -> dict[str, str]:
    """The ``[answers]`` table of a file; positions may be written with quotes (``"1.3"``) or without (1.3)."""
    name = harmless(path.name)[1:-1]
    how = 'write [answers] and under it lines like "1.3" = "calder/harbour-star"'
    try:
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)
        if len(data) > _MOST_BYTES:
            raise OptionError(f"{name}: too large to be answers about one bar; {how}")
        table = tomllib.loads(data.decode("utf-8-sig").replace("\r\n", "\n"))
    except OSError as error:
        raise OptionError(f"{name}: cannot be read ({error.strerror}); check the name") from None
    except UnicodeDecodeError:
        raise OptionError(f"{name}: it is not UTF-8 text; save it as UTF-8") from None
    except (ValueError, RecursionError) as error:
        raise OptionError(f"{name}: it is not valid TOML ({harmless(error)[1:-1]}); {how}") from None
    unknown = [key for key in table if key != "answers"]
    if unknown or not isinstance(table.get("answers"), dict):
        what = f"{harmless(unknown[0])} is not known here" if unknown else "there is no table [answers]"
        raise OptionError(f"{name}: {what}; {how}")
    return dict(_flat(table["answers"], "", name, how))


def _flat(table: dict[str, Any], before: str, name: str, how: str) -> Iterable[tuple[str, str]]:
    """A bare ``1.3`` is to TOML a table within a table."""
    for key, value in table.items():
        position = f"{before}{key}"
        if isinstance(value, dict) and not before:
            yield from _flat(value, f"{position}.", name, how)
        elif isinstance(value, str):
            yield position, value
        else:
            raise OptionError(f"{name}, {harmless(position)}: the award must be a text in quotes; {how}")
