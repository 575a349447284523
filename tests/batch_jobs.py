"""Quick stand-ins for the audit, importable by worker processes, and a small program that runs a batch of them."""

import hashlib
import json
import os
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from ribbonbar.batch import audit_many, expand
from ribbonbar.errors import PhotoError, RibbonbarError, SpecError

OUTCOMES = ("in-order", "out-of-order", "unconfirmed", "no-bar")


@dataclass(frozen=True)
class QuickJob:
    """Reports on a file by its content: the words ``bad``, ``bug``, ``kill`` and ``hang`` do what they say."""

    seconds: float = 0.0
    broken: bool = False

    def warm(self) -> None:
        if self.broken:
            raise SpecError("spec.toml: line 3: unknown colour; correct it")

    def __call__(self, photo: Path) -> tuple[str, int]:
        try:
            data = photo.read_bytes()
        except OSError:
            raise PhotoError(f"{photo}: no such file") from None
        if b"bad" in data:
            raise PhotoError(f"{photo}: damaged or cut short; copy the photo again")
        if b"bug" in data:
            raise ValueError("line one\nline two")
        if b"kill" in data:
            os.kill(os.getpid(), 9)
        time.sleep(60.0 if b"hang" in data else self.seconds)
        sha256 = hashlib.sha256(data).hexdigest()
        report = {
            "format": "ribbon-report/1",
            "photo": {"name": photo.name, "width": 4, "height": 3, "sha256": sha256},
            "outcome": OUTCOMES[len(data) % 4],
            "timing_ms": {"total": time.perf_counter()},
            "threads": os.environ.get("OMP_NUM_THREADS"),
        }
        return json.dumps(report, indent=1), len(data)


def main() -> int:
    """``FOLDER OUTPUT SECONDS WORKERS``: run a batch, going on with one that was stopped."""
    folder, output, seconds, workers = sys.argv[1:]
    job = QuickJob(float(seconds))
    try:
        audit_many(expand([Path(folder)]), job, output=Path(output), workers=int(workers), resume=True)
    except RibbonbarError as error:
        print(error, file=sys.stderr)
        return int(error.exit_status)
    return 0


if __name__ == "__main__":
    sys.exit(main())
