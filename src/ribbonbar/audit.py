"""The main job on one page: photo, reading, precedence, report; nothing else."""

from dataclasses import dataclass, field
from pathlib import Path

from ribbonbar.report.model import Corners


@dataclass(frozen=True)
class AuditOptions:
    """What the user asked for, checked once. ``answers`` maps a position (``"1.3"``) to an award's key."""

    order: str = ""
    corners: Corners | None = None
    answers: dict[str, str] = field(default_factory=dict)
    max_megapixels: float = 60.0
    debug_folder: Path | None = None
