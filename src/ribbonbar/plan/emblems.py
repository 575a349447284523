"""Simple drawn signs for emblems, so that position and number are seen at a glance; the words beside them decide."""

import re
from math import cos, pi, sin

from ribbonbar.spec.model import Emblem

Outline = tuple[tuple[float, float], ...]
"""Points from -1 to 1 in both directions, y down."""
METALS = {"gold": "#dcae2c", "gilt": "#dcae2c", "silver": "#dcdce0", "bronze": "#ab7038", "brass": "#c9a24a"}
_PLAIN = "#f2f2f2"


def emblem_marks(emblem: Emblem) -> list[tuple[Outline, str, str]]:
    """The outlines to draw, lowest first, each with its fill and the letters to set upon it (mostly none).

    Known by the words of its kind: rosette, leaf or cluster, star, crown, arrowhead, clasp or bar, numeral, letter;
    anything else is a disc with its first letter.
    """
    kind = emblem.kind.casefold()
    fill = next((colour for metal, colour in METALS.items() if metal in emblem.metal.casefold()), "")
    fill = fill or next((colour for metal, colour in METALS.items() if metal in kind), _PLAIN)
    if "rosette" in kind:
        return [(_rosette(), fill, ""), (_disc(0.32), _PLAIN, "")]
    if "leaf" in kind or "cluster" in kind:
        return [(_leaf(), fill, "")]
    if "star" in kind:
        return [(_star(), fill, "")]
    if "crown" in kind:
        return [(_CROWN, fill, "")]
    if "arrow" in kind:
        return [(((0.0, -0.9), (0.7, 0.8), (0.0, 0.4), (-0.7, 0.8)), fill, "")]
    if "clasp" in kind or kind == "bar":
        return [(((-1.0, -0.35), (1.0, -0.35), (1.0, 0.35), (-1.0, 0.35)), fill, "")]
    return [(_disc(0.9), fill, _letters(emblem.kind))]


def _letters(kind: str) -> str:
    number = re.search(r"\d+", kind)
    letter = re.search(r"\bletter[ -](\w)", kind, re.IGNORECASE)
    if number:
        return number[0][:3]
    if letter:
        return letter[1].upper()
    return "#" if "numeral" in kind.casefold() else kind[:1].upper()


def _disc(radius: float, corners: int = 32) -> Outline:
    return tuple((radius * cos(2 * pi * k / corners), radius * sin(2 * pi * k / corners)) for k in range(corners))


def _rosette() -> Outline:
    turns = [2 * pi * k / 128 for k in range(128)]
    return tuple(((0.74 + 0.22 * abs(sin(4 * t))) * cos(t), (0.74 + 0.22 * abs(sin(4 * t))) * sin(t)) for t in turns)


def _star() -> Outline:
    radii = [(1.0, 0.42)[k % 2] for k in range(10)]
    return tuple((r * sin(pi * k / 5), -r * cos(pi * k / 5)) for k, r in enumerate(radii))


def _leaf() -> Outline:
    """A leaf with three rounded lobes a side, lying on its side, its stalk to the left."""
    edge = []
    for k in range(61):
        t = k / 60
        edge.append((-0.7 + 1.7 * t, -0.62 * sin(pi * t) ** 0.6 * (0.62 + 0.38 * abs(sin(3 * pi * t)))))
    stalk = ((-1.0, 0.06), (-1.0, -0.06), (-0.66, -0.06))
    return (*stalk, *edge[1:], *((x, -y) for x, y in reversed(edge[1:-1])), (-0.66, 0.06))


_CROWN: Outline = ((-0.8, 0.6), (-1.0, -0.5), (-0.45, 0.0), (0.0, -0.8), (0.45, 0.0), (1.0, -0.5), (0.8, 0.6))
