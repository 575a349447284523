"""From the tables of specification files to the model's values. Faults go to the table's document."""

import re
from dataclasses import dataclass, field
from typing import Any

from ribbonbar.spec.colour import lab_from_hex
from ribbonbar.spec.faults import shown
from ribbonbar.spec.lines import TomlPath
from ribbonbar.spec.model import (
    Authority,
    Award,
    Certainty,
    Colour,
    Emblem,
    Interval,
    OrderOfWear,
    Ribbon,
    Rule,
    Source,
    Stripe,
)
from ribbonbar.spec.table import KEBAB, LONGEST_ID, Table, is_number

CERTAINTIES = ("stated", "derived", "memory")
SHAPES = ("stripes", "diagonal", "bands", "unmatched")
MOST_STRIPES = 200
NARROWEST_PART = 1 / 1000
_HEX = re.compile(r"#[0-9a-fA-F]{6}")
_URL = re.compile(r"https?://[^\s\"'<>\\^`{}|]+")


@dataclass
class Draft:
    """What has been read so far from all the files; the mappings are keyed by full key."""

    authorities: dict[str, Authority] = field(default_factory=dict)
    sources: dict[str, Source] = field(default_factory=dict)
    colours: dict[str, Colour] = field(default_factory=dict)
    awards: dict[str, Award] = field(default_factory=dict)
    orders: dict[str, OrderOfWear] = field(default_factory=dict)
    rules: list[Rule] = field(default_factory=list)
    whole: bool = True
    """False when a file could not be opened: a name that is not found may then be in that one."""
    first: dict[tuple[str, str], Table] = field(default_factory=dict)
    """The table that first defined each (sort, key)."""


def full_key(name: str, authority: str) -> str:
    """``authority/id`` from a name that may already be one."""
    return name if "/" in name else f"{authority}/{name}"


def sound_name(table: Table, path: TomlPath, name: str) -> bool:
    """True when a name is ``id`` or ``authority/id``; else a fault."""
    parts = name.split("/")
    if len(parts) <= 2 and all(KEBAB.fullmatch(part) and len(part) <= LONGEST_ID for part in parts):
        return True
    table.fault(path, f"{shown(name)} is no name", "write an id, or authority/id for one from another file")
    return False


def read_source(table: Table, key: str) -> Source:
    title, url = table.text("title", required=True, longest=500), table.text("url", longest=500)
    if url and not _URL.fullmatch(url):
        table.fault("url", f"{shown(url)} is no web address", "it begins with https:// or http:// and has no spaces")
        url = ""
    table.finish()
    return Source(key, title, url)


def cited(table: Table, draft: Draft, authority: str, certainty: str = "") -> str:
    """The key of the source that a table names; empty when it names none. A stated fact must name one."""
    name = table.text("source")
    if not name:
        if certainty == "stated" and "source" not in table:
            table.fault("certainty", "is stated but names no source", "add source = …, or mark it derived or memory")
        return ""
    if not sound_name(table, ("source",), name):
        return ""
    key = full_key(name, authority)
    if key not in draft.sources and draft.whole:
        known = [k.removeprefix(f"{authority}/") for k in draft.sources]
        table.fault("source", f"names the unknown source {shown(name)}", table.document.guess(name, known))
    return key


def read_days(table: Table, key: str, draft: Draft, authority: str) -> tuple[Interval, Certainty, str]:
    """Days written ``key = { from = 1951-03-01, to = 1954-10-31, certainty = "stated", source = "id" }``.

    Gives the days, how certain they are and the key of their source.
    """
    days = table.table(key)
    if days is None:
        return Interval(), "memory", ""
    certainty = days.choice("certainty", CERTAINTIES, default="memory")
    found = days.days(), certainty, cited(days, draft, authority, certainty)
    days.finish()
    return found


def read_colour(table: Table, draft: Draft, authority: str, name: str) -> Colour:
    certainty = table.choice("certainty", CERTAINTIES)
    lab = _lab(table)
    source, code = cited(table, draft, authority, certainty), table.text("code")
    table.finish()
    return Colour(name, lab, certainty or "memory", source, code)


def _lab(table: Table) -> tuple[float, float, float]:
    srgb, lab = table.take("srgb", str), table.take("lab", list)
    if ("srgb" in table) == ("lab" in table):
        table.fault((), "needs either srgb or lab", 'give srgb = "#rrggbb" or lab = [L, a, b]')
    elif srgb is not None and _HEX.fullmatch(srgb):
        return lab_from_hex(srgb)
    elif srgb is not None:
        table.fault("srgb", f"srgb is {shown(srgb)}", 'write it as "#rrggbb", six hexadecimal digits')
    elif lab is not None and not (len(lab) == 3 and all(is_number(value) for value in lab)):
        table.fault("lab", "lab is not three numbers", "write it as [L, a, b]")
    elif lab is not None and not (0 <= lab[0] <= 100 and all(-128 <= value <= 128 for value in lab[1:])):
        table.fault("lab", "lab is out of range", "L lies between 0 and 100, a and b between -128 and 128")
    elif lab is not None:
        return float(lab[0]), float(lab[1]), float(lab[2])
    return 50.0, 0.0, 0.0


def read_award(table: Table, draft: Draft, authority: Authority, own: str) -> Award:
    emblems = tuple(_emblem(one, draft, authority.id) for one in table.tables("emblems", f"award {own} emblem "))
    earned, certainty, source = read_days(table, "earned", draft, authority.id)
    award = Award(
        key=f"{authority.id}/{own}",
        name=table.text("name", required=True),
        abbreviation=table.text("abbreviation", longest=40),
        earned=earned,
        earned_certainty=certainty,
        earned_source=source,
        emblems=emblems,
        ribbons=tuple(_ribbons(table, draft, authority, own)),
        worn_elsewhere=table.text("worn_elsewhere"),
        note=table.text("note", longest=1000),
    )
    if not table.data.get("ribbon") and "worn_elsewhere" not in table:
        table.fault((), "has no ribbon", 'add [[award.ribbon]]; where its pattern is unknown, with unmatched = "why"')
    table.finish()
    return award


def _emblem(table: Table, draft: Draft, authority: str) -> Emblem:
    kind, metal = table.text("kind", required=True, longest=60), table.text("metal", longest=60)
    emblem = Emblem(kind, metal, table.text("meaning"))
    cited(table, draft, authority, table.choice("certainty", CERTAINTIES, default="memory"))
    table.finish()
    return emblem


def _ribbons(award: Table, draft: Draft, authority: Authority, own: str) -> list[Ribbon]:
    ribbons: dict[str, Ribbon] = {}
    for place, table in enumerate(award.tables("ribbon", f"ribbon {own}/")):
        name = table.ident()
        if name in ribbons:
            table.fault("id", f"repeats the id {shown(name)}", "give each ribbon of an award its own id")
        ribbon = _ribbon(table, draft, authority, name)
        ribbons[name or f"#{place}"] = ribbon
    return list(ribbons.values())


def _ribbon(table: Table, draft: Draft, authority: Authority, name: str) -> Ribbon:
    given = [shape for shape in SHAPES if shape in table]
    if len(given) != 1:
        what = "gives no pattern" if not given else f"gives {' and '.join(given)}"
        table.fault((), what, f"give exactly one of {', '.join(SHAPES)}")
    shape = given[0] if given else "unmatched"
    certainty = table.choice("certainty", CERTAINTIES, default="memory" if shape == "unmatched" else "")
    stripes, angle = _pattern(table, draft, authority.id, shape)
    frame = table.text("frame")
    ribbon = Ribbon(
        id=name,
        shape=shape,
        stripes=stripes,
        width_mm=table.number("width_mm", 5, 150, authority.ribbon_width_mm),
        height_mm=authority.ribbon_height_mm,
        angle=angle,
        unmatched=table.text("unmatched", longest=500),
        frame=_colour(table, draft, authority.id, ("frame",), frame) if frame else None,
        worn=read_days(table, "worn", draft, authority.id)[0],
        division=table.text("division", longest=100),
        certainty=certainty or "memory",
        source=cited(table, draft, authority.id, certainty),
    )
    table.finish()
    return ribbon


def _pattern(table: Table, draft: Draft, authority: str, shape: str) -> tuple[tuple[Stripe, ...], float]:
    stripes = table.take("stripes", list)
    bands = table.take("bands", list)
    diagonal = table.table("diagonal")
    if shape == "stripes" and stripes is not None:
        return _stripes(table, draft, authority, ("stripes",), stripes), 0.0
    if shape == "bands" and bands is not None:
        return _stripes(table, draft, authority, ("bands",), bands), 0.0
    if shape == "diagonal" and diagonal is not None:
        pattern = diagonal.take("stripes", list, required=True)
        if "angle" not in diagonal:
            diagonal.fault((), "has no angle", "add angle = …, in degrees counter-clockwise from horizontal")
        angle = diagonal.number("angle", -180, 180, 45)
        if angle % 90 == 0:
            diagonal.fault(
                "angle", f"angle {angle:g} is not diagonal", "use stripes (upright) or bands (level) instead"
            )
        diagonal.finish()
        slope = angle - 180 if angle > 90 else angle + 180 if angle < -90 else angle  # 135 degrees are -45
        return _stripes(diagonal, draft, authority, ("stripes",), pattern or []), slope
    return (), 0.0


def _stripes(table: Table, draft: Draft, authority: str, path: TomlPath, items: list[Any]) -> tuple[Stripe, ...]:
    """Stripes from ``[["navy", 10], ["red>white", 8]]``."""
    if not items and table.data.get(path[0]) == []:
        table.fault(path, f"{path[0]} is empty", "list at least one stripe")
    if len(items) > MOST_STRIPES:
        table.fault(path, f"lists {len(items)} stripes", f"at most {MOST_STRIPES} can be woven")
        return ()
    stripes = []
    for place, item in enumerate(items):
        if not (isinstance(item, list) and len(item) == 2 and isinstance(item[0], str)):
            table.fault((*path, place), f"stripe {place + 1} is malformed", 'write it as ["colour", width]')
            continue
        left, shaded, right = item[0].partition(">")
        start = _colour(table, draft, authority, (*path, place), left.strip())
        end = _colour(table, draft, authority, (*path, place), right.strip()) if shaded else start
        width = table.sound_number((*path, place), f"stripe {place + 1}'s width", item[1], 1e-6, 1e6, 1.0)
        stripes.append(Stripe(start, end, width))
    total = sum(stripe.width for stripe in stripes)
    for place, stripe in enumerate(stripes):
        if stripe.width < total * NARROWEST_PART:
            what = f"stripe {place + 1} is under a thousandth of the whole, narrower than a thread"
            table.fault((*path, place), what, "mend its width")
    return tuple(stripes)


_STAND_IN = Colour("", (50.0, 0.0, 0.0), "memory")


def _colour(table: Table, draft: Draft, authority: str, path: TomlPath, name: str) -> Colour:
    colour = draft.colours.get(f"{authority}/{name}")
    if colour:
        return colour
    if draft.whole or "/" in name or not KEBAB.fullmatch(name):
        known = [c.name for key, c in draft.colours.items() if key.startswith(f"{authority}/")]
        table.fault(path, f"names the unknown colour {shown(name)}", table.document.guess(name, known))
    return _STAND_IN
