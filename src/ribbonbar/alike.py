"""``ribbonbar spec lookalikes``: which ribbons of a specification are alike, in words and as JSON."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ribbonbar.errors import OptionError
from ribbonbar.precedence.names import Names
from ribbonbar.reading.lookalikes import GOOD_PHOTO, hardly_told_apart, same_cloth
from ribbonbar.reading.templates import Pattern, bank_of
from ribbonbar.report.describe import differences, in_words
from ribbonbar.report.text import counted, listed
from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import read_specification

FORMAT = "ribbon-lookalikes/1"
TURNED = ("the same ribbon", "the same, back to front")
SAME_EYE = ("to the eye the same",) * 2


@dataclass(frozen=True)
class AlikePair:
    """Two patterns that a good photograph hardly tells apart, and the same feature as it is on each.

    ``turned``: they are alike when one of them is back to front. ``behind``: see ``reading.lookalikes.Pair``.
    """

    first: Pattern
    second: Pattern
    turned: bool
    behind: float
    differences: tuple[str, str]


@dataclass(frozen=True)
class Alike:
    """``same``: patterns that several awards have, the commonest first; ``pairs``: the hardest first."""

    specification: Specification
    same: tuple[Pattern, ...]
    pairs: tuple[AlikePair, ...]


def alike(paths: Sequence[Path], order: str = "") -> Alike:
    """What is alike among all ribbons of the files, or among those of one order of wear (key, id or title).

    Raises SpecError for a file with faults, OptionError for an unknown order or when no ribbon can be matched.
    """
    specification = read_specification(paths)
    bank = bank_of(specification)
    wanted = set(specification.awards)
    if order:
        wanted = {award for group in Names(specification).order(order).groups for award in group.awards}
    patterns = [_only(pattern, wanted) for pattern in bank.patterns]
    if not any(pattern.names for pattern in patterns):
        raise OptionError("no ribbon here can be matched; give files, or an order of wear, that have some")
    pairs = []
    for pair in hardly_told_apart(bank):
        first, second = patterns[pair.first], patterns[pair.second]
        if set(_awards(first)) == set(_awards(second)) or not (first.names and second.names):
            continue
        told = differences(first.ribbon, second.ribbon, False, pair.turned)
        what = told or (TURNED if pair.turned else SAME_EYE)
        pairs.append(AlikePair(first, second, pair.turned, pair.behind, what))
    same = [patterns[number] for number in same_cloth(bank)]
    return Alike(specification, tuple(pattern for pattern in same if len(_awards(pattern)) > 1), tuple(pairs))


def _only(pattern: Pattern, wanted: set[str]) -> Pattern:
    return replace(pattern, names=tuple(name for name in pattern.names if name[0] in wanted))


def as_text(found: Alike) -> str:
    """The groups that are the same by specification, the pairs with what differs, and how many of each there are."""
    lines = []
    for pattern in found.same:
        lines.append(f"the same ribbon for {counted(len(_awards(pattern)), 'award')} ({in_words(pattern.ribbon)}):")
        lines += [f"  {_label(found.specification, award, pattern)}" for award in _awards(pattern)]
    for pair in found.pairs:
        lines.append("hardly told apart, one of them back to front:" if pair.turned else "hardly told apart:")
        for pattern, feature in zip((pair.first, pair.second), pair.differences, strict=True):
            names = listed([_label(found.specification, award, pattern) for award in _awards(pattern)], "or")
            lines.append(f"  {feature}: {names}")
    lines.append(
        f"{counted(len(found.same), 'ribbon')} of more than one award, "
        f"{counted(len(found.pairs), 'pair')} that a good photograph hardly tells apart"
    )
    return "\n".join(lines) + "\n"


def as_json(found: Alike) -> str:
    """The same as JSON text in plain ASCII."""
    value = {
        "format": FORMAT,
        "photo_pixels_per_mm": GOOD_PHOTO,
        "same": [_ribbons(pattern) for pattern in found.same],
        "pairs": [
            {
                "first": _ribbons(pair.first),
                "second": _ribbons(pair.second),
                "back_to_front": pair.turned,
                "log_evidence_behind": round(pair.behind, 2),
                "differences": list(pair.differences),
            }
            for pair in found.pairs
        ],
        "editions": list(found.specification.editions),
    }
    return json.dumps(value, indent=1, allow_nan=False) + "\n"


def _awards(pattern: Pattern) -> list[str]:
    return list(dict.fromkeys(award for award, _ in pattern.names))


def _label(specification: Specification, key: str, pattern: Pattern) -> str:
    """``Harbour Star (calder/harbour-star)``; with the ribbon where the award has several."""
    award = specification.awards[key]
    own = [ribbon for name, ribbon in pattern.names if name == key]
    which = f", ribbon {listed(own)}" if len(award.ribbons) > 1 else ""
    return f"{award.name} ({key}{which})"


def _ribbons(pattern: Pattern) -> list[dict[str, Any]]:
    return [{"award": award, "ribbon": ribbon} for award, ribbon in pattern.names]
