"""Reasoning under doubt: a position may be one of several awards, and a *reading* gives each position one of them.

Something is certain only when it holds in every reading. Most of it is settled without listing readings: the order is
broken exactly when some two ribbons stand the wrong way round (a chain of rules cannot be broken without one of its
links being broken), so whether any reading is permitted is a question about pairs, answered by a search with forward
checking (R. M. Haralick and G. L. Elliott, Artificial Intelligence 14, 1980). The search has a budget; when that is
spent the answer is that a permitted reading may exist, so that a bar is never accused for want of time.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import prod
from types import MappingProxyType

from ribbonbar.precedence.model import Slot
from ribbonbar.precedence.moves import conflicts, count_to_move
from ribbonbar.precedence.relation import Ranking, bits, closed

Reading = tuple[int, ...]
"""For each identified slot in turn, the place of its award in ``Ranking.awards``."""
MOST_WORK = 200_000
"""Readings times the square of the ribbons in question: some tenths of a second."""
MOST_STEPS = 20_000


class TooManyError(Exception):
    """The search's budget is spent. Internal: it never leaves this package."""


class Budget:
    """Counts the steps of all searches for one bar."""

    def __init__(self, steps: int = MOST_STEPS) -> None:
        self.left = steps

    def spend(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise TooManyError


@dataclass(frozen=True)
class Bar:
    """The ribbons that have at least one candidate, senior first. ``choices`` are places in ``ranking.awards``."""

    ranking: Ranking
    slots: tuple[Slot, ...]
    unidentified: int
    """How many ribbons nobody could name; they may be anything."""
    plain_names: bool = False
    """True for a bar that does not exist yet: its ribbons have no positions to be told by."""

    @cached_property
    def choices(self) -> tuple[tuple[int, ...], ...]:
        return tuple(tuple(self.ranking.index[award] for award in slot.awards) for slot in self.slots)

    @cached_property
    def masks(self) -> tuple[int, ...]:
        return tuple(map(mask_of, self.choices))

    def name(self, slot: int, award: int | None = None) -> str:
        """``"Harbour Star (1.2)"``; for an ambiguous ribbon of which no award is given, ``"the ribbon at 1.2"``."""
        awards = self.slots[slot].awards
        if award is None and len(awards) > 1:
            return f"the ribbon at {self.slots[slot].position}"
        key = awards[0] if award is None else self.ranking.awards[award]
        if self.plain_names:
            return self.ranking.name(key)
        return f"{self.ranking.name(key)} ({self.slots[slot].position})"

    def if_it_is(self, slot: int, award: int) -> str:
        """``"If the ribbon at 1.2 is Harbour Star, it"``."""
        return f"If the ribbon at {self.slots[slot].position} is {self.ranking.name(self.ranking.awards[award])}, it"


@dataclass(frozen=True)
class Limits:
    """What a permitted reading must obey, as masks of awards.

    ``not_before[a]``: awards that may not stand before ``a``; ``not_behind[a]``: awards that may not stand behind it;
    ``banned``: awards that may not stand on this bar; ``needs``: (award, those of which one must be there too).
    """

    not_before: tuple[int, ...]
    not_behind: tuple[int, ...]
    banned: int = 0
    needs: tuple[tuple[int, int], ...] = ()


def mask_of(awards: Iterable[int]) -> int:
    mask = 0
    for award in awards:
        mask |= 1 << award
    return mask


def sequence_limits(ranking: Ranking) -> Limits:
    """The limits that the order of wear alone sets."""
    return Limits(not_before=ranking.before, not_behind=ranking.after)


def permitted_reading(bar: Bar, limits: Limits, budget: Budget) -> Reading | None:
    """A reading of the bar that breaks none of the limits, the most probable candidates tried first; None where none
    exists. Raises ``TooManyError`` when the budget is spent before that is known."""
    reading = [choice[0] for choice in bar.choices]
    too_many = False
    for part in parts(bar.choices, limits):
        try:
            found = search([bar.choices[i] for i in part], limits, bool(bar.unidentified), budget)
        except TooManyError:
            too_many = True
            continue
        if found is None:
            return None
        for i, award in zip(part, found, strict=True):
            reading[i] = award
    if too_many:
        raise TooManyError
    return tuple(reading)


def parts(choices: Sequence[Sequence[int]], limits: Limits) -> list[list[int]]:
    """The slots in sets that no limit ties to one another, so that each can be looked at by itself."""
    masks = [mask_of(choice) for choice in choices]
    ties = []
    for i, choice in enumerate(choices):
        refused = 0
        for award in choice:
            refused |= limits.not_behind[award]
        ties.append(sum(1 << j for j in range(i + 1, len(choices)) if masks[j] & refused))
    for award, others in limits.needs:
        concerned = [i for i, mask in enumerate(masks) if mask & (others | 1 << award)]
        if concerned:
            ties[concerned[0]] |= mask_of(concerned)
    return joined(ties)


def only_candidates(bar: Bar, limits: Limits, right: Reading, budget: Budget) -> dict[int, int]:
    """The ambiguous slots that are the same award in every permitted reading, with that award; ``right`` is one."""
    found = {}
    for part in parts(bar.choices, limits):
        choices = [bar.choices[i] for i in part]
        seen = {i: {right[i]} for i in part if len(bar.choices[i]) > 1}
        for i in seen:
            for award in bar.choices[i]:
                if len(seen[i]) > 1:
                    break
                if award in seen[i]:
                    continue
                try:
                    other = search(choices, limits, bool(bar.unidentified), budget, {part.index(i): award})
                except TooManyError:
                    return found
                for j, also in zip(part, other or (), strict=False):
                    if j in seen:
                        seen[j].add(also)
            if len(seen[i]) == 1:
                found[i] = right[i]
    return found


def core(bar: Bar, limits: Limits, budget: Budget) -> list[int]:
    """A set of slots that has no permitted reading though each smaller part of it has, for a bar that has none.

    Where the budget is spent the set may be larger than it need be.
    """
    kept = _broken_part(bar, limits, budget)
    for i in list(kept):
        fewer = [j for j in kept if j != i]
        try:
            # A ribbon left out may be anything, as an unidentified one.
            if search([bar.choices[j] for j in fewer], limits, True, budget) is None:
                kept = fewer
        except TooManyError:
            continue
    return kept


def _broken_part(bar: Bar, limits: Limits, budget: Budget) -> list[int]:
    for part in parts(bar.choices, limits):
        try:
            if search([bar.choices[i] for i in part], limits, bool(bar.unidentified), budget) is None:
                return part
        except TooManyError:
            budget = Budget()
    return list(range(len(bar.slots)))


def search(
    choices: Sequence[Sequence[int]],
    limits: Limits,
    unidentified: bool,
    budget: Budget,
    given: Mapping[int, int] = MappingProxyType({}),
) -> Reading | None:
    """As ``permitted_reading``, for some slots (senior first) of which ``given`` fixes the awards of a few."""
    domains = [mask_of(choice) & ~limits.banned for choice in choices]
    for slot, award in given.items():
        domains[slot] &= 1 << award
    if not all(domains):
        return None
    rank = [{award: place for place, award in enumerate(choice)} for choice in choices]
    done = 0
    for slot, domain in enumerate(domains):
        if not domain & (domain - 1):
            narrowed = _assign(domains, slot, domain.bit_length() - 1, limits)
            if narrowed is None:
                return None
            domains, done = narrowed, done | 1 << slot
    stack = [(domains, done)]
    while stack:
        domains, done = stack.pop()
        if not unidentified and not _needs_can_be_met(domains, limits):
            continue
        open_slots = [slot for slot in range(len(domains)) if not done >> slot & 1]
        if not open_slots:
            return tuple(domain.bit_length() - 1 for domain in domains)
        slot = min(open_slots, key=lambda s: domains[s].bit_count())
        for award in sorted(bits(domains[slot]), key=rank[slot].__getitem__, reverse=True):
            budget.spend()
            narrowed = _assign(domains, slot, award, limits)
            if narrowed is not None:
                stack.append((narrowed, done | 1 << slot))
    return None


def _assign(domains: list[int], slot: int, award: int, limits: Limits) -> list[int] | None:
    """What the other slots may still be once this one is ``award``; None where one has nothing left."""
    not_before, not_behind = ~limits.not_before[award], ~limits.not_behind[award]
    narrowed = [domain & not_before for domain in domains[:slot]]
    narrowed.append(1 << award)
    narrowed += [domain & not_behind for domain in domains[slot + 1 :]]
    return narrowed if all(narrowed) else None


def _needs_can_be_met(domains: list[int], limits: Limits) -> bool:
    for award, others in limits.needs:
        if 1 << award in domains and not any(domain & others for domain in domains):
            return False
    return True


def certain_before(ranking: Ranking, choices: Sequence[Sequence[int]]) -> list[int]:
    """For each slot the mask of the slots it must come before in every reading, transitively closed."""
    candidates = [mask_of(choice) for choice in choices]
    before = []
    for choice in choices:
        behind_all = -1
        for award in choice:
            behind_all &= ranking.before[award]
        before.append(sum(1 << j for j, mask in enumerate(candidates) if not mask & ~behind_all))
    return closed(before)


def possible_before(ranking: Ranking, choices: Sequence[Sequence[int]]) -> list[int]:
    """For each slot the mask of the slots it must come before, by one rule, in at least one reading."""
    candidates = [mask_of(choice) for choice in choices]
    before = []
    for i, choice in enumerate(choices):
        behind_any = 0
        for award in choice:
            behind_any |= ranking.before[award]
        before.append(sum(1 << j for j, mask in enumerate(candidates) if mask & behind_any and j != i))
    return before


def before_in(ranking: Ranking, reading: Reading) -> list[int]:
    """For each slot the mask of the slots it must come before in this reading, transitively closed."""
    masks = [ranking.before[award] for award in reading]
    return closed([sum(1 << j for j, award in enumerate(reading) if mask >> award & 1) for mask in masks])


def fewest_moves_reading(ranking: Ranking, choices: Sequence[Sequence[int]]) -> tuple[Reading, bool]:
    """The reading that asks for the fewest ribbons to move, the most probable of them, and whether that is proven.

    Ribbons that cannot stand wrong to one another, whatever they are read as, are looked at apart, and candidates that
    stand alike to everything else are taken as one. Where the readings of one part are still too many (``MOST_WORK``),
    each slot in turn is given its best candidate until nothing improves, and the result is proven only if every
    reading asks for as much.
    """
    reading = [choice[0] for choice in choices]
    all_proven = True
    for part in _parts_in_conflict(ranking, choices):
        few = [_distinct(ranking, choices, i) for i in part]
        least = count_to_move(certain_before(ranking, few))
        proven = prod(map(len, few)) * len(few) ** 2 <= MOST_WORK
        best = _best_of_all(ranking, few, least) if proven else _improved(ranking, few, least)
        all_proven &= proven or _moves(ranking, best) == least
        for slot, award in zip(part, best, strict=True):
            reading[slot] = award
    return tuple(reading), all_proven


def _parts_in_conflict(ranking: Ranking, choices: Sequence[Sequence[int]]) -> list[list[int]]:
    """Sets of slots, two or more, tied by pairs that some reading may have the wrong way round."""
    possible = possible_before(ranking, choices)
    # Without fixed sequences the order needs no chains: it is transitive as it stands.
    wrong = conflicts(closed(possible) if ranking.fixed else possible)
    return [part for part in joined(wrong) if len(part) > 1]


def joined(ties: Sequence[int]) -> list[list[int]]:
    """The sets of places that are tied to one another; ``ties[i]`` is a mask of places tied to ``i``."""
    lowest = list(range(len(ties)))
    for i, mask in enumerate(ties):
        tied = {lowest[i], *(lowest[j] for j in bits(mask))}
        if len(tied) > 1:
            lowest = [min(tied) if low in tied else low for low in lowest]
    found: dict[int, list[int]] = {}
    for i, low in enumerate(lowest):
        found.setdefault(low, []).append(i)
    return list(found.values())


def _best_of_all(ranking: Ranking, choices: Sequence[Sequence[int]], least: int) -> Reading:
    best: Reading = ()
    fewest = len(choices) + 1
    for reading in product(*choices):
        moves = _moves(ranking, reading)
        if moves < fewest:
            best, fewest = reading, moves
        if fewest == least:
            break
    return best


def _moves(ranking: Ranking, reading: Reading) -> int:
    return count_to_move(before_in(ranking, reading))


def _distinct(ranking: Ranking, choices: Sequence[Sequence[int]], slot: int) -> list[int]:
    """The candidates of a slot without those that stand to all other slots' candidates as an earlier one does."""
    others = 0
    for other, choice in enumerate(choices):
        if other != slot:
            others |= mask_of(choice)
    kept: dict[tuple[int, int], int] = {}
    for award in choices[slot]:
        kept.setdefault((ranking.before[award] & others, ranking.after[award] & others), award)
    return list(kept.values())


def _improved(ranking: Ranking, choices: Sequence[Sequence[int]], least: int) -> Reading:
    reading = tuple(choice[0] for choice in choices)
    fewest = _moves(ranking, reading)
    attempts = 5 * MOST_WORK // len(choices) ** 2
    better = True
    while better and fewest > least:
        better = False
        for slot, choice in enumerate(choices):
            for award in choice[1:]:
                attempts -= 1
                if attempts < 0:
                    return reading
                attempt = (*reading[:slot], award, *reading[slot + 1 :])
                moves = _moves(ranking, attempt)
                if moves < fewest:
                    reading, fewest, better = attempt, moves, True
    return reading
