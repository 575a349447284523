"""Many photographs in one run: reports as they come, then a line a photo, an overview, a table."""

import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ribbonbar.batch import AuditJob, Batch, Entry, audit_many, expand, progress_bar, thumbnail_of
from ribbonbar.console import Screen, hush, say
from ribbonbar.errors import Exit, OptionError
from ribbonbar.job import Request, check_files, options_of
from ribbonbar.output import check_writable, write_whole
from ribbonbar.report import verdict
from ribbonbar.report.as_json import from_json
from ribbonbar.report.model import CAUTIONS, Report
from ribbonbar.report.text import columns, counted, listed, pad, safe_text, wrap
from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import read_specification

if TYPE_CHECKING:
    pass

_ONE_PHOTO_ONLY = ("corners", "annotate", "handover", "answer", "answers", "ask", "show_grid", "debug_folder")
_UNUSABLE = "Not readable"


@dataclass(frozen=True)
class QuietAuditJob(AuditJob):
    """The audit in a worker process whose libraries print nothing."""

    def warm(self) -> None:
        hush()
        super().warm()


@dataclass(frozen=True)
class ThumbnailJob:
    """Thumbnails for photos that an earlier run reported; ``lines`` are their reports by photo."""

    lines: dict[Path, str]
    max_megapixels: float

    def warm(self) -> None:
        hush()

    def __call__(self, photo: Path) -> tuple[str, bytes]:
        line = self.lines[photo]
        return line, thumbnail_of(photo, from_json(line), self.max_megapixels)


def run_many(request: Request) -> Exit:
    """Audit every photo; see ``job.run``. A photo that cannot be used is told of and stops nothing."""
    _refuse_what_is_for_one(request)
    photos = photos_of(request.photos)
    inputs = [*photos, *request.inputs]
    check_files(request, [request.html, request.csv], inputs)
    if request.json_file:
        check_writable(request.json_file, True, inputs)  # whether it may exist already, the run itself decides
    specification = read_specification(request.spec_paths)
    job = QuietAuditJob(tuple(request.specs), options_of(request, specification), request.html is not None)
    with progress_bar(len(photos)) as advance:
        batch = audit_many(
            photos,
            job,
            output=request.json_file,
            workers=request.workers,
            resume=request.resume,
            force=request.force,
            advance=advance,
        )
    reports = {entry.photo: from_json(entry.line, str(entry.photo)) for entry in batch.entries}
    if request.html:
        page = _overview(batch, reports, request, specification)
        write_whole(request.html, page.encode(), request.force, inputs)
    if request.csv:
        from ribbonbar.report.as_csv import to_csv

        table = to_csv(reports.values(), specification).encode("utf-8-sig")
        write_whole(request.csv, table, request.force, inputs)
    if request.json == "-":
        say("".join(f"{entry.line}\n" for entry in batch.entries))
    else:
        say(summary(batch, reports, Screen.of(sys.stdout).width))
    _tell_unusable(batch)
    return batch.exit_status


def _refuse_what_is_for_one(request: Request) -> None:
    given = next((name for name in _ONE_PHOTO_ONLY if getattr(request, name)), None)
    if given:
        raise OptionError(f"--{given.replace('_', '-')} is for one photo; name a single picture file with it")
    if request.resume and not request.json_file:
        raise OptionError("--resume goes on with a file of reports: name it with --json FILE")


def photos_of(paths: Sequence[Path]) -> list[Path]:
    """Folders replaced by the pictures in them, each photo once. A named file that is missing stays: it is one photo
    that cannot be used, and the others are audited. Raises OptionError for a folder without pictures."""
    return list(dict.fromkeys(photo for path in paths for photo in (expand([path]) if path.is_dir() else [path])))


def _overview(batch: Batch, reports: dict[Path, Report], request: Request, specification: Specification) -> str:
    from ribbonbar.report.html import Item, overview

    thumbnails = {entry.photo: entry.extra for entry in batch.entries if entry.extra}
    earlier = {entry.photo: entry.line for entry in batch.entries if entry.resumed and reports[entry.photo].bars}
    if earlier:
        drawn = audit_many(list(earlier), ThumbnailJob(earlier, request.max_megapixels), workers=request.workers)
        thumbnails |= {entry.photo: entry.extra for entry in drawn.entries if entry.extra}
    items = [Item(reports[e.photo], thumbnails.get(e.photo, b""), e.error) for e in batch.entries]
    return overview(items, specification)


def summary(batch: Batch, reports: dict[Path, Report], width: int) -> str:
    """A line a photo, worst first, then how many there are of each."""
    names = [_UNUSABLE, *(verdict.OUTCOMES[kind] for kind in ("out-of-order", "unconfirmed", "no-bar", "in-order"))]
    told = [(_outcome(entry, reports[entry.photo]), entry) for entry in batch.entries]
    told.sort(key=lambda pair: names.index(pair[0]))
    widest = max((columns(name) for name, _ in told), default=0)
    named = min(max((columns(safe_text(entry.photo)) for _, entry in told), default=0), max(width // 2 - widest, 20))
    lines = []
    for outcome, entry in told:
        start = f"{pad(outcome, widest)}  {pad(safe_text(entry.photo), named)}"
        what = entry.error or verdict.summary(reports[entry.photo])
        lines.append(pad(f"{start}  {safe_text(what)}", max(width, 60)).rstrip())
    for copy, original in batch.repeated:
        lines.append(f"{safe_text(copy)}: left out, the same picture as {safe_text(original)}")
    counts = Counter(outcome for outcome, _ in told)
    tally = listed([f"{counts[name]} {name[:1].lower()}{name[1:]}" for name in names if counts[name]])
    lines += ["", f"{counted(len(told), 'photograph')}: {tally}."]
    lines += [line for caution in CAUTIONS for line in wrap(caution, max(width, 40))]
    return "\n".join(lines) + "\n"


def _outcome(entry: Entry, report: Report) -> str:
    return _UNUSABLE if entry.error else verdict.OUTCOMES[report.outcome]


def _tell_unusable(batch: Batch) -> None:
    """One line on standard error, as for a single photo that cannot be used."""
    errors = [entry.error for entry in batch.entries if entry.error]
    if errors:
        more = f" (and {len(errors) - 1} more that could not be used)" if len(errors) > 1 else ""
        say(f"ribbonbar: {safe_text(errors[0], 2000)}{more}\n", sys.stderr)
