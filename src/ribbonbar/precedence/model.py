"""What goes into the reasoning about order, and what comes out. Awards are keys (``authority/award``) throughout."""

import datetime
from dataclasses import dataclass
from typing import Literal

from ribbonbar.errors import Exit
from ribbonbar.findings import Finding

UNIDENTIFIED = "unidentified"
"""Stands in a proposed order for a ribbon nobody could name: it keeps its place."""

Relation = Literal["first-before-second", "second-before-first", "depends"]


@dataclass(frozen=True)
class Slot:
    """One ribbon on the bar: its ``"row.place"`` and the awards it may be, most probable first; () if unidentified."""

    position: str
    awards: tuple[str, ...] = ()


Rows = tuple[tuple[Slot, ...], ...]
"""A bar as seen, top row first, each row from the viewer's left: the senior ribbon is the first of the first row."""


@dataclass(frozen=True)
class Held:
    """One award of the record. ``date``: first day of the service it was earned for, or the day of award."""

    award: str
    date: datetime.date | None = None
    division: str = ""
    emblems: tuple[str, ...] = ()


@dataclass(frozen=True)
class Record:
    """A wearer's record or a work order. ``rows``: how the finished bar is to stand, top row first; () if not said."""

    reference: str = ""
    order_of_wear: str = ""
    rows: tuple[tuple[str, ...], ...] = ()
    held: tuple[Held, ...] = ()

    @property
    def awards(self) -> tuple[str, ...]:
        """Every award named, each once: those held, then those only named in ``rows``."""
        named = [h.award for h in self.held] + [award for row in self.rows for award in row]
        return tuple(dict.fromkeys(named))


@dataclass(frozen=True)
class Verdict:
    """What can be said about a bar's order.

    ``violated``: at least one finding is an error, which is so only when every reading of the bar breaks the order or
    a rule. ``settled``: every ribbon has one name and a place in the order, and no pair's sequence is left open.
    ``proposed_order`` lists awards as they should stand, keeping in sequence all that need not move; a ribbon nobody
    could name keeps its place as ``"unidentified"``, and an ambiguous one shows the most probable of its awards that
    asks for the fewest moves (which is not an identification). ``proposed_positions`` gives, in the same sequence, the
    position each ribbon has now. ``to_move``: positions of one smallest set of ribbons to move. ``proven_minimal`` is
    False only where the readings were too many to prove that no smaller set would do.
    """

    violated: bool
    settled: bool
    findings: tuple[Finding, ...] = ()
    proposed_order: tuple[str, ...] = ()
    to_move: tuple[str, ...] = ()
    proposed_positions: tuple[str, ...] = ()
    proven_minimal: bool = True

    @property
    def outcome(self) -> Literal["in-order", "out-of-order", "unconfirmed"]:
        if self.violated:
            return "out-of-order"
        return "in-order" if self.settled else "unconfirmed"


@dataclass(frozen=True)
class OrderChoice:
    """The order of wear to use: ``also`` are the keys of others that fit as well, ``missing`` awards it lacks."""

    key: str
    also: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Explanation:
    """Which of two awards goes first, and why; ``needs`` says what would settle it, None when it is settled."""

    order_of_wear: str
    relation: Relation
    because: str
    needs: str | None = None
    source: str = ""


@dataclass(frozen=True)
class Open:
    """A pair whose sequence nothing given settles (or one award that has no place at all), and what would."""

    awards: tuple[str, ...]
    needs: str
    message: str


@dataclass(frozen=True)
class Reason:
    """Why two neighbours of a planned bar stand in this sequence."""

    first: str
    second: str
    because: str
    source: str = ""


@dataclass(frozen=True)
class PlanSequence:
    """The bar that a record asks for. ``rows`` is ``sequence`` laid out, top row first."""

    order_of_wear: str
    sequence: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    open: tuple[Open, ...] = ()
    findings: tuple[Finding, ...] = ()
    reasons: tuple[Reason, ...] = ()

    @property
    def exit_status(self) -> Exit:
        """1 when a rule is broken by what is held, 3 when something is open, else 0."""
        if any(f.severity == "error" for f in self.findings):
            return Exit.BROKEN
        return Exit.UNCONFIRMED if self.open else Exit.SETTLED
