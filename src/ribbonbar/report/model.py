"""The report as frozen values: ``ribbon-report/1``. Coordinates are pixels of the upright picture, (x, y)."""

from dataclasses import dataclass, field
from typing import Literal

from ribbonbar.findings import Finding

Corners = tuple[tuple[float, float], ...]
"""Four (x, y) points, clockwise from top left."""
Status = Literal["identified", "ambiguous", "unidentified"]
Outcome = Literal["in-order", "out-of-order", "unconfirmed", "no-bar"]


@dataclass(frozen=True)
class SeenEmblem:
    """Something fixed on a ribbon. ``x`` and ``y`` are fractions of the ribbon's width and height from top left."""

    kind: str
    x: float
    y: float
    size_mm: float = 0.0


@dataclass(frozen=True)
class Candidate:
    award: str
    ribbon: str
    reversed: bool
    probability: float


@dataclass(frozen=True)
class Position:
    """One ribbon on the bar. ``position`` is ``"row.place"``; ``candidates`` are in falling probability.

    ``seen`` is the colour profile as read, light taken out: (N, 3) numbers of CIE L*a*b* left to right, for the page
    that shows a reader what was seen; empty when nothing was read.
    """

    position: str
    corners: Corners
    status: Status
    candidates: tuple[Candidate, ...] = ()
    emblems: tuple[SeenEmblem, ...] = ()
    given_by_hand: bool = False
    seen: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True)
class Bar:
    corners: Corners
    rows: tuple[tuple[Position, ...], ...]


@dataclass(frozen=True)
class Photo:
    name: str
    width: int
    height: int
    sha256: str


@dataclass(frozen=True)
class Report:
    photo: Photo
    outcome: Outcome
    order_of_wear: str
    bars: tuple[Bar, ...] = ()
    findings: tuple[Finding, ...] = ()
    proposed_order: tuple[str, ...] = ()
    timing_ms: dict[str, float] = field(default_factory=dict)
    editions: tuple[str, ...] = ()
    """The specification files used: ``name sha256[:12]``."""
    work_order: str = ""
    """The work order's reference, when the bar was verified against one."""
    proposed_positions: tuple[str, ...] = ()
    """Where each ribbon of ``proposed_order`` stands now, in the same sequence; ``""`` where it is not on the bar."""
    to_move: tuple[str, ...] = ()
    """Positions of one smallest set of ribbons to move, so that the bar stands as proposed."""


CAUTIONS = (
    "A photograph proves no entitlement: it shows which ribbons are there, not who earned them.",
    "The issuing authority's current order, and the wearer's own papers, decide.",
)
"""Shown on every face of the report."""
