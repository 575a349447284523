"""The bar as it should be: the proposed order laid out in the rows of the bar as photographed."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ribbonbar.report.model import Position, Report
from ribbonbar.spec.model import Award, Ribbon, Specification


@dataclass(frozen=True)
class Slot:
    """One place of the bar as it should be.

    ``number`` is its position, ``"row.place"``. ``award`` is a key, empty for a ribbon that nobody could name;
    ``ribbon`` the id of its pattern, empty where the photo says nothing about it. ``was`` is where the ribbon stands on
    the photo, empty when it is not there. ``moved`` marks one smallest set of ribbons to move.
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
    moved = set(report.to_move)
    slots = (_slot(award, seen.get(was), was, was in moved) for award, was in pairs)
    return _in_rows(slots, [[position.position for position in row] for bar in report.bars for row in bar.rows])


def as_ordered(report: Report, rows: Iterable[Iterable[str]]) -> Slots:
    """A work order's rows of award keys, each with the ribbon on the photo that it is taken to be.

    Ribbons that were identified are taken first, those in their own place before others; then those that may be what
    was ordered. ``moved`` marks what a finding says to be in another ribbon's place.
    """
    rows = [list(row) for row in rows]
    numbers = [[f"{r}.{p}" for p, _ in enumerate(row, 1)] for r, row in enumerate(rows, 1)]
    ordered = {number: award for row in zip(numbers, rows, strict=True) for number, award in zip(*row, strict=True)}
    free = {position.position: position for position in positions(report)}
    taken: dict[str, Position] = {}
    for fits in (_is, _may_be, _is_unknown):
        for at_home in (True, False):
            for number, award in ordered.items():
                among = [number] if at_home else list(free)
                found = next((n for n in among if number not in taken and n in free and fits(free[n], award)), None)
                if found:
                    taken[number] = free.pop(found)
    displaced = {n for f in report.findings if f.kind in ("swapped", "out-of-place") for n in f.positions}
    slots = []
    for number, award in ordered.items():
        was = taken[number].position if number in taken else ""
        slots.append(_slot(award, taken.get(number), was, was != number and was in displaced))
    return _in_rows(slots, numbers)


def _is(position: Position, award: str) -> bool:
    return position.status == "identified" and _best(position) == award


def _may_be(position: Position, award: str) -> bool:
    return position.status != "unidentified" and award in [candidate.award for candidate in position.candidates]


def _is_unknown(position: Position, award: str) -> bool:
    return position.status == "unidentified"


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


def _in_rows(slots: Iterable[Slot], numbers: list[list[str]]) -> Slots:
    """The slots in rows numbered like ``numbers``; what is left over lengthens the last row."""
    rest: Iterator[Slot] = iter(slots)
    rows = [[replace(slot, number=number) for number, slot in zip(row, rest, strict=False)] for row in numbers]
    for extra in rest:
        last = rows[-1][-1].number if rows and rows[-1] else "1.0"
        row, _, place = last.rpartition(".")
        rows = rows or [[]]
        rows[-1].append(replace(extra, number=f"{row}.{int(place) + 1}"))
    return tuple(tuple(row) for row in rows if row)
