"""A finding: one thing about the bar that a person should know. Spoken of ribbons, never of the wearer."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "out-of-place", "reversed", "duplicate", "not-together", "needs", "unidentified", "ambiguous", "dates-needed",
    "missing", "extra", "swapped", "emblem", "row-layout", "mirrored-photo", "upside-down",
    "too-small", "record", "order-of-wear", "one-assignment", "photo",
]  # fmt: skip
Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True)
class Finding:
    """One finding of the report.

    ``positions`` are ``"row.place"`` strings (top row is 1, place 1 is the viewer's left); ``because`` is the rule or
    the measurement behind it; ``source`` names the published source, empty when the finding rests on the picture alone.
    """

    kind: Kind
    positions: tuple[str, ...]
    severity: Severity
    message: str
    because: str = ""
    source: str = ""
