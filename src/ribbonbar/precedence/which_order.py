"""Which order of wear applies, and judging a bar where that is not known for certain."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ribbonbar.errors import OptionError
from ribbonbar.findings import Finding
from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.model import OrderChoice, Record, Rows, Verdict
from ribbonbar.precedence.names import Names, listed, source_name
from ribbonbar.spec.model import OrderOfWear, Specification


def choose_order(awards_seen: Iterable[str], specification: Specification, wanted: str = "") -> OrderChoice:
    """The order of wear to judge by: the one ``wanted`` (key, id or title), else the one that lists most of the awards.

    Awards that an order only has among those by date of award (another country's) count for less than those it lists
    or has by date of service. Of several that fit as well, one in force goes before one that is superseded, then the
    one of the awards' own authority, then the one read first. The others in force are named in ``also``, and all are
    told in notes. Raises ``OptionError`` when the one wanted is not known or there is no order at all.
    """
    awards = dict.fromkeys(awards_seen)
    if not specification.orders:
        raise OptionError("the specification has no order of wear; give one that has (--spec)")
    if wanted:
        order, also = Names(specification).order(wanted), []
    else:
        fits = {key: _fit(order, awards) for key, order in specification.orders.items()}
        fitting = [order for key, order in specification.orders.items() if fits[key] == max(fits.values())]
        order, *also = sorted(fitting, key=lambda o: (o.in_force.end is not None, -_own(o, awards)))
    findings = [*_tie(order, also, bool(awards), specification), *_superseded(order, specification)]
    return OrderChoice(
        order.key,
        tuple(other.key for other in also if other.in_force.end is None or order.in_force.end is not None),
        tuple(award for award in awards if award not in _listed_in(order)),
        tuple(findings),
    )


def judge_chosen(
    rows: Rows, specification: Specification, choice: OrderChoice, record: Record | None = None
) -> Verdict:
    """Judge a bar by the chosen order; where others fit as well, an error must hold under each of them.

    If the bar is not proved wrong under one of them, the errors become warnings and a note says so: which order
    applies is then what would settle it. The findings of the choice itself are included.
    """
    verdict = judge(rows, specification, specification.orders[choice.key], record)
    others = [specification.orders[key] for key in choice.also]
    wrong = [order for order in others if judge(rows, specification, order, record).violated]
    findings = list(choice.findings)
    if verdict.violated and len(wrong) < len(others):
        right = [order for order in others if order not in wrong]
        findings.append(_right_elsewhere(right))
        softened = [replace(f, severity="warning") if f.severity == "error" else f for f in verdict.findings]
        return replace(verdict, violated=False, settled=False, findings=(*softened, *findings))
    awards = [award for row in rows for slot in row for award in slot.awards]
    fits_best = _own(specification.orders[choice.key], awards)
    rivals = [order for order in wrong if _own(order, awards) == fits_best]
    if verdict.settled and rivals and not verdict.violated:
        message = f"Under {_titles(rivals)} this bar would be out of order; --order says which applies."
        findings.append(Finding("order-of-wear", (), "note", message))
    return replace(verdict, settled=verdict.settled and not rivals, findings=(*verdict.findings, *findings))


def _listed_in(order: OrderOfWear) -> frozenset[str]:
    return frozenset(award for group in order.groups for award in group.awards)


def _fit(order: OrderOfWear, awards: Iterable[str]) -> tuple[int, int]:
    """How many of the awards an order lists, and how many of them as its own rather than by date of award."""
    own = {award for group in order.groups if group.sequence != "by-award-date" for award in group.awards}
    listed_in = _listed_in(order)
    return sum(award in listed_in for award in awards), sum(award in own for award in awards)


def _own(order: OrderOfWear, awards: Iterable[str]) -> int:
    """How many of the awards are of the authority that publishes the order."""
    return sum(award.partition("/")[0] == order.key.partition("/")[0] for award in awards)


def _titles(orders: Sequence[OrderOfWear], joint: str = "and") -> str:
    titles = [f"“{order.title}”" for order in orders]
    return listed(titles if len(titles) < 4 else [*titles[:2], f"{len(titles) - 2} more"], joint)


def _tie(order: OrderOfWear, also: list[OrderOfWear], seen: bool, specification: Specification) -> list[Finding]:
    if not also:
        return []
    others = f"{_titles(also)} {'lists' if len(also) == 1 else 'list'} as many of these awards"
    if not seen:
        others = "no ribbon tells which applies"
    message = f"“{order.title}” is used; {others}. --order chooses."
    source = source_name(specification, order.source)
    return [Finding("order-of-wear", (), "note", message, "the order that lists most of the awards is used", source)]


def _superseded(order: OrderOfWear, specification: Specification) -> list[Finding]:
    if order.in_force.end is None:
        return []
    message = f"“{order.title}” applied until {order.in_force.end.isoformat()}: it judges a bar of its own time."
    return [Finding("order-of-wear", (), "note", message, source=source_name(specification, order.source))]


def _right_elsewhere(orders: Sequence[OrderOfWear]) -> Finding:
    message = f"Under {_titles(orders, 'or')} nothing is proved wrong, so nothing is said to be; --order chooses."
    return Finding("order-of-wear", (), "note", message, "several orders of wear list as many of the awards")
