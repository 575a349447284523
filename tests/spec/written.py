"""Writes a specification as TOML: the inverse of the reader, for round trips; and makes specifications to write."""

import json
from datetime import date

from hypothesis import strategies as st

from ribbonbar.spec.faults import unsafe_character
from ribbonbar.spec.model import (
    Authority,
    Award,
    Colour,
    Emblem,
    Group,
    Interval,
    OrderOfWear,
    Ribbon,
    Rule,
    Source,
    Specification,
    Stripe,
)


def toml_of(specification: Specification) -> str:
    """One file, of the only authority of the specification."""
    (authority,) = specification.authorities.values()
    lines = ['format = "ribbon-spec/1"', "[authority]", f'id = "{authority.id}"']
    lines += [f"title = {_text(authority.title)}", f"ribbon_width_mm = {authority.ribbon_width_mm!r}"]
    lines += [f"ribbon_height_mm = {authority.ribbon_height_mm!r}"]
    for source in specification.sources.values():
        lines += ["[[source]]", f"id = {_own(source.key)}", f"title = {_text(source.title)}"]
        lines += [f"url = {_text(source.url)}"] if source.url else []
    lines.append("[colours]")
    for colour in specification.colours.values():
        facts = [f"lab = {list(colour.lab)!r}", f'certainty = "{colour.certainty}"']
        facts += [f"source = {_own(colour.source)}"] if colour.source else []
        facts += [f"code = {_text(colour.code)}"] if colour.code else []
        lines.append(f"{colour.name} = {{ {', '.join(facts)} }}")
    lines += [line for award in specification.awards.values() for line in _award(award)]
    lines += [line for order in specification.orders.values() for line in _order(order)]
    lines += [line for rule in specification.rules for line in _rule(rule)]
    return "\n".join(lines) + "\n"


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _own(key: str) -> str:
    return f'"{key.split("/")[1]}"'


def _days(key: str, days: Interval, more: tuple[str, ...] = ()) -> list[str]:
    given = [f"from = {days.start}"] if days.start else []
    given += [f"to = {days.end}"] if days.end else []
    return [f"{key} = {{ {', '.join([*given, *more])} }}"] if given else []


def _cited(source: str) -> list[str]:
    return [f"source = {_own(source)}"] if source else []


def _award(award: Award) -> list[str]:
    lines = ["[[award]]", f"id = {_own(award.key)}", f"name = {_text(award.name)}"]
    lines += [f"abbreviation = {_text(award.abbreviation)}"] if award.abbreviation else []
    certainty = (f'certainty = "{award.earned_certainty}"', *_cited(award.earned_source))
    lines += _days("earned", award.earned, certainty)
    lines += [f"worn_elsewhere = {_text(award.worn_elsewhere)}"] if award.worn_elsewhere else []
    lines += [f"note = {_text(award.note)}"] if award.note else []
    for emblem in award.emblems:
        lines += ["[[award.emblems]]", f"kind = {_text(emblem.kind)}"]
        lines += [f"metal = {_text(emblem.metal)}"] if emblem.metal else []
        lines += [f"meaning = {_text(emblem.meaning)}"] if emblem.meaning else []
    for ribbon in award.ribbons:
        lines += ["[[award.ribbon]]", f'id = "{ribbon.id}"', f"width_mm = {ribbon.width_mm!r}", _pattern(ribbon)]
        lines += [f'certainty = "{ribbon.certainty}"', *_cited(ribbon.source), *_days("worn", ribbon.worn)]
        lines += [f"division = {_text(ribbon.division)}"] if ribbon.division else []
        lines += [f'frame = "{ribbon.frame.name}"'] if ribbon.frame else []
    return lines


def _pattern(ribbon: Ribbon) -> str:
    if ribbon.shape == "unmatched":
        return f"unmatched = {_text(ribbon.unmatched)}"
    stripes = ", ".join(
        f'["{s.start.name if s.start == s.end else f"{s.start.name}>{s.end.name}"}", {s.width!r}]'
        for s in ribbon.stripes
    )
    if ribbon.shape == "diagonal":
        return f"diagonal = {{ stripes = [{stripes}], angle = {ribbon.angle!r} }}"
    return f"{ribbon.shape} = [{stripes}]"


def _order(order: OrderOfWear) -> list[str]:
    lines = ["[[order_of_wear]]", f"id = {_own(order.key)}", f"title = {_text(order.title)}", *_cited(order.source)]
    lines += [f"ribbons_per_row = {order.ribbons_per_row}", f"rows_allowed = {list(order.rows_allowed)}"]
    lines += [f'short_row = "{order.short_row}"', f'short_row_align = "{order.short_row_align}"']
    lines += [f"second_ribbon = {str(order.second_ribbon).lower()}", *_days("in_force", order.in_force)]
    for group in order.groups:
        lines += ["[[order_of_wear.group]]", f'id = "{group.id}"', f"title = {_text(group.title)}"]
        lines += [f'sequence = "{group.sequence}"', f"awards = [{', '.join(map(_own, group.awards))}]"]
        lines += _cited(group.source)
    return lines


def _rule(rule: Rule) -> list[str]:
    lines = ["[[rule]]", f'kind = "{rule.kind}"', f"awards = [{', '.join(map(_own, rule.awards))}]"]
    lines += [f"because = {_text(rule.because)}", *_cited(rule.source)]
    return [*lines, f"orders = [{', '.join(map(_own, rule.orders))}]"]


ids = st.lists(st.text("abz09", min_size=1, max_size=3), min_size=1, max_size=3).map("-".join)
_letters = st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]).filter(lambda c: not unsafe_character(c))
texts = st.text(_letters, min_size=1, max_size=8).filter(str.strip)
days = st.dates(date(1800, 1, 1), date(2100, 1, 1))


@st.composite
def intervals(draw: st.DrawFn) -> Interval:
    start, end = sorted([draw(days), draw(days)])
    return draw(st.sampled_from([Interval(), Interval(start), Interval(None, end), Interval(start, end)]))


@st.composite
def specifications(draw: st.DrawFn) -> Specification:
    """A sound specification of one authority, without the files' editions."""
    width, height = draw(st.floats(5, 150)), draw(st.floats(3, 60))
    authority = Authority(draw(ids), draw(texts), width, height)

    def key(own: str) -> str:
        return f"{authority.id}/{own}"

    urls = st.sampled_from(["", "https://example.org/a?b=1&c=%20"])
    own_ids = st.lists(ids, min_size=1, max_size=3, unique=True)
    sources = [Source(key(own), draw(texts), draw(urls)) for own in draw(own_ids)]
    cited = st.sampled_from([source.key for source in sources])
    certainties = st.sampled_from(["stated", "derived", "memory"])
    lab = st.tuples(st.floats(0, 100), st.floats(-128, 128), st.floats(-128, 128))
    colours = [
        Colour(own, draw(lab), draw(certainties), draw(cited), draw(st.one_of(st.just(""), texts)))
        for own in draw(own_ids)
    ]
    colour = st.sampled_from(colours)
    stripe = st.builds(Stripe, colour, colour, st.floats(0.5, 100))

    @st.composite
    def ribbons(draw: st.DrawFn, own: str) -> Ribbon:
        shape = draw(st.sampled_from(["stripes", "diagonal", "bands", "unmatched"]))
        return Ribbon(
            id=own,
            shape=shape,
            stripes=() if shape == "unmatched" else tuple(draw(st.lists(stripe, min_size=1, max_size=4))),
            width_mm=draw(st.floats(5, 150)),
            height_mm=height,
            angle=draw(st.floats(1, 89)) * draw(st.sampled_from([1, -1])) if shape == "diagonal" else 0.0,
            unmatched=draw(texts) if shape == "unmatched" else "",
            frame=draw(st.one_of(st.none(), colour)),
            worn=draw(intervals()),
            division=draw(st.one_of(st.just(""), texts)),
            certainty=draw(certainties),
            source=draw(cited),
        )

    def award(own: str) -> Award:
        earned = draw(intervals())
        dated = earned != Interval()
        return Award(
            key=key(own),
            name=draw(texts),
            abbreviation=draw(st.one_of(st.just(""), texts)),
            earned=earned,
            emblems=tuple(draw(st.lists(st.builds(Emblem, texts, texts, texts), max_size=2))),
            ribbons=tuple(draw(ribbons(r)) for r in draw(st.lists(ids, min_size=1, max_size=2, unique=True))),
            worn_elsewhere=draw(st.one_of(st.just(""), texts)),
            note=draw(st.one_of(st.just(""), texts)),
            earned_certainty=draw(certainties) if dated else "memory",
            earned_source=draw(cited) if dated else "",
        )

    awards = [award(own) for own in draw(st.lists(ids, min_size=2, max_size=4, unique=True))]
    keys = [one.key for one in awards]
    cut = draw(st.integers(1, len(keys) - 1))
    shuffled = draw(st.permutations(keys))
    groups = tuple(
        Group(own, draw(texts), draw(st.sampled_from(["listed", "by-date", "by-award-date"])), tuple(part), draw(cited))
        for own, part in zip(
            draw(st.lists(ids, min_size=2, max_size=2, unique=True)), (shuffled[:cut], shuffled[cut:]), strict=True
        )
    )
    per_row = st.integers(1, 12)
    order = OrderOfWear(
        key(draw(ids)),
        draw(texts),
        groups,
        draw(per_row),
        tuple(draw(st.lists(per_row, max_size=3))),
        draw(st.sampled_from(["top", "bottom"])),
        draw(st.sampled_from(["centre", "senior", "either"])),
        draw(st.booleans()),
        draw(intervals()),
        draw(cited),
    )
    rules = tuple(
        Rule(
            kind,
            tuple(draw(st.permutations(keys))[:2]),
            draw(texts),
            draw(cited),
            draw(st.sampled_from([(), (order.key,)])),
        )
        for kind in draw(st.lists(st.sampled_from(["not-together", "needs"]), max_size=2))
    )
    return Specification(
        {authority.id: authority},
        {source.key: source for source in sources},
        {key(one.name): one for one in colours},
        {one.key: one for one in awards},
        {order.key: order},
        rules,
    )
