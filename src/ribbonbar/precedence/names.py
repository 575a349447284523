"""Finding an award or an order of wear by the name a person would write, and saying what a name may have meant."""

import difflib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from ribbonbar.errors import OptionError
from ribbonbar.spec.model import OrderOfWear, Specification

MOST_CHARACTERS = 200
"""No award's name is longer; a longer text is refused unread."""
_TYPOGRAPHIC = str.maketrans({"’": "'", "‘": "'", "ʼ": "'", "–": "-", "—": "-", "‐": "-", "‑": "-", "−": "-"})
_JOINERS = "\u200c\u200d"  # some scripts cannot be written without them


def harmless(value: object) -> str:
    """Any value from outside, short and without characters that would steer a terminal; texts in quotes."""
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    if isinstance(value, int) and abs(value) >= 10**12:
        return "a very large number"
    whole = str(value)
    shown = "".join("?" if is_unsafe(c) else c for c in whole[:60])
    return f"“{shown}{'…' if len(whole) > 60 else ''}”"


def is_unsafe(character: str) -> bool:
    """True for what steers a terminal, hides or is no letter at all: control characters, marks that turn the direction
    of text and other invisible ones but joiners, line separators, surrogates, private use, noncharacters."""
    code = ord(character)
    if code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF:
        return True
    return unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp") and character not in _JOINERS


def award_name(specification: Specification, key: str) -> str:
    """The award's name as published, or its key where the specification has none."""
    award = specification.awards.get(key)
    return award.name if award else key


def source_name(specification: Specification, key: str) -> str:
    """The title of a published source; the text itself where it is not the key of one; empty where there is none."""
    source = specification.sources.get(key)
    return source.title if source else key


def listed(names: Iterable[str], joint: str = "and") -> str:
    """``"A, B and C"``."""
    several = list(names)
    if len(several) < 2:
        return "".join(several)
    return f"{', '.join(several[:-1])} {joint} {several[-1]}"


@dataclass(frozen=True)
class Names:
    """Every name that a specification's awards and orders of wear answer to. Make one and ask it often."""

    specification: Specification

    def award(self, text: str, order: OrderOfWear | None = None) -> str:
        """The key of the award that ``text`` names: its key, its id, or its name or abbreviation whatever the case.

        An id, name or abbreviation that several awards share is settled only when just one of them stands in
        ``order``. Raises ``OptionError``, with what was perhaps meant, when nothing or more than one award answers.
        """
        if text in self.specification.awards:
            return text
        preferred = {award for group in order.groups for award in group.awards} if order else set()
        return _find(text, self._awards, "an award", preferred)

    def order(self, text: str) -> OrderOfWear:
        """The order of wear that ``text`` names: its key, its id, or its title whatever the case.

        Raises ``OptionError``, with what was perhaps meant, when nothing or more than one order answers.
        """
        orders = self.specification.orders
        return orders[text if text in orders else _find(text, self._orders, "an order of wear", set())]

    @cached_property
    def _awards(self) -> dict[str, list[str]]:
        awards = self.specification.awards.values()
        return _by_label((a.key, (_id(a.key), a.name, a.abbreviation)) for a in awards)

    @cached_property
    def _orders(self) -> dict[str, list[str]]:
        return _by_label((o.key, (_id(o.key), o.title)) for o in self.specification.orders.values())


def _id(key: str) -> str:
    return key.partition("/")[2]


def _by_label(items: Iterable[tuple[str, tuple[str, ...]]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for key, labels in items:
        for label in dict.fromkeys(_plain(each) for each in (key, *labels) if each):
            found.setdefault(label, []).append(key)
    return found


def _find(text: str, by_label: dict[str, list[str]], what: str, preferred: set[str]) -> str:
    if not text.strip() or len(text) > MOST_CHARACTERS:
        raise OptionError(f"{harmless(text)} is not the name of {what}; give its id or its name as published")
    wanted = _plain(text)
    found = by_label.get(wanted, [])
    if len(found) > 1:
        found = [key for key in found if key in preferred] or found
    if len(found) == 1:
        return found[0]
    if found:
        raise OptionError(f"{harmless(text)} names more than one; give {listed(found, 'or')}")
    near = difflib.get_close_matches(wanted, by_label, n=5, cutoff=0.7)
    near = near or [label for label in by_label if set(wanted.split()) <= set(label.split())]
    meant = list(dict.fromkeys(key for label in near for key in by_label[label]))[:3]
    hint = f"did you mean {listed(meant, 'or')}?" if meant else "nothing has a name like it; give its id as published"
    raise OptionError(f"{harmless(text)} is not {what} of the specification: {hint}")


def _plain(text: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", text).translate(_TYPOGRAPHIC).casefold().split())
