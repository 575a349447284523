"""Small specifications and bars for the tests, of an invented country, written as short as the trade would say them."""

from datetime import date

from ribbonbar.precedence.model import Held, Record, Rows, Slot
from ribbonbar.spec.model import Award, Group, Interval, OrderOfWear, Rule, Source, Specification


def award(name: str, start: str = "", end: str = "", elsewhere: str = "", of: str = "calder") -> Award:
    """``award("Harbour Star", "1951-03-01", "1954-10-31")``; its id is the name in kebab-case."""
    earned = Interval(date.fromisoformat(start) if start else None, date.fromisoformat(end) if end else None)
    return Award(key(name, of), name, earned=earned, worn_elsewhere=elsewhere)


def key(name: str, of: str = "calder") -> str:
    return name if "/" in name else f"{of}/{name.lower().replace(' ', '-').replace('.', '').replace(chr(39), '')}"


def group(title: str, sequence: str, *names: str, source: str = "") -> Group:
    return Group(key(title).partition("/")[2], title, sequence, tuple(map(key, names)), source)


def order(*groups: Group, title: str = "Order of wear, Calder forces", **other) -> OrderOfWear:
    return OrderOfWear("calder/" + other.pop("id", "calder-forces"), title, groups, **other)


def specification(awards, orders, rules=(), sources=()) -> Specification:
    return Specification(
        awards={each.key: each for each in awards},
        orders={each.key: each for each in orders},
        rules=tuple(rules),
        sources={each.key: each for each in sources},
    )


def rule(kind: str, *names: str, because: str = "the regulation says so", source: str = "", orders=()) -> Rule:
    return Rule(kind, tuple(map(key, names)), because, source, tuple(orders))


def bar(*rows: str) -> Rows:
    """``bar("Valour Cross, Harbour Star | Strait Medal", "?, Long Service Medal")``: rows from the top, ribbons from
    the viewer's left; ``|`` between the awards an ambiguous ribbon may be, ``?`` for an unidentified one."""
    seen = []
    for number, row in enumerate(rows, 1):
        ribbons = [ribbon.strip() for ribbon in row.split(",")]
        awards = [() if each == "?" else tuple(key(name.strip()) for name in each.split("|")) for each in ribbons]
        seen.append(tuple(Slot(f"{number}.{place}", names) for place, names in enumerate(awards, 1)))
    return tuple(seen)


def record(*held: str, **other) -> Record:
    """``record("Harbour Star 1952-04-01", "Valour Cross")``."""
    return Record(held=tuple(_held(each) for each in held), **other)


def _held(text: str) -> Held:
    name, _, day = text.rpartition(" ")
    if day[:1].isdigit():
        return Held(key(name), date.fromisoformat(day))
    return Held(key(text))


def kinds(verdict, severity: str = "") -> list[str]:
    """The kinds of a verdict's findings, or of those of one severity."""
    return [f.kind for f in verdict.findings if severity in ("", f.severity)]


CALDER_SOURCE = Source("calder/dress-2", "Calder forces dress regulations, part 2")
CALDER_AWARDS = (
    award("Valour Cross"),
    award("Sea Gallantry Medal"),
    award("Harbour Star", "1951-03-01", "1954-10-31"),
    award("Strait Medal", "1953-01-01", "1956-12-31"),
    award("Delta Medal", "1960-01-01", "1962-12-31"),
    award("Peace Mission Medal", "1958-06-01", "1959-06-01"),
    award("Silver Jubilee Medal", "1970-05-01", "1970-05-01"),
    award("Golden Jubilee Medal", "1995-05-01", "1995-05-01"),
    award("Meritorious Service Medal"),
    award("Long Service Medal"),
    award("Cadet Medal"),
    award("Foreign Star"),
    award("Foreign Medal"),
    award("Unit Citation", elsewhere="right breast"),
)
CALDER_ORDER = order(
    group("Gallantry decorations", "listed", "Valour Cross", "Sea Gallantry Medal"),
    group("Campaign medals", "by-date", "Harbour Star", "Strait Medal", "Delta Medal", "Peace Mission Medal"),
    group("Jubilee medals", "by-date", "Silver Jubilee Medal", "Golden Jubilee Medal"),
    group("Long service awards", "listed", "Meritorious Service Medal", "Long Service Medal", "Cadet Medal"),
    group("Foreign awards", "by-award-date", "Foreign Star", "Foreign Medal"),
    source="calder/dress-2",
)
CALDER = specification(CALDER_AWARDS, [CALDER_ORDER], sources=[CALDER_SOURCE])
