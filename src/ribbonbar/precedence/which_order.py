"""Which order of wear applies, and judging a bar where that is not known for certain."""

from collections.abc import Iterable
from dataclasses import replace

from ribbonbar.errors import OptionError
from ribbonbar.findings import Finding
from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.model import OrderChoice, Record, Rows, Verdict
from ribbonbar.precedence.names import Names, listed, source_name
from ribbonbar.spec.model import OrderOfWear, Specification


def choose_order(awards_seen: Iterable[str], specification: Specification, wanted: str = "") -> OrderChoice:
    """The order of wear to judge by: the one ``wanted`` (key, id or title), else the one that lists most of the awards.

    Of several that list as many, the one of the awards' own authority goes first, then one still in force, then the
    one read first; the others are named in ``also`` and in a note. Raises ``OptionError`` when the one wanted is not
    known or there is no order at all.
    """
    awards = dict.fromkeys(awards_seen)
    if not specification.orders:
        raise OptionError("the specification has no order of wear; give one that has (--spec)")
    if wanted:
        order, also = Names(specification).order(wanted), []
    else:
        lists = {order.key: _listed_in(order) for order in specification.orders.values()}
        most = max(sum(award in listed_ for award in awards) for listed_ in lists.values())
        fitting = [o for o in specification.orders.values() if sum(award in lists[o.key] for award in awards) == most]
        order, *also = sorted(fitting, key=lambda o: (-_own(o, awards), o.in_force.end is not None))
    findings = [*_tie(order, also, bool(awards), specification), *_superseded(order, specification)]
    missing = tuple(award for award in awards if award not in _listed_in(order))
    return OrderChoice(order.key, tuple(other.key for other in also), missing, tuple(findings))


def judge_chosen(
    rows: Rows, specification: Specification, choice: OrderChoice, record: Record | None = None
) -> Verdict:
    """Judge a bar by the chosen order; where others fit as well, an error must hold under each of them.

    If the bar is not wrong under one of them, the errors become warnings and a note says so: which order applies is
    then what would settle it. The findings of the choice itself are included.
    """
    verdict = judge(rows, specification, specification.orders[choice.key], record)
    others = {key: judge(rows, specification, specification.orders[key], record).violated for key in choice.also}
    findings = list(choice.findings)
    settled = verdict.settled and not any(others.values())
    if verdict.violated and not all(others.values()):
        findings.append(_right_elsewhere(specification, [key for key, violated in others.items() if not violated]))
        softened = [replace(f, severity="warning") if f.severity == "error" else f for f in verdict.findings]
        return replace(verdict, violated=False, settled=False, findings=(*softened, *findings))
    if verdict.settled and not settled:
        titles = listed(specification.orders[key].title for key, violated in others.items() if violated)
        message = f"Under {titles} this bar would be out of order; --order says which applies."
        findings.append(Finding("order-of-wear", (), "note", message))
    return replace(verdict, settled=settled, findings=(*verdict.findings, *findings))


def _listed_in(order: OrderOfWear) -> frozenset[str]:
    return frozenset(award for group in order.groups for award in group.awards)


def _own(order: OrderOfWear, awards: Iterable[str]) -> int:
    """How many of the awards are of the authority that publishes the order."""
    return sum(award.partition("/")[0] == order.key.partition("/")[0] for award in awards)


def _tie(order: OrderOfWear, also: list[OrderOfWear], seen: bool, specification: Specification) -> list[Finding]:
    if not also:
        return []
    fits = "fit the ribbons as well" if seen else "could apply, as no ribbon tells which"
    message = f"{order.title} is used; {listed(other.title for other in also)} {fits}. --order says which applies."
    because = "each lists as many of the awards that were identified"
    return [Finding("order-of-wear", (), "note", message, because, source_name(specification, order.source))]


def _superseded(order: OrderOfWear, specification: Specification) -> list[Finding]:
    if order.in_force.end is None:
        return []
    message = f"{order.title} applied until {order.in_force.end.isoformat()}: it judges a bar of its own time."
    return [Finding("order-of-wear", (), "note", message, source=source_name(specification, order.source))]


def _right_elsewhere(specification: Specification, keys: list[str]) -> Finding:
    titles = listed((specification.orders[key].title for key in keys), "or")
    message = f"Under {titles} nothing is proved wrong, so nothing is said to be; --order says which applies."
    return Finding("order-of-wear", (), "note", message, "several orders list as many of the awards")
