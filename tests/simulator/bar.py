"""A random bar from a catalogue, and what is true of its sequence.

The sequence's truth is worked out here by brute force, apart from the package's own reasoning: a reading of the bar
fixes one award for every known ribbon (shared ribbons allow several); the bar is out of order when every reading holds
a certain violation of the sequence or of a rule.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cmp_to_key
from itertools import combinations, islice, product
from typing import Literal

import numpy as np

from ribbonbar.spec.model import OrderOfWear, Ribbon, Specification
from tests.simulator.catalogue import invent_unknown

EMBLEM_KINDS = ("rosette", "oak-leaf", "star", "numeral")


@dataclass(frozen=True)
class Mounted:
    """One ribbon on the bar. ``award`` is None for a ribbon in no specification: ``unknown`` then names it, and
    ``unknown_kind`` says whether it is ``"near"`` to a known one or ``"unlike"`` all."""

    award: str | None
    ribbon: Ribbon
    reversed: bool = False
    emblems: tuple[str, ...] = ()
    unknown: str | None = None
    unknown_kind: str | None = None
    same_ribbon: tuple[str, ...] = ()


@dataclass(frozen=True)
class Bar:
    """A mounted bar, top row first. ``top`` is where a short row stands: 0 flush left, 0.5 centred, 1 flush right."""

    order: str
    rows: tuple[tuple[Mounted, ...], ...]
    top: float = 0.5

    @property
    def ribbons(self) -> list[Mounted]:
        return [mounted for row in self.rows for mounted in row]

    @property
    def positions(self) -> list[str]:
        return [f"{r}.{p}" for r, row in enumerate(self.rows, 1) for p in range(1, len(row) + 1)]


@dataclass(frozen=True)
class SequenceTruth:
    """``out_of_place``: every smallest set of positions whose removal leaves a reading without certain violation."""

    outcome: Literal["in-order", "out-of-order", "unconfirmed"]
    out_of_place: tuple[tuple[str, ...], ...]
    unsettled: bool
    same: bool
    unknown: bool


def relation(first: str, second: str, order: OrderOfWear, specification: Specification) -> int | None:
    """-1: ``first`` stands before ``second``; 1: after; 0: one and the same award; None: not known."""
    if first == second:
        return 0
    place = {award: (g, i) for g, group in enumerate(order.groups) for i, award in enumerate(group.awards)}
    if first not in place or second not in place:
        return None
    (group_a, index_a), (group_b, index_b) = place[first], place[second]
    if group_a != group_b:
        return -1 if group_a < group_b else 1
    if order.groups[group_a].sequence == "listed":
        return -1 if index_a < index_b else 1
    for rule in specification.rules:
        if rule.kind == "listed-within" and first in rule.awards and second in rule.awards:
            return -1 if rule.awards.index(first) < rule.awards.index(second) else 1
    a, b = specification.awards[first].earned, specification.awards[second].earned
    if a.end and b.start and a.end < b.start:
        return -1
    if b.end and a.start and b.end < a.start:
        return 1
    return None


def judge(bar: Bar, specification: Specification) -> SequenceTruth:
    """What is true of the bar's sequence, by trying every reading."""
    order = specification.orders[bar.order]
    known = [(p, m) for p, m in zip(bar.positions, bar.ribbons, strict=True) if m.award]
    unknown = any(m.unknown for m in bar.ribbons)
    choices = [(m.award, *(a for a in m.same_ribbon if _listed(a, order))) for _, m in known]
    best: set[tuple[str, ...]] = set()
    unsettled = False
    for reading in islice(product(*choices), 256):
        bad = _rules_broken(reading, bar.order, specification, strangers=unknown)
        for i, j in combinations(range(len(reading)), 2):
            answer = relation(reading[i], reading[j], order, specification)
            if answer == 1:
                bad.append((i, j))
            elif answer is None:
                unsettled = True
        best |= {tuple(known[i][0] for i in cover) for cover in _smallest_covers(bad)}
    size = min((len(c) for c in best), default=0)
    out_of_place = tuple(sorted(c for c in best if len(c) == size))
    same = any(m.same_ribbon for m in bar.ribbons)
    outcome = "out-of-order" if size else "unconfirmed" if unsettled or same or unknown else "in-order"
    return SequenceTruth(outcome, out_of_place, unsettled, same, unknown)


def _listed(award: str, order: OrderOfWear) -> bool:
    return any(award in group.awards for group in order.groups)


def _rules_broken(
    awards: Sequence[str], order: str, specification: Specification, strangers: bool = False
) -> list[tuple[int, ...]]:
    """The places of awards that break a rule together, or alone for want of another, which a stranger may be."""
    broken: list[tuple[int, ...]] = []
    for rule in specification.rules:
        if rule.orders and order not in rule.orders:
            continue
        if rule.kind == "not-together":
            held = [place for place, award in enumerate(awards) if award in rule.awards]
            broken += [(i, j) for i, j in combinations(held, 2) if awards[i] != awards[j]]
        elif rule.kind == "needs" and not strangers and rule.awards[0] in awards:
            broken += [] if set(rule.awards[1:]) & set(awards) else [(awards.index(rule.awards[0]),)]
    return broken


def _smallest_covers(groups: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Every smallest set of positions that meets all the violating groups."""
    touched = sorted({i for group in groups for i in group})
    for size in range(len(touched) + 1):
        found = [c for c in combinations(touched, size) if all(set(c) & set(group) for group in groups)]
        if found:
            return found
    return [()]


def in_order(awards: list[str], order: OrderOfWear, specification: Specification) -> list[str]:
    """The awards sorted into a permitted sequence; where nothing is known, the earlier first day goes first."""

    def compare(a: str, b: str) -> int:
        answer = relation(a, b, order, specification)
        if answer is None:
            first, second = (specification.awards[each].earned.start or date.min for each in (a, b))
            return -1 if first <= second else 1
        return answer

    return sorted(awards, key=cmp_to_key(compare))


def twins_of(specification: Specification) -> dict[str, tuple[str, ...]]:
    """For every award the others that have a ribbon in common with it by specification."""
    found: dict[str, set[str]] = {}
    for keys in _by_look(specification).values():
        for key in keys:
            found.setdefault(key, set()).update(keys - {key})
    return {key: tuple(sorted(others)) for key, others in found.items() if others}


def _look(ribbon: Ribbon) -> tuple:
    return ribbon.shape, ribbon.stripes, ribbon.width_mm, ribbon.angle, ribbon.frame


def _by_look(specification: Specification) -> dict[tuple, set[str]]:
    awards: dict[tuple, set[str]] = {}
    for key, award in specification.awards.items():
        for ribbon in award.ribbons:
            if ribbon.shape != "unmatched":
                awards.setdefault(_look(ribbon), set()).add(key)
    return awards


def mount(
    awards: list[str],
    order: str,
    specification: Specification,
    *,
    per_row: int | None = None,
    reverse: tuple[int, ...] = (),
    emblems: dict[int, tuple[str, ...]] | None = None,
    top: float = 0.5,
) -> Bar:
    """The bar with these awards' newest ribbons in this very sequence, the short row on top."""
    by_look = _by_look(specification)
    mounted = []
    for i, key in enumerate(awards):
        ribbon = specification.awards[key].ribbons[-1]
        same = tuple(sorted(by_look[_look(ribbon)] - {key}))
        mounted.append(Mounted(key, ribbon, i in reverse, (emblems or {}).get(i, ()), same_ribbon=same))
    return Bar(order, _in_rows(mounted, per_row or specification.orders[order].ribbons_per_row), top)


def _in_rows(mounted: list[Mounted], per_row: int) -> tuple[tuple[Mounted, ...], ...]:
    short = len(mounted) % per_row
    starts = [0, *range(short, len(mounted), per_row)] if short else list(range(0, len(mounted), per_row))
    return tuple(tuple(mounted[a:b]) for a, b in zip(starts, [*starts[1:], len(mounted)], strict=True))


def random_bar(
    specification: Specification, level: int, rng: np.random.Generator, order: str | None = None, most: int = 20
) -> Bar:
    """A bar of 3 to 20 ribbons, or fewer for ``most`` or the rules: in order or with one or two moved, some reversed,
    some unknown, some with emblems."""
    order = order or str(rng.choice(sorted(specification.orders)))
    wear = specification.orders[order]
    listed = [a for group in wear.groups for a in group.awards if _matchable(specification, a)]
    rows = int(rng.choice([1, 2, 3, 4], p=[[0.4, 0.4, 0.15, 0.05], [0.3, 0.35, 0.2, 0.15], [0.15, 0.4, 0.3, 0.15],
                                            [0.1, 0.3, 0.45, 0.15]][level - 1]))  # fmt: skip
    short = int(rng.integers(0, wear.ribbons_per_row)) if rng.random() < 0.5 else 0
    number = min(max(rows * wear.ribbons_per_row - short, min(3, wear.ribbons_per_row)), most, len(listed))
    drawn = [listed[i] for i in rng.choice(len(listed), number, replace=False)]
    while len(drawn) > 1 and (broken := _rules_broken(drawn, order, specification)):
        drawn.pop(broken[0][0])
    number = len(drawn)
    sequence = in_order(drawn, wear, specification)
    if rng.random() < 0.45:
        for _ in range(int(rng.integers(1, 3))):
            sequence.insert(int(rng.integers(len(sequence))), sequence.pop(int(rng.integers(len(sequence)))))
    top = float(rng.choice([0.5, 0.0, 1.0], p=[0.6, 0.2, 0.2]))
    bar = mount(sequence, order, specification, top=top)
    turn = {int(rng.integers(number))} if rng.random() < 0.3 else set()
    strange = {int(rng.integers(number))} if rng.random() < (0.2 if level < 4 else 0.25) else set()
    decorated = rng.random(number) < (0.28 if level == 3 else 0.2)
    dressed = []
    for i, mounted in enumerate(bar.ribbons):
        if i in strange:
            near = bool(rng.random() < 0.3)
            unknown = invent_unknown(rng, specification, near)
            mounted = Mounted(None, unknown, unknown=f"unknown-{i + 1}", unknown_kind="near" if near else "unlike")
        emblems = _emblems(mounted, specification, rng) if decorated[i] else ()
        turned = i in turn and not mounted.ribbon.symmetrical and mounted.ribbon.shape == "stripes"
        dressed.append(replace(mounted, reversed=turned, emblems=emblems))
    return Bar(order, _in_rows(dressed, wear.ribbons_per_row), top)


def _matchable(specification: Specification, award: str) -> bool:
    known = specification.awards[award]
    return bool(known.ribbons) and known.ribbons[-1].shape != "unmatched" and not known.worn_elsewhere


def _emblems(mounted: Mounted, specification: Specification, rng: np.random.Generator) -> tuple[str, ...]:
    own = specification.awards[mounted.award].emblems if mounted.award else ()
    kind = own[0].kind if own and own[0].kind in EMBLEM_KINDS else str(rng.choice(EMBLEM_KINDS))
    return (kind, kind) if kind in ("rosette", "star") and rng.random() < 0.2 else (kind,)
