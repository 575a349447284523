"""What may, must or cannot stand on one bar: one ribbon for an award, not together, needs, worn elsewhere."""

from ribbonbar.findings import Finding
from ribbonbar.precedence.model import Rows
from ribbonbar.precedence.names import award_name, listed, source_name
from ribbonbar.precedence.readings import Bar, Limits, mask_of, sequence_limits
from ribbonbar.precedence.relation import Ranking, bits
from ribbonbar.spec.model import OrderOfWear, Rule, RuleKind, Specification


def rules_of(specification: Specification, order: OrderOfWear, kind: RuleKind) -> list[Rule]:
    """The rules of one kind that belong to an order of wear."""
    return [r for r in specification.rules if r.kind == kind and (not r.orders or order.key in r.orders)]


def worn_elsewhere(specification: Specification, award: str) -> str:
    """Where an award is worn when it is not for a ribbon bar, else an empty string."""
    known = specification.awards.get(award)
    return known.worn_elsewhere if known else ""


def is_other_bar(specification: Specification, rows: Rows) -> bool:
    """True when every ribbon that was named is worn elsewhere: then this is the bar that is worn there."""
    named = [award for row in rows for slot in row for award in slot.awards]
    return bool(named) and all(worn_elsewhere(specification, award) for award in named)


def all_limits(bar: Bar, other_bar: bool) -> Limits:
    """The limits that the order of wear and all its rules set."""
    ranking = bar.ranking
    alone = [0] * len(ranking.awards)
    if not ranking.order.second_ribbon:
        alone = [1 << i for i in range(len(alone))]
    for rule in rules_of(ranking.specification, ranking.order, "not-together"):
        together = _mask(ranking, rule.awards)
        for award in bits(together):
            alone[award] |= together & ~(1 << award)
    limits = sequence_limits(ranking)
    return Limits(
        tuple(mask | more for mask, more in zip(limits.not_before, alone, strict=True)),
        tuple(mask | more for mask, more in zip(limits.not_behind, alone, strict=True)),
        0 if other_bar else _elsewhere_mask(ranking),
        tuple((award, others) for _, award, others in _needs(ranking)),
    )


def rule_findings(bar: Bar, other_bar: bool) -> list[Finding]:
    """Findings of every rule but the sequence: errors where every reading breaks it, warnings where some do."""
    findings = [] if bar.ranking.order.second_ribbon else _duplicates(bar)
    findings += _not_together(bar) + _needed(bar)
    return findings if other_bar else findings + _elsewhere(bar)


def _mask(ranking: Ranking, awards: tuple[str, ...]) -> int:
    return mask_of(ranking.index[award] for award in awards if award in ranking.index)


def _finding(bar: Bar, kind, slots, severity, message: str, because: str, source: str) -> Finding:
    positions = tuple(bar.slots[i].position for i in slots)
    return Finding(kind, positions, severity, message, because, source_name(bar.ranking.specification, source))


def _duplicates(bar: Bar) -> list[Finding]:
    order = bar.ranking.order
    because = f"one ribbon is worn for one award in {order.title}; an emblem marks a repeat"
    certain: dict[int, list[int]] = {}
    for i, choice in enumerate(bar.choices):
        if len(choice) == 1:
            certain.setdefault(choice[0], []).append(i)
    found = []
    for award, slots in certain.items():
        if len(slots) > 1:
            name = award_name(bar.ranking.specification, bar.ranking.awards[award])
            where = listed(bar.slots[i].position for i in slots)
            message = f"{name} stands at {where}: only one of these may stay."
            found.append(_finding(bar, "duplicate", slots, "error", message, because, order.source))
    for slots in _sharing(bar):
        where = listed(bar.slots[i].position for i in slots)
        message = f"The ribbons at {where} may be for one and the same award."
        found.append(_finding(bar, "duplicate", slots, "warning", message, because, order.source))
    return found


def _sharing(bar: Bar) -> list[list[int]]:
    """Sets of slots, at least one of them ambiguous in each pair, that may share an award."""
    linked: dict[int, set[int]] = {}
    for i, mask in enumerate(bar.masks):
        for j in range(i):
            if mask & bar.masks[j] and (mask & (mask - 1) or bar.masks[j] & (bar.masks[j] - 1)):
                linked.setdefault(i, set()).add(j)
                linked.setdefault(j, set()).add(i)
    groups, seen = [], set()
    for start in sorted(linked):
        if start in seen:
            continue
        group, frontier = {start}, [start]
        while frontier:
            fresh = linked[frontier.pop()] - group
            group |= fresh
            frontier += fresh
        seen |= group
        groups.append(sorted(group))
    return groups


def _not_together(bar: Bar) -> list[Finding]:
    ranking, found = bar.ranking, []
    for rule in rules_of(ranking.specification, ranking.order, "not-together"):
        together = _mask(ranking, rule.awards)
        surely = [i for i, mask in enumerate(bar.masks) if not mask & ~together]
        perhaps = [i for i, mask in enumerate(bar.masks) if mask & together]
        # Broken for certain unless some one award of the rule could be the only one of them on the bar.
        if surely and all(any(not bar.masks[i] & 1 << award for i in surely) for award in bits(together)):
            names = listed(bar.name(i) for i in surely)
            message = f"{_capital(names)} are not worn together."
            found.append(_finding(bar, "not-together", surely, "error", message, rule.because, rule.source))
        elif _two_different(bar, perhaps, together):
            names = listed(dict.fromkeys(ranking.name(ranking.awards[a]) for a in bits(_union(bar) & together)))
            where = listed(bar.slots[i].position for i in perhaps)
            message = f"The ribbons at {where} may be two of {names}, which are not worn together."
            found.append(_finding(bar, "not-together", perhaps, "warning", message, rule.because, rule.source))
    return found


def _two_different(bar: Bar, slots: list[int], together: int) -> bool:
    """True when two of the slots may be different awards of the rule."""
    for place, i in enumerate(slots):
        for j in slots[place + 1 :]:
            union = (bar.masks[i] | bar.masks[j]) & together
            if union & (union - 1):
                return True
    return False


def _union(bar: Bar) -> int:
    union = 0
    for mask in bar.masks:
        union |= mask
    return union


def _needs(ranking: Ranking) -> list[tuple[Rule, int, int]]:
    """Rules of need whose first award may be on the bar: rule, award, mask of those of which one must be there.

    A need of, or for, something worn elsewhere cannot be judged from this bar, so it is left out.
    """
    specification, order = ranking.specification, ranking.order
    found = []
    for rule in rules_of(specification, order, "needs"):
        first, others = rule.awards[0], rule.awards[1:]
        if first in ranking.index and not any(worn_elsewhere(specification, award) for award in rule.awards):
            found.append((rule, ranking.index[first], _mask(ranking, others)))
    return found


def _needed(bar: Bar) -> list[Finding]:
    ranking, found = bar.ranking, []
    for rule, award, others in _needs(ranking):
        holders = [i for i, mask in enumerate(bar.masks) if mask >> award & 1]
        named = listed((ranking.name(key) for key in rule.awards[1:]), "or")
        sure = [i for i in holders if bar.masks[i] == 1 << award]
        if sure and not _union(bar) & others and not bar.unidentified:
            message = f"{bar.name(sure[0])} is not worn without {named}, which is not on the bar."
            found.append(_finding(bar, "needs", sure, "error", message, rule.because, rule.source))
            continue
        for i in holders:
            if all(mask & ~others for j, mask in enumerate(bar.masks) if j != i) and not others >> award & 1:
                subject = bar.if_it_is(i, award) if len(bar.choices[i]) > 1 else bar.name(i)
                message = f"{subject} is not worn without {named}, which may not be on the bar."
                found.append(_finding(bar, "needs", [i], "warning", message, rule.because, rule.source))
                break
    return found


def _elsewhere_mask(ranking: Ranking) -> int:
    places = enumerate(ranking.awards)
    return mask_of(i for i, award in places if worn_elsewhere(ranking.specification, award))


def _elsewhere(bar: Bar) -> list[Finding]:
    ranking, banned, found = bar.ranking, _elsewhere_mask(bar.ranking), []
    for i, mask in enumerate(bar.masks):
        award = next((a for a in bar.choices[i] if banned >> a & 1), None)
        if award is None:
            continue
        certain = not mask & ~banned
        message = (
            f"{_capital(bar.name(i))} is not for this bar."
            if certain
            else f"{bar.if_it_is(i, award)} is not for this bar."
        )
        because = f"it is worn elsewhere: {worn_elsewhere(ranking.specification, ranking.awards[award])}"
        source, severity = _source_of(ranking, award), "error" if certain else "warning"
        found.append(_finding(bar, "out-of-place", [i], severity, message, because, source))
    return found


def _source_of(ranking: Ranking, award: int) -> str:
    ribbons = ranking.specification.awards[ranking.awards[award]].ribbons
    return ribbons[0].source if ribbons else ranking.order.source


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
