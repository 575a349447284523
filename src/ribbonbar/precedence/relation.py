"""Which of two awards stands before the other: by group, list, fixed sequence or date, or not known.

An order of wear is a partial order. Groups follow one another; a listed group is total; in a group by date, an award
whose last possible day lies before the other's first possible day goes first, and where the two overlap the sequence
is open until a date is given (an interval order: P. C. Fishburn, "Interval Orders and Interval Graphs", 1985). A
``listed-within`` rule fixes the sequence of some awards of a group by date, whatever their dates.

Where a fixed sequence and dates together would put one award both before and after another, the fixed sequence
stands and the dates among the awards caught in that circle decide nothing: their sequence is *disputed*, which is
reported and never counted against a bar.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from itertools import pairwise

from ribbonbar.errors import SpecError
from ribbonbar.precedence.model import Record
from ribbonbar.precedence.names import award_name, listed, source_name
from ribbonbar.spec.model import Group, Interval, OrderOfWear, Rule, Specification

_FIRST_DAY, _LAST_DAY = date.min.toordinal(), date.max.toordinal()


class Standing(Enum):
    """How one award stands to another."""

    BEFORE = "before"
    AFTER = "after"
    EITHER = "either way round"
    """Settled, and both ways are right: the same award, or the same day."""
    OPEN = "a date would settle it"
    DISPUTED = "dates and a fixed sequence disagree"
    UNPLACED = "not in this order of wear"


@dataclass(frozen=True)
class Place:
    """Where an award stands in an order of wear. ``earliest`` and ``latest``: days (proleptic Gregorian ordinals)
    between which its date surely lies; ``given`` is the record's own, ``doubtful`` when it does not fit the award."""

    group: int
    index: int
    earliest: int = _FIRST_DAY
    latest: int = _LAST_DAY
    given: date | None = None
    doubtful: bool = False


@dataclass(frozen=True)
class Because:
    """The reason for a sequence, as a clause, and the published source of the rule."""

    clause: str
    source: str = ""


@dataclass(frozen=True)
class Ranking:
    """How one order of wear, with what a record says, ranks the awards that may stand on one bar.

    ``before[i]`` is a bit mask of the awards (bit = index in ``awards``) that ``awards[i]`` must stand before by one
    rule alone; ``after`` is its converse. ``fixed`` holds the pairs that the ``listed-within`` ``rules`` settle.
    """

    specification: Specification
    order: OrderOfWear
    awards: tuple[str, ...]
    places: dict[str, Place]
    rules: tuple[Rule, ...]
    fixed: set[tuple[str, str]]
    before: tuple[int, ...] = ()
    after: tuple[int, ...] = ()
    disputed: frozenset[frozenset[str]] = frozenset()
    index: dict[str, int] = field(default_factory=dict)

    def standing(self, first: str, second: str) -> Standing:
        """How ``first`` stands to ``second`` by one rule alone (``closed`` joins several)."""
        if first == second:
            return Standing.EITHER
        a, b = self.places.get(first), self.places.get(second)
        if a is None or b is None:
            return Standing.UNPLACED
        i, j = self.index[first], self.index[second]
        if self.before[i] >> j & 1:
            return Standing.BEFORE
        if self.before[j] >> i & 1:
            return Standing.AFTER
        if frozenset((first, second)) in self.disputed:
            return Standing.DISPUTED
        return Standing.EITHER if a.earliest == a.latest == b.earliest == b.latest else Standing.OPEN

    def undated(self, award: str) -> bool:
        """True when the award's date is not known to the day, so that a record's date could settle something."""
        place = self.places.get(award)
        return place is not None and place.earliest != place.latest

    def group_of(self, award: str) -> Group | None:
        place = self.places.get(award)
        return self.order.groups[place.group] if place else None

    def why(self, first: str, second: str, among: Iterable[str] | None = None) -> Because:
        """Why ``first`` goes before ``second``, directly or by way of other awards (of ``among``, else of all).

        Raises ``ValueError`` when it need not.
        """
        if self.standing(first, second) is Standing.BEFORE:
            return self._step(first, second)
        allowed = self.awards if among is None else [*among, second]
        follows = {a: [b for b in allowed if self.standing(a, b) is Standing.BEFORE] for a in {*allowed, first}}
        path = shortest_path(follows, first, second)
        if not path:
            raise ValueError(f"{first} need not stand before {second}")
        steps = [self._step(a, b) for a, b in pairwise(path)]
        chain = listed(f"{self.name(a)} before {self.name(b)}" for a, b in pairwise(path))
        return Because(f"{chain} ({'; '.join(s.clause for s in steps)})", _joined(s.source for s in steps))

    def name(self, award: str) -> str:
        return award_name(self.specification, award)

    def _step(self, first: str, second: str) -> Because:
        a, b = self.places[first], self.places[second]
        group = self.order.groups[a.group]
        of_group = source_name(self.specification, group.source or self.order.source)
        if a.group != b.group:
            of_order = source_name(self.specification, self.order.source or group.source)
            return Because(f"“{group.title}” go before “{self.order.groups[b.group].title}”", of_order)
        if group.sequence == "listed":
            return Because(f"“{group.title}” are worn as listed, and {self.name(first)} is listed first", of_group)
        if (first, second) in self.fixed:
            rules = [r for r in self.rules if first in r.awards and second in r.awards] or [
                r for r in self.rules if {first, second} & set(r.awards)
            ]
            clause = f"among “{group.title}” these keep a fixed sequence: {'; '.join(r.because for r in rules)}"
            return Because(clause, _joined(source_name(self.specification, r.source) for r in rules) or of_group)
        kind = "date of service" if group.sequence == "by-date" else "date of award"
        dates = f"{self._dates(first, group, 'latest')}, {self._dates(second, group, 'earliest')}"
        return Because(f"“{group.title}” go by {kind}: {dates}", of_group)

    def _dates(self, award: str, group: Group, end: str) -> str:
        place = self.places[award]
        if place.given and not place.doubtful:
            return f"{self.name(award)} {place.given.isoformat()} by the record"
        day = date.fromordinal(getattr(place, end)).isoformat()
        if end == "latest":
            return f"{self.name(award)} {day} at the latest"
        return f"{self.name(award)} {day} at the earliest"


def rank(
    specification: Specification, order: OrderOfWear, awards: Iterable[str], record: Record | None = None
) -> Ranking:
    """Rank the awards that may stand on one bar under an order of wear.

    Raises ``SpecError`` when the order names an award twice or its fixed sequences run in a circle.
    """
    places = _places(specification, order, record)
    names = tuple(dict.fromkeys(awards))
    index = {award: i for i, award in enumerate(names)}
    rules, fixed = _fixed_sequences(specification, order, places)
    before = _by_group(order, names, places)
    disputed: set[frozenset[str]] = set()
    for number, group in enumerate(order.groups):
        if group.sequence == "listed":
            continue
        members = [i for i, award in enumerate(names) if award in places and places[award].group == number]
        edges, disputes = _inside(members, names, places, fixed)
        disputed |= disputes
        for i in members:
            before[i] |= edges[i]
    after = [0] * len(names)
    for i, mask in enumerate(before):
        for j in bits(mask):
            after[j] |= 1 << i
    return Ranking(
        specification, order, names, places, rules, fixed, tuple(before), tuple(after), frozenset(disputed), index
    )


def closed(before: list[int]) -> list[int]:
    """The transitive closure of a relation given as bit masks (S. Warshall, J. ACM 9, 1962)."""
    reach = list(before)
    for k in range(len(reach)):
        bit, onward = 1 << k, reach[k]
        if onward:
            reach = [mask | onward if mask & bit else mask for mask in reach]
    return reach


def bits(mask: int) -> Iterable[int]:
    """The places of the bits that are set, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def _joined(sources: Iterable[str]) -> str:
    return listed(source for source in dict.fromkeys(sources) if source)


def _places(specification: Specification, order: OrderOfWear, record: Record | None) -> dict[str, Place]:
    dates: dict[str, date] = {}
    for held in record.held if record else ():
        if held.date:
            dates[held.award] = min(held.date, dates.get(held.award, held.date))
    places: dict[str, Place] = {}
    for number, group in enumerate(order.groups):
        for index, award in enumerate(group.awards):
            if award in places:
                name = award_name(specification, award)
                raise SpecError(f"{order.key}, group {group.id}: {name} ({award}) is named twice; keep one place")
            places[award] = _place(specification, group, number, index, award, dates.get(award))
    return places


def _place(specification: Specification, group: Group, number: int, index: int, award: str, when: date | None) -> Place:
    if group.sequence == "listed":
        return Place(number, index, given=when)
    earned = specification.awards[award].earned if award in specification.awards else Interval()
    earliest = earned.start.toordinal() if earned.start else _FIRST_DAY
    # The period of an award says when it was earned; it may be given long after that, but never before.
    latest = earned.end.toordinal() if earned.end and group.sequence == "by-date" else _LAST_DAY
    if when is None:
        return Place(number, index, earliest, latest)
    day = when.toordinal()
    if earliest <= day <= latest:
        return Place(number, index, day, day, when)
    # Either the record or the period is mistaken, so only what both allow is used.
    return Place(number, index, min(day, earliest), max(day, latest), when, doubtful=True)


def _by_group(order: OrderOfWear, names: tuple[str, ...], places: dict[str, Place]) -> list[int]:
    """For each award the mask of the awards behind it by group or by list."""
    of_group = [0] * len(order.groups)
    for i, award in enumerate(names):
        if award in places:
            of_group[places[award].group] |= 1 << i
    behind, later = [0] * len(order.groups), 0
    for number in reversed(range(len(order.groups))):
        behind[number], later = later, later | of_group[number]
    before = [behind[places[award].group] if award in places else 0 for award in names]
    for number, group in enumerate(order.groups):
        if group.sequence == "listed":
            rest = 0
            for i in sorted(bits(of_group[number]), key=lambda i: -places[names[i]].index):
                before[i] |= rest
                rest |= 1 << i
    return before


def _inside(
    members: list[int], names: tuple[str, ...], places: dict[str, Place], fixed: set[tuple[str, str]]
) -> tuple[dict[int, int], set[frozenset[str]]]:
    """The relation inside one group by date, and the pairs that fixed sequences and dates dispute."""
    by_rule = dict.fromkeys(members, 0)
    by_date = dict.fromkeys(members, 0)
    for i in members:
        latest = places[names[i]].latest
        for j in members:
            if (names[i], names[j]) in fixed:
                by_rule[i] |= 1 << j
            elif latest < places[names[j]].earliest and (names[j], names[i]) not in fixed:
                by_date[i] |= 1 << j
    disputed: set[frozenset[str]] = set()
    if any(by_rule.values()):
        reach = closed([by_rule.get(i, 0) | by_date.get(i, 0) for i in range(len(names))])
        for i in members:
            circle = sum(1 << j for j in bits(reach[i]) if j != i and reach[j] >> i & 1)
            disputed |= {frozenset((names[i], names[j])) for j in bits(circle & by_date[i])}
            by_date[i] &= ~circle
    return {i: by_rule[i] | by_date[i] for i in members}, disputed


def _fixed_sequences(
    specification: Specification, order: OrderOfWear, places: dict[str, Place]
) -> tuple[tuple[Rule, ...], set[tuple[str, str]]]:
    """The ``listed-within`` rules of this order, and every pair they fix inside a group by date, joined together."""
    rules = tuple(
        rule
        for rule in specification.rules
        if rule.kind == "listed-within" and (not rule.orders or order.key in rule.orders)
    )
    follows = {}
    for rule in rules:
        for first, second in _neighbours(rule, order, places):
            follows.setdefault(first, {})[second] = None
            follows.setdefault(second, {})
    number = {award: i for i, award in enumerate(follows)}
    reach = closed([sum(1 << number[award] for award in following) for following in follows.values()])
    for award, i in number.items():
        if reach[i] >> i & 1:
            path = shortest_path(follows, award, award)
            names = " before ".join(award_name(specification, each) for each in path)
            raise SpecError(f"{order.key}: the listed-within rules run in a circle: {names}; take one of them out")
    awards = tuple(follows)
    return rules, {(award, awards[j]) for award, i in number.items() for j in bits(reach[i])}


def _neighbours(rule: Rule, order: OrderOfWear, places: dict[str, Place]) -> Iterable[tuple[str, str]]:
    by_group: dict[int, list[str]] = {}
    for award in rule.awards:
        if award in places and order.groups[places[award].group].sequence != "listed":
            by_group.setdefault(places[award].group, []).append(award)
    for sequence in by_group.values():
        yield from pairwise(sequence)


def shortest_path(follows: Mapping[str, Iterable[str]], start: str, goal: str) -> list[str]:
    """A shortest chain of at least one step from ``start`` to ``goal``; [] where there is none."""
    came_from: dict[str, str] = {}
    frontier = [start]
    while frontier and goal not in came_from:
        reached = []
        for award in frontier:
            for following in follows.get(award, ()):
                if following not in came_from:
                    came_from[following] = award
                    reached.append(following)
        frontier = reached
    if goal not in came_from:
        return []
    path = [goal, came_from[goal]]
    while path[-1] != start:
        path.append(came_from[path[-1]])
    return path[::-1]
