"""A finished bar against what the work order says: missing, extra, swapped, in other rows, with other emblems."""

from collections.abc import Mapping, Sequence
from math import inf

from ribbonbar.findings import Finding
from ribbonbar.precedence.model import Record, Rows, Slot
from ribbonbar.precedence.moves import conflicts, fewest_to_move
from ribbonbar.precedence.names import award_name, listed
from ribbonbar.precedence.rules import worn_elsewhere
from ribbonbar.spec.model import OrderOfWear, Specification

_BECAUSE = "the work order says so"


def compare(
    rows: Rows, work_order: Record, specification: Specification, order: OrderOfWear | None = None
) -> tuple[Finding, ...]:
    """What differs between a bar as read and its work order.

    With ``rows`` the work order fixes every position; without them only what the bar carries is compared, and its
    sequence is for ``judge``. An ambiguous ribbon counts as any of its awards, an unidentified one as anything, so
    that a finding is an error only where nothing the ribbons may be would fit. An award that is worn elsewhere is not
    looked for, unless ``rows`` asks for it; one held twice is looked for once, unless ``order`` allows a second ribbon.
    """
    slots = tuple(slot for row in rows for slot in row)
    wanted = _wanted(work_order, specification, order)
    partner = _match(wanted, slots)
    findings = _missing(wanted, slots, partner, specification) + _extra(wanted, slots, partner, specification)
    if work_order.rows:
        findings += _displaced(wanted, slots, partner, specification, work_order)
        if not any(f.severity == "error" and f.kind in ("missing", "extra") for f in findings):
            findings += _other_rows(rows, work_order)
    return tuple(findings)


def emblem_findings(
    rows: Rows, seen: Mapping[str, Sequence[str]], work_order: Record, specification: Specification
) -> tuple[Finding, ...]:
    """Warnings where the emblems seen are not those ordered; ``seen`` gives the kinds at each position.

    Never errors: an emblem is small, and glint or shade hides it or makes one up.
    """
    ordered = {held.award: held.emblems for held in reversed(work_order.held)}
    found = []
    for slot in (slot for row in rows for slot in row):
        if len(slot.awards) != 1 or slot.awards[0] not in ordered:
            continue
        wanted, there = ordered[slot.awards[0]], seen.get(slot.position, ())
        if len(wanted) == len(there):
            continue
        name = award_name(specification, slot.awards[0])
        has = f"{len(there)} {'emblem' if len(there) == 1 else 'emblems'} seen on {name} ({slot.position})"
        message = f"{has}; ordered: {listed(wanted) or 'none'}."
        found.append(Finding("emblem", (slot.position,), "warning", message, _BECAUSE))
    return tuple(found)


def _wanted(work_order: Record, specification: Specification, order: OrderOfWear | None) -> tuple[str, ...]:
    if work_order.rows:
        return tuple(award for row in work_order.rows for award in row)
    held = [each.award for each in work_order.held if not worn_elsewhere(specification, each.award)]
    return tuple(held if order and order.second_ribbon else dict.fromkeys(held))


def _match(wanted: Sequence[str], slots: Sequence[Slot]) -> list[int | None]:
    """For each slot the ordered ribbon it is taken to be: as many as can be, identified ones first, near ones first."""
    partner: list[int | None] = [None] * len(slots)
    matched: set[int] = set()
    for most_candidates in (1, inf, None):  # None: unidentified ribbons too
        for start in range(len(wanted)):
            if start not in matched and _augment(start, wanted, slots, partner, most_candidates):
                matched.add(start)
    return partner


def _augment(start: int, wanted: Sequence[str], slots: Sequence[Slot], partner: list, most: float | None) -> bool:
    """Find ``start`` a slot, moving others to other slots where need be (an alternating path)."""
    came_from: dict[int, int] = {}
    frontier = [start]
    while frontier:
        ribbon = frontier.pop(0)
        for i in sorted(range(len(slots)), key=lambda i: (abs(i - ribbon), i)):
            if i in came_from or not _fits(wanted[ribbon], slots[i], most):
                continue
            came_from[i] = ribbon
            if partner[i] is not None:
                frontier.append(partner[i])
                continue
            end: int | None = i
            while end is not None:
                ribbon = came_from[end]
                previous = next((j for j, who in enumerate(partner) if who == ribbon), None)
                partner[end] = ribbon
                end = previous
            return True
    return False


def _fits(award: str, slot: Slot, most: float | None) -> bool:
    if not slot.awards:
        return most is None
    return award in slot.awards and (most is None or len(slot.awards) <= most)


def _missing(wanted, slots, partner, specification: Specification) -> list[Finding]:
    found, told = [], set()
    for i, award in enumerate(wanted):
        name = award_name(specification, award)
        if i in partner:
            slot = slots[partner.index(i)]
            if not slot.awards:
                message = f"{name} was not seen; it may be the unidentified ribbon at {slot.position}."
                found.append(Finding("missing", (slot.position,), "warning", message, _BECAUSE))
            continue
        rivals = _rivals(i, wanted, slots, partner)
        if not told & set(rivals):
            names = dict.fromkeys(award_name(specification, wanted[j]) for j in rivals)
            message = f"{name} is missing." if len(names) == 1 else f"One of {listed(names)} is missing."
            found.append(Finding("missing", (), "error", message, _BECAUSE))
        elif len({wanted[j] for j in rivals}) > 1:
            found.append(Finding("missing", (), "error", "A further one of these is missing.", _BECAUSE))
        told |= set(rivals)
    return found


def _rivals(start: int, wanted, slots, partner) -> list[int]:
    """The ordered ribbons that compete for the same slots as one that got none: one of them is missing."""
    rivals, frontier = [start], [start]
    while frontier:
        ribbon = frontier.pop()
        for i, slot in enumerate(slots):
            other = partner[i]
            if other is not None and other not in rivals and _fits(wanted[ribbon], slot, None):
                rivals.append(other)
                frontier.append(other)
    return sorted(rivals)


def _extra(wanted, slots, partner, specification: Specification) -> list[Finding]:
    found = []
    for i, slot in enumerate(slots):
        if partner[i] is not None:
            continue
        if slot.awards and not set(slot.awards) & set(wanted):
            names = listed((award_name(specification, award) for award in slot.awards), "or")
            message = f"{names} ({slot.position}) is not on the work order."
        else:
            message = f"There is a ribbon more than ordered, taken to be the one at {slot.position}."
        found.append(Finding("extra", (slot.position,), "error", message, _BECAUSE))
    return found


def _displaced(wanted, slots, partner, specification: Specification, work_order: Record) -> list[Finding]:
    """Swapped pairs, then the fewest other ribbons whose place is not that of the work order."""
    places = [f"{r}.{p}" for r, row in enumerate(work_order.rows, 1) for p, _ in enumerate(row, 1)]
    there = [i for i, ribbon in enumerate(partner) if ribbon is not None]
    by_order = sorted(there, key=lambda i: partner[i])
    ranks = [by_order.index(i) for i in there]

    def sure(n: int) -> bool:
        award = wanted[partner[there[n]]]
        return len(slots[there[n]].awards) == 1 and wanted.count(award) == 1

    def named(n: int) -> str:
        return f"{award_name(specification, wanted[partner[there[n]]])} ({slots[there[n]].position})"

    swaps, moved = _mend(ranks)
    found = []
    for n, m in swaps:
        severity = "error" if sure(n) and sure(m) else "warning"
        positions = (slots[there[n]].position, slots[there[m]].position)
        found.append(Finding("swapped", positions, severity, f"{named(n)} and {named(m)} are swapped.", _BECAUSE))
    for n in moved:
        certain = sure(n) and any(sure(m) and (n < m) != (ranks[n] < ranks[m]) for m in range(len(ranks)) if m != n)
        message = f"{named(n)} is ordered at {places[partner[there[n]]]}."
        severity = "error" if certain else "warning"
        found.append(Finding("out-of-place", (slots[there[n]].position,), severity, message, _BECAUSE))
    return found


def _mend(ranks: Sequence[int]) -> tuple[list[tuple[int, int]], tuple[int, ...]]:
    """The pairs to exchange and the ribbons to move that bring ``ranks`` (a permutation) into sequence.

    A pair that stands in each other's place is exchanged where that costs no more than moving ribbons.
    """
    arranged, swaps = list(ranks), []
    for n, m in enumerate(ranks):
        if n < m and ranks[m] == n:
            attempt = list(arranged)
            attempt[n], attempt[m] = attempt[m], attempt[n]
            if 1 + len(_to_move(attempt)) <= len(_to_move(arranged)):
                arranged, swaps = attempt, [*swaps, (n, m)]
    moved = _to_move(arranged)
    if {n for pair in swaps for n in pair} & set(moved):
        return [], _to_move(ranks)
    return swaps, moved


def _to_move(ranks: Sequence[int]) -> tuple[int, ...]:
    return fewest_to_move(conflicts([sum(1 << m for m, other in enumerate(ranks) if rank < other) for rank in ranks]))


def _other_rows(rows: Rows, work_order: Record) -> list[Finding]:
    seen, ordered = [len(row) for row in rows], [len(row) for row in work_order.rows]
    if seen == ordered:
        return []
    message = f"Rows of {listed(map(str, seen))}, top first, where {listed(map(str, ordered))} are ordered."
    return [Finding("row-layout", (), "error", message, _BECAUSE)]
