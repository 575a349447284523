"""From tables to orders of wear and rules, wildcards replaced by the awards they stand for."""

import re
from bisect import bisect_left
from dataclasses import dataclass, field

from ribbonbar.spec.faults import shown
from ribbonbar.spec.lines import TomlPath
from ribbonbar.spec.model import Group, OrderOfWear, Rule
from ribbonbar.spec.parts import Draft, cited, full_key, read_days, sound_name
from ribbonbar.spec.table import LONGEST_ID, Table

MOST_PER_ROW = 12
MOST_PLACES = 200_000
"""Places in all the orders of wear together: wildcards could otherwise multiply a small file into a huge one."""
_WILDCARD = re.compile(r"(?:([a-z0-9]+(?:-[a-z0-9]+)*)/)?([a-z0-9][a-z0-9-]*)?\*")


class AwardNames:
    """The keys of all awards, for finding those that a pattern stands for."""

    def __init__(self, draft: Draft) -> None:
        on_the_bar = (key for key, award in draft.awards.items() if not award.worn_elsewhere)
        self._place = {key: place for place, key in enumerate(on_the_bar)}
        self._sorted = sorted(self._place)
        self.places_left = MOST_PLACES

    def beginning(self, prefix: str) -> list[str]:
        """The keys that begin with ``prefix``, in the order of the files."""
        start, end = bisect_left(self._sorted, prefix), bisect_left(self._sorted, prefix + "\x7f")
        return sorted(self._sorted[start:end], key=self._place.__getitem__)


def read_order(table: Table, draft: Draft, names: AwardNames, authority: str, own: str) -> OrderOfWear:
    title = table.text("title", required=True)
    source = cited(table, draft, authority)
    if "source" not in table:
        table.fault((), "names no source", "add source = …: the publication this order is in", warning=True)
    per_row = table.integer("ribbons_per_row", 1, MOST_PER_ROW, 4)
    groups = _groups(table, draft, names, authority, own, source)
    order = OrderOfWear(
        key=f"{authority}/{own}",
        title=title,
        groups=groups,
        ribbons_per_row=per_row,
        rows_allowed=_rows_allowed(table),
        short_row=table.choice("short_row", ("top", "bottom"), "top"),
        short_row_align=table.choice("short_row_align", ("centre", "senior", "either"), "either"),
        second_ribbon=table.flag("second_ribbon"),
        in_force=read_days(table, "in_force", draft, authority)[0],
        source=source,
    )
    if not order.groups and not table.data.get("group"):
        table.fault((), "has no groups", "add [[order_of_wear.group]], the most senior first")
    table.finish()
    return order


def _rows_allowed(table: Table) -> tuple[int, ...]:
    values = table.take("rows_allowed", list) or []
    path = "rows_allowed"
    return tuple(int(table.sound_number((path, i), path, v, 1, MOST_PER_ROW, 4)) for i, v in enumerate(values))


def _groups(order: Table, draft: Draft, names: AwardNames, authority: str, own: str, source: str) -> tuple[Group, ...]:
    tables = order.tables("group", f"group {own}/")
    listed = [table.texts("awards", required=True) for table in tables]
    explicit = {full_key(name, authority) for entries in listed for _, name in entries if not name.endswith("*")}
    places = _Places(draft, names, authority, explicit)
    groups: dict[str, Group] = {}
    for table, entries in zip(tables, listed, strict=True):
        group_id = table.ident()
        if group_id in groups:
            table.fault("id", f"repeats the id {shown(group_id)}", "give each group of an order its own id")
        if not entries and table.data.get("awards") == []:
            table.fault("awards", "awards is empty", "list the awards of this group, or take the group out")
        groups[group_id or f"#{len(groups)}"] = Group(
            id=group_id,
            title=table.text("title", required=True),
            sequence=table.choice("sequence", ("listed", "by-date", "by-award-date")),
            awards=tuple(key for path, name in entries for key in places.take(table, path, name)),
            source=cited(table, draft, authority) or source,
        )
        table.finish()
    return tuple(groups.values())


@dataclass
class _Places:
    """The places of one order while it is read: ``explicit`` awards are listed by name, ``taken`` have their place."""

    draft: Draft
    names: AwardNames
    authority: str
    explicit: set[str]
    taken: set[str] = field(default_factory=set)

    def take(self, table: Table, path: TomlPath, name: str) -> list[str]:
        """The awards that one entry of a group stands for; none, and a fault, when one has a place already."""
        found = self._stands_for(table, path, name)
        twice = next((key for key in found if key in self.taken), None)
        self.names.places_left -= len(found)
        if twice:
            table.fault(path, f"gives {twice} a second place in this order", "keep one")
        elif self.names.places_left < 0:
            table.fault(path, f"the orders have more than {MOST_PLACES} places", "use fewer orders or wildcards")
        else:
            self.taken.update(found)
            return found
        return []

    def _stands_for(self, table: Table, path: TomlPath, name: str) -> list[str]:
        wildcard = _WILDCARD.fullmatch(name) if len(name) <= 2 * LONGEST_ID else None
        if not wildcard:
            known = known_award(table, path, name, self.authority, self.draft)
            return [full_key(name, self.authority)] if known else []
        found = self.names.beginning(f"{wildcard[1] or self.authority}/{wildcard[2] or ''}")
        found = [key for key in found if key not in self.explicit]
        if not found and self.draft.whole:
            mend = "add the file that has them, or mend the pattern"
            table.fault(path, f"{shown(name)} stands for no award here", mend, warning=True)
        return found


def known_award(table: Table, path: TomlPath, name: str, authority: str, draft: Draft) -> bool:
    """True when an award of this name is known; else a fault."""
    if not sound_name(table, path, name):
        return False
    key = full_key(name, authority)
    if key in draft.awards:
        return True
    if draft.whole:
        owner = key.split("/")[0]
        if owner in draft.authorities:
            mend = table.document.guess(name, [other.removeprefix(f"{authority}/") for other in draft.awards])
        else:
            mend = f"no file given is of the authority {shown(owner)}: add the file that is"
        table.fault(path, f"names the unknown award {shown(name)}", mend)
    return False


def read_rule(table: Table, draft: Draft, authority: str) -> Rule:
    entries = table.texts("awards", required=True)
    awards = [full_key(name, authority) for path, name in entries if known_award(table, path, name, authority, draft)]
    if "awards" in table and len(entries) < 2:
        table.fault("awards", "binds fewer than two awards", "name at least two")
    for place, key in enumerate(awards):
        if key in awards[:place]:
            table.fault("awards", f"names {key} twice", "name each award once")
            break
    rule = Rule(
        kind=table.choice("kind", ("not-together", "needs", "listed-within")),
        awards=tuple(awards),
        because=table.text("because", required=True, longest=500),
        source=cited(table, draft, authority),
        orders=tuple(_known_orders(table, draft, authority)),
    )
    if "source" not in table:
        table.fault((), "names no source", "add source = …: the publication this rule is in", warning=True)
    table.finish()
    return rule


def _known_orders(table: Table, draft: Draft, authority: str) -> list[str]:
    found = []
    for path, name in table.texts("orders"):
        key = full_key(name, authority)
        if not sound_name(table, path, name):
            continue
        if key in draft.orders:
            found.append(key)
        elif draft.whole:
            known = [other.removeprefix(f"{authority}/") for other in draft.orders]
            table.fault(path, f"names the unknown order of wear {shown(name)}", table.document.guess(name, known))
    return found


def contradiction(rules: list[Rule]) -> list[str]:
    """A ring of awards that ``listed-within`` rules put before one another, first repeated at the end; else empty."""
    before: dict[str, set[str]] = {}
    for rule in rules:
        if rule.kind == "listed-within":
            for senior, junior in zip(rule.awards, rule.awards[1:], strict=False):
                before.setdefault(senior, set()).add(junior)
    done: set[str] = set()
    for start in before:
        way: list[str] = []  # the awards on the way from start to the present one
        on_way: set[str] = set()
        waiting = [(start, 0)]
        while waiting:
            award, depth = waiting.pop()
            on_way.difference_update(way[depth:])
            del way[depth:]
            if award in on_way:
                return [*way[way.index(award) :], award]
            if award in done:
                continue
            done.add(award)
            way.append(award)
            on_way.add(award)
            waiting += [(junior, depth + 1) for junior in sorted(before.get(award, ()))]
    return []
