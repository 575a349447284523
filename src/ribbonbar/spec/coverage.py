"""How much of each order of wear the specification knows, and how well."""

from collections import Counter
from dataclasses import dataclass

from ribbonbar.spec.model import Interval, OrderOfWear, Specification


@dataclass(frozen=True)
class Coverage:
    """One order of wear. ``awards`` counts its awards; ``matched`` those with a ribbon that can be read.

    ``certainty`` counts the readable ribbons whose pattern is stated, derived or from memory; ``unmatched`` lists
    (award, why) for the awards with no ribbon that can be read; ``undated`` lists the awards of by-date groups whose
    qualifying days are not known.
    """

    order: OrderOfWear
    awards: int
    matched: int
    certainty: dict[str, int]
    unmatched: tuple[tuple[str, str], ...]
    undated: tuple[str, ...]

    def lines(self) -> list[str]:
        """For a person: the counts on the first line, then a line for each award that is not covered."""
        certainty = ", ".join(f"{self.certainty[kind]} {kind}" for kind in ("stated", "derived", "memory"))
        head = f"{self.order.key}: {self.awards} awards, {self.matched} with a ribbon that can be matched ({certainty})"
        unmatched = [f"  unmatched  {award}: {why}" for award, why in self.unmatched]
        return [head, *unmatched, *(f"  no dates   {award}" for award in self.undated)]


def coverage(specification: Specification) -> tuple[Coverage, ...]:
    """The coverage of every order of wear."""
    return tuple(_of_order(specification, order) for order in specification.orders.values())


def _of_order(specification: Specification, order: OrderOfWear) -> Coverage:
    awards = [specification.awards[key] for group in order.groups for key in group.awards]
    readable = {award.key: [r for r in award.ribbons if r.shape != "unmatched"] for award in awards}
    by_date = [key for group in order.groups if group.sequence == "by-date" for key in group.awards]
    return Coverage(
        order=order,
        awards=len(awards),
        matched=sum(bool(ribbons) for ribbons in readable.values()),
        certainty=Counter(ribbon.certainty for ribbons in readable.values() for ribbon in ribbons),
        unmatched=tuple(
            (award.key, "; ".join(ribbon.unmatched for ribbon in award.ribbons) or "no ribbon is given")
            for award in awards
            if not readable[award.key]
        ),
        undated=tuple(key for key in by_date if specification.awards[key].earned == Interval()),
    )
