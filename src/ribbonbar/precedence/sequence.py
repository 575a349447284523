"""The bar that a record asks for: the sequence, the rows, why, and what is still open."""

from collections.abc import Iterable
from heapq import heapify, heappop, heappush
from itertools import combinations, pairwise

from ribbonbar.findings import Finding
from ribbonbar.precedence.dates import needed, open_message, record_findings
from ribbonbar.precedence.layout import lay_out
from ribbonbar.precedence.model import Open, PlanSequence, Reason, Record, Slot
from ribbonbar.precedence.names import award_name, listed, source_name
from ribbonbar.precedence.readings import Bar
from ribbonbar.precedence.relation import Because, Ranking, Standing, bits, closed, rank
from ribbonbar.precedence.rules import rule_findings, worn_elsewhere
from ribbonbar.spec.model import OrderOfWear, Specification


def plan(record: Record, specification: Specification, order: OrderOfWear, per_row: int | None = None) -> PlanSequence:
    """Work out the bar for all that a record holds.

    Where nothing given settles a pair it is listed in ``open``, and the sequence is then one permitted arrangement:
    of the awards that may come next, the one of the most senior group, then of the earliest known date, then first
    listed in the order, then first named in the record. Awards the order does not list come last, each open to every
    other. An award worn elsewhere is left off with a note; one held twice gets one ribbon (an emblem marks the
    repeat) unless the service allows a second. Rules that what is held breaks are errors.
    Raises ``SpecError`` for a faulty order and ``ValueError`` for a ``per_row`` below 1.
    """
    elsewhere = [award for award in record.awards if worn_elsewhere(specification, award)]
    awards = tuple(award for award in record.awards if award not in elsewhere)
    ranking = rank(specification, order, awards, record)
    reach = closed(list(ranking.before))
    sequence = _sequence(ranking)
    pairs = _open(ranking, reach, sequence)
    copies = _copies(record, order, sequence)
    findings = [
        *_rules(ranking, sequence),
        *_unplaced(ranking, sequence),
        *_repeats(record, specification, order),
        *_left_off(elsewhere, specification, order),
        *record_findings(record, specification, order),
    ]
    reasons = tuple(_reason(ranking, reach, first, second) for first, second in pairwise(sequence))
    return PlanSequence(order.key, copies, lay_out(copies, order, per_row), pairs, tuple(findings), reasons)


def _sequence(ranking: Ranking) -> tuple[str, ...]:
    """A linear extension of the order, the same every time."""

    def rank_of(i: int) -> tuple[int, int, int, int, int]:
        place = ranking.places.get(ranking.awards[i])
        if place is None:
            return (len(ranking.order.groups), 0, 0, 0, i)
        return (place.group, place.earliest, place.latest, place.index, i)

    waiting = [mask.bit_count() for mask in ranking.after]
    ready = [rank_of(i) for i, number in enumerate(waiting) if not number]
    heapify(ready)
    sequence = []
    while ready:
        i = heappop(ready)[-1]
        sequence.append(ranking.awards[i])
        for j in bits(ranking.before[i]):
            waiting[j] -= 1
            if not waiting[j]:
                heappush(ready, rank_of(j))
    return tuple(sequence)


def _open(ranking: Ranking, reach: list[int], sequence: tuple[str, ...]) -> tuple[Open, ...]:
    found = []
    if len(sequence) == 1 and sequence[0] not in ranking.places:
        found.append(
            Open(sequence, f"an order of wear that lists {ranking.name(sequence[0])}", _not_listed(ranking, sequence))
        )
    for first, second in combinations(sequence, 2):
        i, j = ranking.index[first], ranking.index[second]
        if reach[i] >> j & 1 or reach[j] >> i & 1 or ranking.standing(first, second) is Standing.EITHER:
            continue
        needs, message = needed(ranking, first, second), open_message(ranking, first, second)
        found.append(Open((first, second), needs, message))
    return tuple(found)


def _unplaced(ranking: Ranking, sequence: tuple[str, ...]) -> list[Finding]:
    absent = [award for award in sequence if award not in ranking.places]
    source = source_name(ranking.specification, ranking.order.source)
    return [Finding("order-of-wear", (), "note", _not_listed(ranking, absent), source=source)] if absent else []


def _not_listed(ranking: Ranking, awards: Iterable[str]) -> str:
    return f"{ranking.order.title} does not list {listed(map(ranking.name, awards))}, so the place is not known."


def _reason(ranking: Ranking, reach: list[int], first: str, second: str) -> Reason:
    i, j = ranking.index[first], ranking.index[second]
    if reach[i] >> j & 1:
        why = ranking.why(first, second)
    elif ranking.standing(first, second) is Standing.EITHER:
        why = Because("both are of the same day, and the order does not say which goes first")
    else:
        why = Because(f"{open_message(ranking, first, second)} Until then this is one way that is permitted.")
    return Reason(first, second, why.clause, why.source)


def _copies(record: Record, order: OrderOfWear, sequence: tuple[str, ...]) -> tuple[str, ...]:
    """The sequence with a second ribbon beside the first for an award held twice, where the service allows it."""
    if not order.second_ribbon:
        return sequence
    held = [each.award for each in record.held]
    return tuple(award for award in sequence for _ in range(max(1, held.count(award))))


def _rules(ranking: Ranking, sequence: tuple[str, ...]) -> list[Finding]:
    """What the rules say of these awards. There is no bar yet, so no positions either."""
    slots = tuple(Slot("", (award,)) for award in sequence)
    found = rule_findings(Bar(ranking, slots, 0, plain_names=True), other_bar=False)
    return [Finding(f.kind, (), f.severity, f.message, f.because, f.source) for f in found]


def _repeats(record: Record, specification: Specification, order: OrderOfWear) -> list[Finding]:
    if order.second_ribbon:
        return []
    held = [each.award for each in record.held]
    because = f"one ribbon is worn for one award in {order.title}"
    source = source_name(specification, order.source)
    found = []
    for award in dict.fromkeys(held):
        if held.count(award) > 1:
            name = award_name(specification, award)
            message = f"{name} is held {held.count(award)} times: one ribbon, and an emblem for each repeat."
            found.append(Finding("duplicate", (), "warning", message, because, source))
    return found


def _left_off(elsewhere: list[str], specification: Specification, order: OrderOfWear) -> list[Finding]:
    found = []
    for award in elsewhere:
        where = worn_elsewhere(specification, award)
        message = f"{award_name(specification, award)} is not on this bar: it is worn elsewhere ({where})."
        found.append(Finding("out-of-place", (), "note", message, source=source_name(specification, order.source)))
    return found
