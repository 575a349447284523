"""Which of two awards goes first, and why, or on what it depends."""

from ribbonbar.errors import OptionError
from ribbonbar.precedence.dates import needed, open_message
from ribbonbar.precedence.model import Explanation, Record
from ribbonbar.precedence.names import source_name
from ribbonbar.precedence.relation import Because, Standing, closed, rank
from ribbonbar.precedence.rules import rules_of, worn_elsewhere
from ribbonbar.spec.model import OrderOfWear, Specification


def explain(
    first: str, second: str, specification: Specification, order: OrderOfWear, record: Record | None = None
) -> Explanation:
    """Say which of two awards (keys) goes first under an order of wear, with what a record holds taken into account.

    Raises ``OptionError`` when the two are the same award, ``SpecError`` for a faulty order.
    """
    if first == second:
        raise OptionError(f"{first} is given twice; name two different awards")
    ranking = rank(specification, order, (first, second, *(record.awards if record else ())), record)
    reach = closed(list(ranking.before))
    needs = None
    if reach[0] >> 1 & 1:
        relation, why = "first-before-second", ranking.why(first, second)
    elif reach[1] & 1:
        relation, why = "second-before-first", ranking.why(second, first)
    elif ranking.standing(first, second) is Standing.EITHER:
        relation, why = "depends", Because("both are of the same day by the record, so either may go first")
    else:
        group = ranking.group_of(first)
        source = source_name(specification, (group.source if group else "") or order.source)
        relation, why = "depends", Because(open_message(ranking, first, second).removesuffix("."), source)
        needs = needed(ranking, first, second)
    remarks = _remarks(first, second, specification, order)
    return Explanation(order.key, relation, ". ".join([why.clause, *remarks]), needs, why.source)


def _remarks(first: str, second: str, specification: Specification, order: OrderOfWear) -> list[str]:
    """What else a person asking about these two should know."""
    remarks = []
    for rule in rules_of(specification, order, "not-together"):
        if first in rule.awards and second in rule.awards:
            remarks.append(f"The two are not worn together: {rule.because}")
    for award in (first, second):
        where = worn_elsewhere(specification, award)
        if where:
            remarks.append(f"{specification.awards[award].name} is not for this bar: it is worn elsewhere ({where})")
    return remarks
