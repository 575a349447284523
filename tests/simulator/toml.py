"""Writing a specification as ``ribbon-spec/1`` TOML, so that invented catalogues can serve the command line."""

from ribbonbar.spec.model import Award, Interval, OrderOfWear, Ribbon, Specification, Stripe


def text(value: str) -> str:
    """A TOML basic string."""
    escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def write(specification: Specification) -> str:
    """The TOML of a specification with exactly one authority."""
    (authority,) = specification.authorities.values()
    lines = [
        'format = "ribbon-spec/1"\n',
        "[authority]",
        f"id = {text(authority.id)}",
        f"title = {text(authority.title)}",
        f"ribbon_width_mm = {authority.ribbon_width_mm}",
        f"ribbon_height_mm = {authority.ribbon_height_mm}\n",
    ]
    for source in specification.sources.values():
        lines += ["[[source]]", f"id = {text(_local(source.key))}", f"title = {text(source.title)}", ""]
    lines.append("[colours]")
    for colour in specification.colours.values():
        numbers = ", ".join(f"{v:.2f}" for v in colour.lab)
        certainty = f'certainty = "{colour.certainty}"{_source(colour.source)}'
        lines.append(f"{colour.name} = {{ lab = [{numbers}], {certainty} }}")
    for award in specification.awards.values():
        lines += _award(award, authority.ribbon_width_mm)
    for order in specification.orders.values():
        lines += _order(order)
    return "\n".join(lines) + "\n"


def _local(key: str) -> str:
    return key.rpartition("/")[2]


def _source(key: str) -> str:
    return f", source = {text(_local(key))}" if key else ""


def _interval(interval: Interval) -> str:
    ends = (("from", interval.start), ("to", interval.end))
    return "{ " + ", ".join(f"{name} = {day.isoformat()}" for name, day in ends if day) + " }"


def _stripe(stripe: Stripe) -> str:
    name = stripe.start.name if stripe.start == stripe.end else f"{stripe.start.name}>{stripe.end.name}"
    return f"[{text(name)}, {stripe.width:g}]"


def _pattern(ribbon: Ribbon) -> str:
    if ribbon.shape == "unmatched":
        return f"unmatched = {text(ribbon.unmatched)}"
    stripes = "[" + ", ".join(_stripe(s) for s in ribbon.stripes) + "]"
    if ribbon.shape == "diagonal":
        return f"diagonal = {{ stripes = {stripes}, angle = {ribbon.angle:g} }}"
    return f"{ribbon.shape} = {stripes}"


def _award(award: Award, usual_width: float) -> list[str]:
    lines = ["", "[[award]]", f"id = {text(_local(award.key))}", f"name = {text(award.name)}"]
    if award.earned != Interval():
        lines.append(f"earned = {_interval(award.earned)}")
    if award.emblems:
        each = (f'{{ kind = "{e.kind}", metal = "{e.metal}", meaning = {text(e.meaning)} }}' for e in award.emblems)
        lines.append(f"emblems = [ {', '.join(each)} ]")
    for ribbon in award.ribbons:
        lines += ["", "  [[award.ribbon]]", f"  id = {text(ribbon.id)}", f"  {_pattern(ribbon)}"]
        if ribbon.frame:
            lines.append(f"  frame = {text(ribbon.frame.name)}")
        if ribbon.width_mm != usual_width:
            lines.append(f"  width_mm = {ribbon.width_mm}")
        lines.append(f'  certainty = "{ribbon.certainty}"')
        if ribbon.source:
            lines.append(f"  source = {text(_local(ribbon.source))}")
    return lines


def _order(order: OrderOfWear) -> list[str]:
    lines = [
        "",
        "[[order_of_wear]]",
        f"id = {text(_local(order.key))}",
        f"title = {text(order.title)}",
        f"ribbons_per_row = {order.ribbons_per_row}",
        f'short_row = "{order.short_row}"',
    ]
    if order.source:
        lines.append(f"source = {text(_local(order.source))}")
    for group in order.groups:
        keys = ", ".join(text(_local(key)) for key in group.awards)
        lines += ["", "  [[order_of_wear.group]]", f"  id = {text(group.id)}", f"  title = {text(group.title)}"]
        lines += [f'  sequence = "{group.sequence}"', f"  awards = [{keys}]"]
    return lines
