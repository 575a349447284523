"""The cutting list: the length of each ribbon and each bar, and how much of each pattern several jobs take."""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ribbonbar.errors import OptionError
from ribbonbar.plan.bar import PlannedBar, PlannedRibbon

TURN_UNDER_MM = 10.0
"""Ribbon folded over each of the bar's two long edges: common practice, no source."""
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")  # the wide ones count in some languages


@dataclass(frozen=True)
class Piece:
    """One ribbon to cut. On an undress bar the stripes run up and down, so the ribbon is wrapped round the bar: its
    full width shows, and its length is the bar's height and what is turned under at top and bottom."""

    bar: int
    """Which of the bars, from 0."""
    job: str
    position: str
    award: str
    name: str
    pattern: str
    """The ribbon's id; empty while it is not settled which one it is."""
    width_mm: float
    length_mm: float


@dataclass(frozen=True)
class BarLength:
    """The metal for one row."""

    bar: int
    job: str
    row: int
    ribbons: int
    length_mm: float


@dataclass(frozen=True)
class PatternTotal:
    """All of one pattern over all jobs. ``length_mm`` has no allowance for waste."""

    award: str
    name: str
    pattern: str
    width_mm: float
    pieces: int
    length_mm: float


@dataclass(frozen=True)
class CuttingList:
    turn_under_mm: float
    pieces: tuple[Piece, ...]
    bars: tuple[BarLength, ...]
    totals: tuple[PatternTotal, ...]


def cutting_list(bars: Sequence[PlannedBar], turn_under_mm: float = TURN_UNDER_MM) -> CuttingList:
    """What to cut for these bars. ``turn_under_mm`` is for each edge. Raises OptionError when it is not 0 to 100."""
    if not 0 <= turn_under_mm <= 100:
        raise OptionError(f"--turn-under {turn_under_mm:g}: give 0 to 100 millimetres")
    pieces, rows = [], []
    for number, bar in enumerate(bars):
        job = bar.reference or f"bar {number + 1}"
        pieces += [_piece(number, job, ribbon, bar.height_mm + 2 * turn_under_mm) for ribbon in bar.ribbons]
        rows += [
            BarLength(number, job, row, len(ribbons), length)
            for row, (ribbons, length) in enumerate(zip(bar.rows, bar.row_widths, strict=True), 1)
        ]
    return CuttingList(turn_under_mm, tuple(pieces), tuple(rows), _totals(pieces))


def _piece(bar: int, job: str, ribbon: PlannedRibbon, length: float) -> Piece:
    pattern = ribbon.ribbon.id if ribbon.ribbon else ""
    return Piece(bar, job, ribbon.position, ribbon.award.key, ribbon.award.name, pattern, ribbon.width_mm, length)


def _totals(pieces: Iterable[Piece]) -> tuple[PatternTotal, ...]:
    of_pattern: dict[tuple[str, str, float], list[Piece]] = {}
    for piece in pieces:
        of_pattern.setdefault((piece.award, piece.pattern, piece.width_mm), []).append(piece)
    totals = [
        PatternTotal(award, same[0].name, pattern, width, len(same), sum(piece.length_mm for piece in same))
        for (award, pattern, width), same in of_pattern.items()
    ]
    return tuple(sorted(totals, key=lambda total: (total.name.casefold(), total.award, total.pattern)))


def to_text(cutting: CuttingList) -> str:
    """The list for a person, in plain lines; totals only where there is more than one bar."""
    lines = [allowance(cutting)]
    numbers = list(dict.fromkeys(bar.bar for bar in cutting.bars))
    for number in numbers:
        rows = [bar for bar in cutting.bars if bar.bar == number]
        lines.append(f"{rows[0].job}: {mm(max(bar.length_mm for bar in rows))} mm wide over all")
        for bar in rows:
            lines.append(f"  row {bar.row}: bar {mm(bar.length_mm)} mm long")
            for piece in cutting.pieces:
                if piece.bar == number and piece.position.startswith(f"{bar.row}."):
                    lines.append(f"    {piece.position:<5} {mm(piece.length_mm)} mm of {pattern_words(piece)}")
    if len(numbers) > 1:
        lines.append("all together:")
        lines += [f"  {total_words(total)}" for total in cutting.totals]
    return "\n".join(lines)


def allowance(cutting: CuttingList) -> str:
    """What the lengths hold, and where the allowance comes from."""
    usual = cutting.turn_under_mm == TURN_UNDER_MM
    origin = "common practice, no source; change it with --turn-under" if usual else "as asked for"
    return f"Lengths: the bar's height and {mm(cutting.turn_under_mm)} mm turned under at top and at bottom ({origin})."


def mm(length: float) -> str:
    """A length in mm to the tenth that a tailor can measure."""
    return f"{round(length, 1):g}"


def total_words(total: PatternTotal) -> str:
    """A pattern with the number of pieces and their length together."""
    pieces = f"{total.pieces} piece{'s' if total.pieces > 1 else ''}"
    return f"{pattern_words(total)}: {pieces}, {mm(total.length_mm)} mm in all"


def pattern_words(cloth: Piece | PatternTotal) -> str:
    """A pattern and its width in words."""
    return f"{cloth.name} ({cloth.pattern or 'pattern to be settled'}), {mm(cloth.width_mm)} mm wide"


def to_csv(cutting: CuttingList) -> str:
    """The list for a spreadsheet, one table: pieces, bars and totals told apart by the first column.

    A cell that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["what", "job", "row", "place", "award", "name", "pattern", "width_mm", "pieces", "length_mm"])
    rows: list[list[object]] = []
    for p in cutting.pieces:
        rows.append(["piece", p.job, *p.position.split("."), p.award, p.name, p.pattern, p.width_mm, 1, p.length_mm])
    for b in cutting.bars:
        rows.append(["bar", b.job, b.row, "", "", "", "", "", b.ribbons, b.length_mm])
    for t in cutting.totals:
        rows.append(["total", "", "", "", t.award, t.name, t.pattern, t.width_mm, t.pieces, t.length_mm])
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def _cell(value: object) -> str:
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text
