"""What the dates of a record say, do not say, and contradict."""

from collections.abc import Iterable

from ribbonbar.findings import Finding
from ribbonbar.precedence.model import Record
from ribbonbar.precedence.names import listed, source_name
from ribbonbar.precedence.relation import Ranking, Standing
from ribbonbar.spec.model import Award, Group, OrderOfWear, Specification


def what_date(group: Group) -> str:
    """Which date of an award a group by date goes by."""
    return "the first day of the service" if group.sequence == "by-date" else "the date of award"


def needed(ranking: Ranking, first: str, second: str) -> str:
    """What would settle an open pair, as a phrase; empty when nothing a record can say would."""
    standing = ranking.standing(first, second)
    if standing is Standing.UNPLACED:
        absent = listed(ranking.name(a) for a in (first, second) if a not in ranking.places)
        return f"an order of wear that lists {absent}"
    if standing is Standing.DISPUTED:
        return f"a ruling by the issuing authority on {ranking.name(first)} and {ranking.name(second)}"
    undated = [ranking.name(award) for award in (first, second) if ranking.undated(award)]
    return f"{'date' if len(undated) == 1 else 'dates'} of {listed(undated)}"


def open_message(ranking: Ranking, first: str, second: str) -> str:
    """Why the sequence of an open pair is not settled, as a sentence."""
    names = f"{ranking.name(first)} and {ranking.name(second)}"
    standing = ranking.standing(first, second)
    if standing is Standing.UNPLACED:
        absent = listed(ranking.name(a) for a in (first, second) if a not in ranking.places)
        return f"{ranking.order.title} does not list {absent}, so it says nothing of the sequence of {names}."
    group = ranking.group_of(first)
    if standing is Standing.DISPUTED:
        return f"For {names} the dates and a fixed sequence among “{group.title}” disagree, so neither is used."
    return (
        f"{names} go by {what_date(group)} (“{group.title}”), and what is known of their dates does not settle "
        f"which is earlier."
    )


def dates_needed_findings(ranking: Ranking, pairs: Iterable[tuple[str, str]], where: dict[str, str]) -> list[Finding]:
    """One note a group: the dates that would settle the sequence of the open ``pairs``; ``where`` gives positions."""
    by_group: dict[int, set[str]] = {}
    for first, second in pairs:
        if ranking.standing(first, second) is Standing.OPEN:
            by_group.setdefault(ranking.places[first].group, set()).update((first, second))
    found = []
    for number, awards in sorted(by_group.items()):
        group = ranking.order.groups[number]
        concerned = [award for award in where if award in awards]
        names = listed(f"{ranking.name(a)} ({where[a]})" for a in concerned if ranking.undated(a))
        message = f"“{group.title}”: {what_date(group)} for {names} would confirm or correct their sequence."
        because = f"they go by {what_date(group)}, and what is known of it does not settle which is earlier"
        source = source_name(ranking.specification, group.source or ranking.order.source)
        found.append(Finding("dates-needed", tuple(where[a] for a in concerned), "note", message, because, source))
    return found


def disputed_findings(ranking: Ranking, where: dict[str, str]) -> list[Finding]:
    """One warning for each pair on the bar whose dates and fixed sequence disagree."""
    found = []
    for pair in sorted(ranking.disputed, key=sorted):
        if pair <= where.keys():
            first, second = sorted(pair, key=list(where).index)
            message = open_message(ranking, first, second)
            found.append(Finding("record", (where[first], where[second]), "warning", message))
    return found


def record_findings(
    record: Record, specification: Specification, order: OrderOfWear, where: dict[str, str] | None = None
) -> list[Finding]:
    """Warnings for dates of a record on which the award could not be earned."""
    sequence = {award: group.sequence for group in order.groups for award in group.awards}
    found = []
    for held in record.held:
        award = specification.awards.get(held.award)
        if award is None:
            continue
        position = (where or {}).get(held.award)
        positions = (position,) if position else ()
        for message in _misfits(held, award, sequence.get(held.award, "listed")):
            source = award.ribbons[0].source if award.ribbons else ""
            because = "the record and the specification disagree; one of them is mistaken"
            found.append(Finding("record", positions, "warning", message, because, source_name(specification, source)))
    return found


def _misfits(held, award: Award, sequence: str) -> Iterable[str]:
    start, end = award.earned.start, award.earned.end
    if held.date and start and held.date < start:
        yield f"The record dates {award.name} {held.date}; it could not be earned before {start}."
    # After the last day there is no service to earn it by, though it may still be given.
    if held.date and end and held.date > end and sequence == "by-date":
        yield f"The record dates {award.name} {held.date}; it could not be earned after {end}."
