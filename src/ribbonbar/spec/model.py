"""The specification as frozen values. An award's key is ``authority/award``; colours are CIE L*a*b* (D65, 2°)."""

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

Certainty = Literal["stated", "derived", "memory"]
Sequence = Literal["listed", "by-date", "by-award-date"]
RuleKind = Literal["not-together", "needs", "listed-within"]
Lab = tuple[float, float, float]


@dataclass(frozen=True)
class Interval:
    """Days from ``start`` to ``end``, both included; None is open."""

    start: date | None = None
    end: date | None = None


@dataclass(frozen=True)
class Authority:
    id: str
    title: str
    ribbon_width_mm: float = 32.0
    ribbon_height_mm: float = 10.0


@dataclass(frozen=True)
class Source:
    """A published source. ``key`` is ``authority/id``."""

    key: str
    title: str
    url: str = ""


@dataclass(frozen=True)
class Colour:
    """A dye as published. ``lab`` is CIE L*a*b*, D65, 2 degree observer."""

    name: str
    lab: Lab
    certainty: Certainty
    source: str = ""
    code: str = ""
    """The publisher's own code, for example a textile cable number or Pantone number."""


@dataclass(frozen=True)
class Stripe:
    """One stripe (or band), shading evenly from ``start`` to ``end``; the two are equal in a plain stripe."""

    start: Colour
    end: Colour
    width: float


@dataclass(frozen=True)
class Ribbon:
    """One pattern of an award's ribbon, as a viewer facing the wearer sees it.

    ``shape`` says how ``stripes`` run: ``"stripes"`` left to right over the width, ``"bands"`` top to bottom over the
    height worn on a bar, ``"diagonal"`` one period of a pattern repeated at ``angle`` degrees (slope of the stripes,
    counter-clockwise from horizontal), ``"unmatched"`` no stripes at all: no machine can match it, ``unmatched`` says
    why. ``width_mm`` is the ribbon's own width, the authority's where the file gives none.
    """

    id: str
    shape: Literal["stripes", "diagonal", "bands", "unmatched"]
    stripes: tuple[Stripe, ...]
    width_mm: float
    height_mm: float
    angle: float = 0.0
    unmatched: str = ""
    frame: Colour | None = None
    worn: Interval = Interval()
    division: str = ""
    certainty: Certainty = "memory"
    source: str = ""

    @property
    def symmetrical(self) -> bool:
        """True when the ribbon looks the same turned back to front (bands always do, diagonals never)."""
        if self.shape == "diagonal":
            return False
        if self.shape != "stripes":
            return True
        return self.stripes == tuple(Stripe(s.end, s.start, s.width) for s in reversed(self.stripes))


@dataclass(frozen=True)
class Emblem:
    """An emblem that may be worn on the ribbon, and what it means."""

    kind: str
    metal: str = ""
    meaning: str = ""


@dataclass(frozen=True)
class Award:
    key: str
    name: str
    abbreviation: str = ""
    earned: Interval = Interval()
    emblems: tuple[Emblem, ...] = ()
    ribbons: tuple[Ribbon, ...] = ()
    worn_elsewhere: str = ""
    """Where it is worn when not on this bar, e.g. ``"right breast"``; empty: on this bar."""
    note: str = ""
    earned_certainty: Certainty = "memory"
    earned_source: str = ""
    """Where the qualifying days come from: ``earned = { from = …, certainty = "stated", source = "id" }``."""


@dataclass(frozen=True)
class Group:
    """One group of an order of wear. ``awards`` are keys, wildcards already replaced by the awards they stand for."""

    id: str
    title: str
    sequence: Sequence
    awards: tuple[str, ...]
    source: str = ""


@dataclass(frozen=True)
class OrderOfWear:
    """A published order of wear; the most senior group first. ``key`` is ``authority/id``."""

    key: str
    title: str
    groups: tuple[Group, ...]
    ribbons_per_row: int = 4
    rows_allowed: tuple[int, ...] = ()
    """Other numbers of ribbons a row that this order permits (narrower rows under a lapel)."""
    short_row: Literal["top", "bottom"] = "top"
    short_row_align: Literal["centre", "senior", "either"] = "either"
    second_ribbon: bool = False
    """True where a service allows a second ribbon of one award instead of an emblem for the repeat."""
    in_force: Interval = Interval()
    source: str = ""


@dataclass(frozen=True)
class Rule:
    """What may, must or cannot stand on one bar.

    ``not-together``: at most one of ``awards``. ``needs``: the first needs one of the others. ``listed-within``: where
    several of ``awards`` stand in one by-date group, they keep this sequence.
    """

    kind: RuleKind
    awards: tuple[str, ...]
    because: str
    source: str = ""
    orders: tuple[str, ...] = ()
    """Keys of the orders of wear the rule belongs to; empty: all."""


@dataclass(frozen=True)
class Specification:
    """All that was read from one or several files, checked and joined. Every mapping is keyed by full key."""

    authorities: dict[str, Authority] = field(default_factory=dict)
    sources: dict[str, Source] = field(default_factory=dict)
    colours: dict[str, Colour] = field(default_factory=dict)
    awards: dict[str, Award] = field(default_factory=dict)
    orders: dict[str, OrderOfWear] = field(default_factory=dict)
    rules: tuple[Rule, ...] = ()
    editions: tuple[str, ...] = ()
    """The files read: ``name sha256[:12]``."""
