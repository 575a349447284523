"""The bar as it should be: the proposed order laid out in the rows of the bar as photographed."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice

from ribbonbar.report.model import Position, Report
from ribbonbar.spec.model import Award, Ribbon, Specification


@dataclass(frozen=True)
class Slot:
    """One place of the bar as it should be.

    ``number`` is its ``"row.place"``. ``award`` is a key, empty for a ribbon that nobody could name; ``ribbon`` the id
    of its pattern, empty where the photo says nothing about it. ``was`` is where the ribbon stands on the photo, empty
    when it is not there. ``moved`` marks one smallest set of ribbons to move.
    """

    number: str
    award: str
    ribbon: str = ""
    was: str = ""
    moved: bool = False


Slots = tuple[tuple[Slot, ...], ...]


def positions(report: Report) -> tuple[Position, ...]:
    """Every position of the report in reading order."""
    return tuple(position for bar in report.bars for row in bar.rows for position in row)


def as_it_should_be(report: Report) -> Slots:
    """The report's proposed order in rows as long as those photographed; what does not fit lengthens the last row.

    Where the report proposes nothing, the bar as read.
    """
    seen = {position.position: position for position in positions(report)}
    if report.proposed_order:
        pairs = list(zip(report.proposed_order, _places_now(report), strict=True))
    else:
        pairs = [(_best(position), number) for number, position in seen.items()]
    moved = set(report.to_move) or {
        number for f in report.findings if f.kind == "out-of-place" and f.severity == "error" for number in f.positions
    }
    lengths = [len(row) for bar in report.bars for row in bar.rows]
    return _in_rows((_slot(award, seen.get(was), was, was in moved) for award, was in pairs), lengths)


def as_ordered(report: Report, rows: Iterable[Iterable[str]]) -> Slots:
    """A work order's rows of award keys; ``was`` is where the ribbon stands on the photo, its own place if possible."""
    seen = {position.position: position for position in positions(report)}
    free = {number: _best(position) for number, position in seen.items()}
    rows = [list(row) for row in rows]
    numbered = [(f"{r}.{p}", award) for r, row in enumerate(rows, 1) for p, award in enumerate(row, 1)]
    at_home = {number for number, award in numbered if free.get(number) == award}
    slots = []
    for number, award in numbered:
        elsewhere = (other for other, its in free.items() if its == award and other not in at_home)
        was = number if number in at_home else next(elsewhere, "")
        free.pop(was, None)
        slots.append(_slot(award, seen.get(was), was, was not in ("", number)))
    return _in_rows(slots, map(len, rows))


def pattern(award: Award | None, ribbon: str = "") -> Ribbon | None:
    """The award's pattern of that id, else its first that can be drawn, else its first; None where it has none."""
    ribbons = award.ribbons if award else ()
    named = [r for r in ribbons if r.id == ribbon]
    return next(iter([*named, *(r for r in ribbons if r.shape != "unmatched"), *ribbons]), None)


def slot_ribbon(slot: Slot, specification: Specification) -> Ribbon | None:
    """What is to be drawn at a slot; None where nobody knows."""
    return pattern(specification.awards.get(slot.award), slot.ribbon)


def _best(position: Position) -> str:
    return position.candidates[0].award if position.candidates else ""


def _places_now(report: Report) -> list[str]:
    """Where each ribbon of the proposed order stands now; matched by name where the report does not say it itself."""
    now = report.proposed_positions
    known = {position.position: position for position in positions(report)}
    stated = [number for number in now if number]
    if len(now) == len(report.proposed_order) and len(set(stated)) == len(stated) and known.keys() >= set(stated):
        return list(now)
    found = [""] * len(report.proposed_order)
    for allowed in (1, None):  # first those whose best candidate it is, then those that may be it
        for i, award in enumerate(report.proposed_order):
            if not found[i]:
                may_be = (
                    number
                    for number, position in known.items()
                    if award in [c.award for c in position.candidates[:allowed]]
                    or not (position.candidates or "/" in award)
                )
                found[i] = next(may_be, "")
                known.pop(found[i], None)
    return found


def _slot(award: str, position: Position | None, was: str, moved: bool) -> Slot:
    named = award if "/" in award else ""  # a ribbon nobody could name stands in the order as a bare word
    chosen = [c.ribbon for c in position.candidates if c.award == award] if position else []
    return Slot("", named, chosen[0] if chosen else "", was, moved)


def _in_rows(slots: Iterable[Slot], lengths: Iterable[int]) -> Slots:
    rest: Iterator[Slot] = iter(slots)
    rows = [list(islice(rest, length)) for length in lengths]
    left_over = list(rest)
    if left_over:
        rows = [*rows[:-1], [*(rows[-1] if rows else []), *left_over]]
    return tuple(
        tuple(Slot(f"{r}.{p}", s.award, s.ribbon, s.was, s.moved) for p, s in enumerate(row, 1))
        for r, row in enumerate((row for row in rows if row), 1)
    )
