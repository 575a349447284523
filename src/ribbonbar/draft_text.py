"""The draft of an award's ribbon as text: tables for a specification file, and a line a ribbon for a person."""

import json

from ribbonbar.drafting import DraftedRibbon, Drafts, Dye
from ribbonbar.report.text import counted, safe_text


def as_award(drafts: Drafts) -> str:
    """The drafts as tables to paste into a specification file: source, colours and awards, each to be named."""
    return "\n".join([*_source_lines(drafts), "", *_colour_lines(drafts, "[colours.{}]\n"), *_award_lines(drafts)])


def as_file(drafts: Drafts) -> str:
    """The drafts as a whole specification file (``ribbon-spec/1``) of an authority ``draft``."""
    head = ['format = "ribbon-spec/1"', "", "[authority]", 'id = "draft"', 'title = "Draft from a photograph"', ""]
    return "\n".join([*head, as_award(drafts)])


def _source_lines(drafts: Drafts) -> list[str]:
    photo = json.dumps(f"Measured on the photograph {safe_text(drafts.photo)}", ensure_ascii=False)
    return ["[[source]]", 'id = "photograph"', f"title = {photo}"]


def _colour_lines(drafts: Drafts, header: str) -> list[str]:
    lines = [
        "# CIE L*a*b* (D65), +- one standard deviation of measuring and light; this piece's dye lot and fading are in",
        "# the colour as well, and the photograph cannot tell them apart from the dye as published.",
    ]
    for ribbon, name, dye in _named(drafts):
        lab, spread = ([f"{v:.1f}" for v in values] for values in (dye.lab, dye.spread))
        lines += [
            f"{header.format(name)}lab = [{', '.join(lab)}]  # +- {', '.join(spread)}; at {ribbon.position}",
            'certainty = "derived"',
            'source = "photograph"',
            "",
        ]
    return lines


def _named(drafts: Drafts) -> list[tuple[DraftedRibbon, str, Dye]]:
    every = [(ribbon, dye) for ribbon in drafts.ribbons for dye in ribbon.dyes]
    return [(ribbon, f"colour-{number}", dye) for number, (ribbon, dye) in enumerate(every, 1)]


def _award_lines(drafts: Drafts) -> list[str]:
    lines = []
    for ribbon in drafts.ribbons:
        names = [name for owner, name, _ in _named(drafts) if owner is ribbon]
        own = ribbon.position.replace("/", "-").replace(".", "-")
        stripes = ", ".join(
            f'["{names[a]}{"" if a == b else ">" + names[b]}", {width:g}]' for a, b, width in ribbon.stripes
        )
        lines += [
            "[[award]]  # a draft: give it its id and name, then compare every stripe with the ribbon or its source",
            f'id = "unknown-{own}"',
            f'name = "Unknown ribbon at {ribbon.position}"',
            "",
            "  [[award.ribbon]]",
            '  id = "standard"',
            *(f"  # {note}" for note in ribbon.notes),
            f"  # edges of stripes +- {ribbon.edge_spread_mm:.1f} mm",
            f"  width_mm = {ribbon.width_mm:.1f}",
            f"  stripes = [{stripes}]",
            '  certainty = "derived"',
            '  source = "photograph"',
            "",
        ]
    return lines


def summary(drafts: Drafts) -> list[str]:
    """One line for each position: what was measured, or why nothing was."""
    lines = [
        f"{ribbon.position}: {counted(len(ribbon.stripes), 'stripe')} on {ribbon.width_mm:g} mm; "
        + "; ".join(ribbon.notes)
        for ribbon in drafts.ribbons
    ]
    return [*lines, *(f"{position}: no draft: {why}" for position, why in drafts.refused)]
