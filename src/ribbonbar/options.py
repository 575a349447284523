"""What the user asked for, checked once; command line and Python use the same."""

from dataclasses import dataclass, field
from pathlib import Path

from ribbonbar.precedence.model import Record
from ribbonbar.report.model import Corners


@dataclass(frozen=True)
class AuditOptions:
    """What the user asked for, checked once. ``answers`` maps a position (``"1.3"``) to an award's key."""

    order: str = ""
    record: Record | None = None
    work_order: Record | None = None
    corners: Corners | None = None
    answers: dict[str, str] = field(default_factory=dict)
    max_megapixels: float = 60.0
    debug_folder: Path | None = None
