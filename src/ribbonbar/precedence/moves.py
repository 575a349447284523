"""The fewest ribbons to move, and the bar that results.

Ribbon *i* stands before ribbon *j* but must come after it: that relation is itself a partial order. So by Dilworth's
theorem the largest set of ribbons that may all stay (a maximum antichain) is found by a maximum matching, and no
smaller set of ribbons to move exists (R. P. Dilworth, Annals of Mathematics 51, 1950; D. R. Fulkerson, Proc. AMS 7,
1956; the set itself from the minimum vertex cover, D. König, 1931). For a total order it is what the longest
increasing subsequence gives.
"""

from collections.abc import Sequence
from heapq import heapify, heappop, heappush
from itertools import pairwise

from ribbonbar.precedence.relation import bits, closed


def conflicts(before: Sequence[int]) -> list[int]:
    """For each ribbon in turn, the mask of the later ribbons that must come before it.

    ``before[i]`` is the mask of the ribbons that ribbon ``i`` must come before, transitively closed.
    """
    wrong = [0] * len(before)
    for later, mask in enumerate(before):
        for earlier in bits(mask & ((1 << later) - 1)):
            wrong[earlier] |= 1 << later
    return wrong


def fewest_to_move(wrong: Sequence[int]) -> tuple[int, ...]:
    """The places of a smallest set of ribbons that must move, given the ``conflicts`` of the bar.

    Of several smallest sets it is the one that lets the ribbons nearest the senior end stay: the maximum antichain
    that is lowest in the relation, which does not depend on how the matching was found.
    """
    partner = _matching(wrong)
    wrong_before = [0] * len(wrong)
    for earlier, mask in enumerate(wrong):
        for later in bits(mask):
            wrong_before[later] |= 1 << earlier
    matched_earlier = {earlier: later for later, earlier in enumerate(partner) if earlier is not None}
    # Alternating paths from the ribbons that no earlier one is matched to, as the theorem of König has it.
    reached_later = {later for later, earlier in enumerate(partner) if earlier is None}
    reached_earlier = 0
    frontier = list(reached_later)
    while frontier:
        fresh = 0
        for later in frontier:
            fresh |= wrong_before[later]
        fresh &= ~reached_earlier
        reached_earlier |= fresh
        frontier = [matched_earlier[earlier] for earlier in bits(fresh) if earlier in matched_earlier]
        frontier = [later for later in frontier if later not in reached_later]
        reached_later.update(frontier)
    return tuple(i for i in range(len(wrong)) if i not in reached_later or reached_earlier >> i & 1)


def rearranged(before: Sequence[int], moved: Sequence[int]) -> tuple[int, ...]:
    """The places of the ribbons in their new sequence: those that stay keep theirs, each moved one goes to the nearest
    place that is right.

    ``before`` as for ``conflicts``; ``moved`` from ``fewest_to_move``.
    """
    edges = list(before)
    staying = [i for i in range(len(before)) if i not in set(moved)]
    for first, second in pairwise(staying):
        edges[first] |= 1 << second
    waiting = [0] * len(edges)
    for mask in edges:
        for j in bits(mask):
            waiting[j] += 1
    ready = [i for i, number in enumerate(waiting) if not number]
    heapify(ready)
    sequence = []
    while ready:
        i = heappop(ready)
        sequence.append(i)
        for j in bits(edges[i]):
            waiting[j] -= 1
            if not waiting[j]:
                heappush(ready, j)
    return tuple(sequence)


def count_to_move(before: Sequence[int]) -> int:
    """How many ribbons must move at least, from the direct relation between the ribbons as they stand."""
    return sum(earlier is not None for earlier in _matching(conflicts(closed(list(before)))))


def _matching(wrong: Sequence[int]) -> list[int | None]:
    """A maximum matching of earlier ribbons with later ones they conflict with: the earlier partner of each later."""
    partner: list[int | None] = [None] * len(wrong)
    for start in range(len(wrong)):
        came_from: dict[int, int] = {}  # later ribbon: the earlier one it was reached from
        seen, frontier = 0, [start]
        end = None
        while frontier and end is None:
            reached = []
            for earlier in frontier:
                for later in bits(wrong[earlier] & ~seen):
                    seen |= 1 << later
                    came_from[later] = earlier
                    if partner[later] is None:
                        end = later
                        break
                    reached.append(partner[later])
                if end is not None:
                    break
            frontier = reached
        while end is not None:
            earlier = came_from[end]
            previous = next((later for later, who in enumerate(partner) if who == earlier), None)
            partner[end] = earlier
            end = previous
    return partner
