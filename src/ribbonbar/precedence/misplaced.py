"""Which ribbons stand out of their place, and where they belong."""

from dataclasses import dataclass, replace

from ribbonbar.findings import Finding
from ribbonbar.precedence.model import Slot
from ribbonbar.precedence.moves import conflicts, fewest_to_move, rearranged
from ribbonbar.precedence.names import listed
from ribbonbar.precedence.readings import Bar, Reading, before_in, certain_before, possible_before
from ribbonbar.precedence.relation import Because, Ranking, Standing, bits


@dataclass(frozen=True)
class Arrangement:
    """A bar put right in one reading. ``moved`` and ``sequence`` are places among all slots, unidentified ones too."""

    slots: tuple[Slot, ...]
    reading: tuple[int | None, ...]
    """The award of each slot (place in ``Ranking.awards``), None where unidentified."""
    before: tuple[int, ...]
    moved: tuple[int, ...]
    sequence: tuple[int, ...]


def arrange(slots: tuple[Slot, ...], bar: Bar, reading: Reading) -> Arrangement:
    """Put a bar right by moving the fewest ribbons; all others keep their sequence, unidentified ones included."""
    named = [i for i, slot in enumerate(slots) if slot.awards]
    before = [0] * len(slots)
    for i, mask in zip(named, before_in(bar.ranking, reading), strict=True):
        before[i] = sum(1 << named[j] for j in bits(mask))
    awards: list[int | None] = [None] * len(slots)
    for i, award in zip(named, reading, strict=True):
        awards[i] = award
    moved = fewest_to_move(conflicts(before))
    return Arrangement(slots, tuple(awards), tuple(before), moved, rearranged(before, moved))


def unmoved(arrangement: Arrangement) -> Arrangement:
    """The same with every ribbon left where it stands."""
    return replace(arrangement, moved=(), sequence=tuple(range(len(arrangement.slots))))


def misplaced_findings(bar: Bar, arrangement: Arrangement) -> list[Finding]:
    """One finding for each ribbon to move: an error where it is the wrong way round to another in every reading."""
    slots, ranking = arrangement.slots, bar.ranking
    wrong = conflicts(arrangement.before)
    named = [i for i, slot in enumerate(slots) if slot.awards]
    certain = [0] * len(slots)
    for i, mask in zip(named, conflicts(certain_before(ranking, bar.choices)), strict=True):
        certain[i] = sum(1 << named[j] for j in bits(mask))
    reading = [ranking.awards[award] for award in arrangement.reading if award is not None]
    found = []
    for i in arrangement.moved:
        against = wrong[i] | sum(1 << j for j, mask in enumerate(wrong) if mask >> i & 1)
        surely = certain[i] | sum(1 << j for j, mask in enumerate(certain) if mask >> i & 1)
        staying = against & ~sum(1 << j for j in arrangement.moved)
        # Told against a ribbon that stays, if it can be one that is certain, by one rule if it can be, and the nearest.
        pool = (staying & surely) or (against & surely) or staying
        other = min(bits(pool), key=lambda j: (not _by_one_rule(ranking, arrangement, i, j), abs(i - j), j))
        awards = _in_sequence(ranking, arrangement, i, other)
        why = ranking.why(*awards, reading)
        error = bool(surely >> other & 1)
        found.append(_finding(bar, arrangement, i, other, why, error))
    return found


def _in_sequence(ranking: Ranking, arrangement: Arrangement, i: int, j: int) -> tuple[str, str]:
    """The awards of two ribbons that stand the wrong way round, the one that belongs first first."""
    first, second = max(i, j), min(i, j)
    return ranking.awards[arrangement.reading[first]], ranking.awards[arrangement.reading[second]]


def _by_one_rule(ranking: Ranking, arrangement: Arrangement, i: int, j: int) -> bool:
    return ranking.standing(*_in_sequence(ranking, arrangement, i, j)) is Standing.BEFORE


def _finding(bar: Bar, arrangement: Arrangement, i: int, other: int, why: Because, error: bool) -> Finding:
    slots = arrangement.slots
    belongs = slots[arrangement.sequence.index(i)].position
    side = "before" if i > other else "after"
    name = _any_name if error else _name
    message = f"{name(bar, arrangement, i)} must stand {side} {name(bar, arrangement, other)}"
    message = message[0].upper() + message[1:] if error else f"As read most leniently, {message}"
    message += "." if belongs == slots[i].position else f"; its place is {belongs}."
    severity = "error" if error else "warning"
    return Finding("out-of-place", (slots[i].position,), severity, message, why.clause, why.source)


def _name(bar: Bar, arrangement: Arrangement, i: int) -> str:
    award = bar.ranking.awards[arrangement.reading[i]]
    return f"{bar.ranking.name(award)} ({arrangement.slots[i].position})"


def _any_name(bar: Bar, arrangement: Arrangement, i: int) -> str:
    """As ``_name``, but without a name where the ribbon is ambiguous: what is said holds for all its candidates."""
    slot = arrangement.slots[i]
    return _name(bar, arrangement, i) if len(slot.awards) == 1 else f"the ribbon at {slot.position}"


def possibly_misplaced_findings(bar: Bar, moved_positions: tuple[str, ...]) -> list[Finding]:
    """One warning for each ambiguous ribbon that would be out of place as one of its candidates.

    Pairs with a ribbon that is to be moved anyway are left out, and a pair of ambiguous ribbons is told once.
    """
    ranking, choices = bar.ranking, bar.choices
    moved = {i for i, slot in enumerate(bar.slots) if slot.position in moved_positions}
    partners: dict[int, list[int]] = {}
    for earlier, mask in enumerate(conflicts(possible_before(ranking, choices))):
        for later in bits(mask):
            if moved & {earlier, later}:
                continue
            told = later if len(choices[later]) > 1 else earlier
            partners.setdefault(told, []).append(earlier + later - told)
    found = []
    for i, others in sorted(partners.items()):
        wrong = {award: j for award in choices[i] for j in others if _wrong(bar, i, award, j)}
        award, j = next(iter(wrong.items()))
        against = next(other for other in choices[j] if _wrong_pair(bar, i, award, j, other))
        first, second = (award, against) if i > j else (against, award)
        why = ranking.why(ranking.awards[first], ranking.awards[second])
        names = listed((ranking.name(ranking.awards[a]) for a in wrong), "or")
        side = "before" if i > j else "after"
        message = f"If the ribbon at {bar.slots[i].position} is {names}, it is out of place: "
        message += f"{ranking.name(ranking.awards[award])} must stand {side} {bar.name(j, against)}."
        found.append(Finding("out-of-place", (bar.slots[i].position,), "warning", message, why.clause, why.source))
    return found


def _wrong(bar: Bar, i: int, award: int, j: int) -> bool:
    return any(_wrong_pair(bar, i, award, j, other) for other in bar.choices[j])


def _wrong_pair(bar: Bar, i: int, award: int, j: int, other: int) -> bool:
    """True when slot i as ``award`` and slot j as ``other`` stand the wrong way round."""
    first, second = (award, other) if i > j else (other, award)
    return bool(bar.ranking.before[first] >> second & 1)
