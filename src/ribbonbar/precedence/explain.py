"""Which of two awards goes first, and why, or on what it depends."""

import json
from dataclasses import dataclass

from ribbonbar.errors import OptionError
from ribbonbar.precedence.dates import needed, open_message
from ribbonbar.precedence.model import Explanation, Record
from ribbonbar.precedence.names import Names, award_name, source_name
from ribbonbar.precedence.relation import Because, Standing, closed, rank
from ribbonbar.precedence.rules import rules_of, worn_elsewhere
from ribbonbar.precedence.which_order import choose_order
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


@dataclass(frozen=True)
class Answer:
    """An explanation with the awards it speaks of, and notes on the order of wear it was drawn from."""

    first: str
    second: str
    explanation: Explanation
    notes: tuple[str, ...] = ()


def explain_named(
    first: str, second: str, specification: Specification, wanted: str = "", record: Record | None = None
) -> Answer:
    """``explain`` for awards as a person names them, under the order ``wanted``, the record's, or the one that fits.

    Raises ``OptionError`` for a name that is not known, with what was perhaps meant.
    """
    names = Names(specification)
    wanted = wanted or (record.order_of_wear if record else "")
    order = names.order(wanted) if wanted else None
    keys = names.award(first, order), names.award(second, order)
    choice = choose_order(keys, specification, wanted)
    explanation = explain(*keys, specification, specification.orders[choice.key], record)
    return Answer(*keys, explanation, tuple(finding.message for finding in choice.findings))


def as_json(answer: Answer) -> str:
    """``ribbon-explanation/1``, plain ASCII, with a line's end."""
    explanation = answer.explanation
    data = {
        "format": "ribbon-explanation/1",
        "order_of_wear": explanation.order_of_wear,
        "awards": [answer.first, answer.second],
        "relation": explanation.relation,
        "because": explanation.because,
        "needs": explanation.needs,
        "source": explanation.source,
        "notes": list(answer.notes),
    }
    return json.dumps(data, indent=1) + "\n"


def as_text(answer: Answer, specification: Specification) -> str:
    """The answer for a person, in a few lines."""
    first, second = (award_name(specification, award) for award in (answer.first, answer.second))
    explanation = answer.explanation
    lines = {
        "first-before-second": f"{first} goes before {second}.",
        "second-before-first": f"{second} goes before {first}.",
        "depends": f"Whether {first} or {second} goes first depends.",
    }
    rows = [
        lines[explanation.relation],
        f"Because: {explanation.because}",
        f"To settle it: {explanation.needs}" if explanation.needs else "",
        f"Order of wear: {specification.orders[explanation.order_of_wear].title}",
        f"Source: {explanation.source}" if explanation.source else "",
        *(f"Note: {note}" for note in answer.notes),
        "The issuing authority's current order decides.",
    ]
    return "\n".join(row for row in rows if row) + "\n"
