"""Reading specification files (``ribbon-spec/1``): all faults collected, all files joined, then checked together."""

import importlib.resources
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from ribbonbar.errors import SpecError
from ribbonbar.spec.document import Document
from ribbonbar.spec.faults import Fault, shown
from ribbonbar.spec.model import Authority, Award, OrderOfWear, Rule, Specification
from ribbonbar.spec.orders import AwardNames, contradiction, read_order, read_rule
from ribbonbar.spec.parts import Draft, read_award, read_colour, read_source
from ribbonbar.spec.table import Table

SIZES = {"ribbon_width_mm": (5, 150), "ribbon_height_mm": (3, 60)}


def shipped_specs() -> Path:
    """The folder of the specification files that come with the package."""
    return Path(str(importlib.resources.files("ribbonbar.shipped_specs")))


def read_specification(paths: Sequence[Path]) -> Specification:
    """Read files, and all ``*.toml`` files of folders, into one checked specification.

    Raises SpecError, one line, naming the first fault and how many more there are. Warnings do not keep a file from
    being used; ``check`` tells them.
    """
    specification, faults = _read(paths)
    errors = [fault for fault in faults if fault.severity == "error"]
    if errors:
        more = f" (and {len(errors) - 1} more: run ribbonbar spec check)" if len(errors) > 1 else ""
        raise SpecError(f"{errors[0]}{more}")
    return specification


def check(paths: Sequence[Path]) -> tuple[Fault, ...]:
    """All faults of the files, and of what they say about each other, in the order of files and lines."""
    return _read(paths)[1]


def files_of(paths: Sequence[Path]) -> list[Path]:
    """The files that ``read_specification`` would read, each once; paths that hold none are left out."""
    return _files(paths)[0]


def _read(paths: Sequence[Path]) -> tuple[Specification, tuple[Fault, ...]]:
    files, missing = _files(paths)
    documents = [Document(path) for path in files]
    usable = [document for document in documents if document.usable]
    draft = Draft(whole=len(usable) == len(documents) and not missing)
    owned = _authorities(usable, draft)
    tops = [(Table(document, (), document.data, ""), authority) for document, authority in owned]
    for top, authority in tops:
        _read_sources(top, authority, draft)
    for top, authority in tops:
        _read_colours(top, authority, draft)
    award_tables = [found for top, authority in tops for found in _read_awards(top, authority, draft)]
    names = AwardNames(draft)
    for top, authority in tops:
        _read_orders(top, authority, draft, names)
    rule_tables = [found for top, authority in tops for found in _read_rules(top, authority, draft)]
    _check_rules_agree(rule_tables)
    _check_every_award_has_a_group(award_tables, draft)
    for top, _ in tops:
        top.take("authority", dict)
        top.finish()
    specification = Specification(
        authorities=draft.authorities,
        sources=draft.sources,
        colours=draft.colours,
        awards=draft.awards,
        orders=draft.orders,
        rules=tuple(draft.rules),
        editions=tuple(document.edition for document in usable),
    )
    faults = (fault for document in documents for fault in sorted(document.faults, key=lambda fault: fault.line))
    return specification, (*missing, *faults)


def _files(paths: Sequence[Path]) -> tuple[list[Path], list[Fault]]:
    """The files to read, each once, and what is wrong with the paths themselves."""
    found: dict[Path, Path] = {}
    faults = []
    for path in paths:
        name = "".join(c if c.isprintable() else "?" for c in str(path))
        try:
            exists, inside = path.exists(), _inside(path) if path.is_dir() else [path]
            if not exists:
                faults.append(Fault(name, "", 0, "does not exist", "give a specification file or a folder of them"))
            elif not inside:
                faults.append(Fault(name, "", 0, "holds no specification file", "give a folder with *.toml files"))
            else:
                found.update({file.resolve(): file for file in inside if file.resolve() not in found})
        except (OSError, ValueError, RuntimeError) as error:  # a NUL in the name; a ring of links
            reason = getattr(error, "strerror", None) or "no such file can exist"
            faults.append(Fault(name, "", 0, f"cannot be read ({reason})", "give a file that can be read"))
    return list(found.values()), faults


def _inside(folder: Path) -> list[Path]:
    """The specification files of a folder; hidden ones are some other program's."""
    return sorted(file for file in folder.glob("*.toml") if not file.name.startswith("."))


def _authorities(documents: list[Document], draft: Draft) -> list[tuple[Document, str]]:
    """Each document with its authority's id; several files of one authority must agree about it."""
    given: dict[str, dict[str, Any]] = {}
    owned, tables = [], {}
    for document in documents:
        top = Table(document, (), document.data, "")
        table = top.table("authority", "authority")
        if table is None:
            if "authority" not in top:
                top.fault((), "has no [authority] table", "add [authority] with id and title")
            draft.whole = False  # its awards are left out: do not call them unknown as well
            continue
        own = table.ident()
        title = table.text("title")
        values: dict[str, Any] = {"title": title} if title else {}
        for key, (low, high) in SIZES.items():
            size = table.number(key, low, high, 0.0)
            if size:
                values[key] = size
        table.finish()
        if not own:
            draft.whole = False
            continue
        agreed = given.setdefault(own, {})
        for key, value in values.items():
            if agreed.setdefault(key, value) != value:
                other = f"another file of {own} says {shown(agreed[key])}"
                table.fault(key, f"{key} is {shown(value)}, but {other}", "make the files agree")
        tables.setdefault(own, table)
        owned.append((document, own))
    for own, agreed in given.items():
        if "title" not in agreed and "title" not in tables[own]:
            tables[own].fault((), "has no title", "add title = …: the authority's name")
        draft.authorities[own] = Authority(own, **{"title": "", **agreed})
    return owned


def _first_time(table: Table, draft: Draft, sort: str, key: str) -> bool:
    """True when nothing of this sort has had this key before; else a fault that says where it was."""
    earlier = draft.first.setdefault((sort, key), table)
    if earlier is table:
        return True
    where = f"{earlier.document.name}:{earlier.document.lines[earlier.path]}"
    table.fault("id", f"repeats the id {shown(table.data['id'])}, first given at {where}", "give it another id")
    return False


def _read_sources(top: Table, authority: str, draft: Draft) -> None:
    for table in top.tables("source", "source "):
        own = table.ident()
        key = f"{authority}/{own}"
        source = read_source(table, key)
        if own and draft.sources.get(key) != source and _first_time(table, draft, "source", key):
            draft.sources[key] = source  # files of one authority may repeat a source word for word


def _read_colours(top: Table, authority: str, draft: Draft) -> None:
    colours = top.table("colours", "colours")
    for name in colours.data if colours else ():
        table = colours.table(name, f"colour {shown(name)}")
        if table is None or not colours.sound_ident(name, name):
            continue
        key = f"{authority}/{name}"
        table.label = f"colour {name}"
        colour = read_colour(table, draft, authority, name)
        if draft.colours.setdefault(key, colour) != colour:
            table.fault((), "differs from the same colour in another file", "one colour has one entry")


def _read_awards(top: Table, authority: str, draft: Draft) -> list[tuple[Table, str]]:
    def read(table: Table, own: str) -> Award:
        return read_award(table, draft, draft.authorities[authority], own)

    return _read_named(top, "award", authority, draft, draft.awards, read)


def _read_orders(top: Table, authority: str, draft: Draft, names: AwardNames) -> None:
    def read(table: Table, own: str) -> OrderOfWear:
        return read_order(table, draft, names, authority, own)

    _read_named(top, "order_of_wear", authority, draft, draft.orders, read)


def _read_named(
    top: Table,
    header: str,
    authority: str,
    draft: Draft,
    into: dict[str, Any],
    read: Callable[[Table, str], Any],
) -> list[tuple[Table, str]]:
    found = []
    sort = header.replace("_", " ")
    for table in top.tables(header, f"{sort} "):
        own = table.ident()
        value = read(table, own)
        key = f"{authority}/{own}"
        if own and _first_time(table, draft, sort, key):
            into[key] = value
            found.append((table, key))
    return found


def _read_rules(top: Table, authority: str, draft: Draft) -> list[tuple[Table, Rule]]:
    found = [(table, read_rule(table, draft, authority)) for table in top.tables("rule", "rule ")]
    draft.rules += [rule for _, rule in found]
    return found


def _check_rules_agree(found: list[tuple[Table, Rule]]) -> None:
    """``listed-within`` rules of one order must not run in a ring."""
    rules = [rule for _, rule in found]
    if not contradiction(rules):
        return
    scopes: list[str] = sorted({order for rule in rules for order in rule.orders})[:50]
    for scope in ["", *scopes]:
        inside = [(table, rule) for table, rule in found if not rule.orders or scope in rule.orders]
        ring = contradiction([rule for _, rule in inside])
        if ring:
            table = next(
                t for t, rule in reversed(inside) if rule.kind == "listed-within" and set(ring) & set(rule.awards)
            )
            what = f"closes a ring: {' before '.join(ring)}"
            table.fault("awards", what, "take one of the listed-within rules apart")
            return


def _check_every_award_has_a_group(found: list[tuple[Table, str]], draft: Draft) -> None:
    """Of an authority that publishes an order: an award that stands in no order would never be placed."""
    placed = {award for order in draft.orders.values() for group in order.groups for award in group.awards}
    with_order = {key.split("/")[0] for key in draft.orders}
    for table, key in found:
        if key not in placed and key.split("/")[0] in with_order and not draft.awards[key].worn_elsewhere:
            mend = "add it to a group, or say where it is worn with worn_elsewhere = …"
            table.fault((), "stands in no group of any order of wear", mend, warning=True)
