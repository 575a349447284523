"""Many photographs in one run: reports as they come, then a line a photo, an overview, a table."""

import hashlib
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ribbonbar import __version__
from ribbonbar.batch import AuditJob, Batch, Entry, audit_many, expand, progress_bar, thumbnail_of
from ribbonbar.console import Screen, hush, say
from ribbonbar.errors import Exit, OptionError
from ribbonbar.job import Request, check_files, is_folder, options_of
from ribbonbar.options import AuditOptions
from ribbonbar.output import write_whole
from ribbonbar.report import verdict
from ribbonbar.report.as_json import from_json
from ribbonbar.report.layout import positions
from ribbonbar.report.model import CAUTIONS, Report
from ribbonbar.report.text import columns, counted, listed, pad, safe_text, wrap
from ribbonbar.report.words import NOT_RECOGNISED
from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import read_specification

_ONE_PHOTO_ONLY = ("corners", "annotate", "handover", "answer", "answers", "ask", "show_grid", "debug_folder")
_UNUSABLE = "unusable"
_OUTCOMES = {
    _UNUSABLE: "Not readable",
    "out-of-order": "Out of order",
    "no-bar": "No bar found",
    "unconfirmed": "Not confirmed",
    "in-order": "In order",
}
"""Worst first, in as many letters as a line has room for."""
_ABOUT_BAR = {
    "mirrored-photo": "the photo looks mirrored",
    "upside-down": "the photo looks upside down",
    "row-layout": "the rows are laid out otherwise",
}


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
    check_files(request, [request.json_file, request.html, request.csv], inputs)
    specification = read_specification(request.spec_paths)
    options = options_of(request, specification)
    job = QuietAuditJob(tuple(request.specs), options, request.html is not None)
    with progress_bar(len(photos)) as advance:
        batch = audit_many(
            photos,
            job,
            output=request.json_file,
            made_with=made_with(options, specification),
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
        say(summary(batch, reports, Screen.of(sys.stdout).width if sys.stdout.isatty() else None))
    _tell_unusable(batch)
    return batch.exit_status


def made_with(options: AuditOptions, specification: Specification) -> dict[str, str]:
    """What the reports of a run depend on besides the photographs, short enough to stand in every line."""
    return {
        "version": __version__,
        "specifications": _mark("\n".join(specification.editions)),
        "order": options.order,
        "record": _mark(repr(options.record)) if options.record else "",
        "work_order": _mark(repr(options.work_order)) if options.work_order else "",
        "max_megapixels": f"{options.max_megapixels:g}",
    }


def _mark(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:12]


def _refuse_what_is_for_one(request: Request) -> None:
    given = next((name for name in _ONE_PHOTO_ONLY if getattr(request, name)), None)
    if given:
        raise OptionError(f"--{given.replace('_', '-')} is for one photo; name a single picture file with it")
    if request.resume and not request.json_file:
        raise OptionError("--resume goes on with a file of reports: name it with --json FILE")


def photos_of(paths: Sequence[Path]) -> list[Path]:
    """Folders replaced by the pictures in them, each photo once. A named file that is missing stays: it is one photo
    that cannot be used, and the others are audited. Raises OptionError for a folder without pictures."""
    return list(dict.fromkeys(photo for path in paths for photo in (expand([path]) if is_folder(path) else [path])))


def _overview(batch: Batch, reports: dict[Path, Report], request: Request, specification: Specification) -> str:
    from ribbonbar.report.html import Item, overview

    thumbnails = {entry.photo: entry.extra for entry in batch.entries if entry.extra}
    earlier = {entry.photo: entry.line for entry in batch.entries if entry.resumed and reports[entry.photo].bars}
    if earlier:
        drawn = audit_many(list(earlier), ThumbnailJob(earlier, request.max_megapixels), workers=request.workers)
        thumbnails |= {entry.photo: entry.extra for entry in drawn.entries if entry.extra}
    items = [Item(reports[e.photo], thumbnails.get(e.photo, b""), _reason(e)) for e in batch.entries]
    return overview(items, specification)


def summary(batch: Batch, reports: dict[Path, Report], width: int | None) -> str:
    """A line a photo, worst first, then how many there are of each; lines are cut to ``width`` columns where given."""
    told = [(_UNUSABLE if e.error else reports[e.photo].outcome, e) for e in batch.entries]
    told.sort(key=lambda pair: list(_OUTCOMES).index(pair[0]))
    names = max((len(_OUTCOMES[outcome]) for outcome, _ in told), default=0)
    room = (width or 10_000) - names - 4
    shown = [_ending(safe_text(entry.photo), max(room // 2, 16)) for _, entry in told]
    longest = max(map(columns, shown), default=0)
    lines = []
    for (outcome, entry), photo in zip(told, shown, strict=True):
        what = safe_text(_reason(entry) or brief(reports[entry.photo]), 2000)
        what = pad(what, max(room - longest, 8)) if width else what
        lines.append(f"{pad(_OUTCOMES[outcome], names)}  {pad(photo, longest)}  {what}".rstrip())
    for copy, original in batch.repeated:
        lines.append(f"{safe_text(copy)}: left out, the same picture as {safe_text(original)}")
    counts = Counter(outcome for outcome, _ in told)
    tally = listed([f"{counts[outcome]} {name.lower()}" for outcome, name in _OUTCOMES.items() if counts[outcome]])
    lines += ["", f"{counted(len(told), 'photograph')}: {tally}."]
    lines += [line for caution in CAUTIONS for line in wrap(caution, max(width or 80, 40))]
    return "\n".join(lines) + "\n"


def brief(report: Report) -> str:
    """What is to be looked at, position by position: ``1.2, 1.3 swapped; 2.1 not recognised``."""
    said: dict[str, list[str]] = {}
    for position in positions(report):
        doubt = {"unidentified": NOT_RECOGNISED, "ambiguous": "one of several"}.get(position.status)
        for remark in [*verdict.remarks(report, position), *([doubt] if doubt else [])]:
            said.setdefault(remark, []).append(position.position)
    if report.outcome == "no-bar":
        return "take it closer, or audit it alone with --corners"
    about_bar = [verdict.summary(report)] if report.outcome != "in-order" and not said else []
    about_bar += [_ABOUT_BAR[f.kind] for f in report.findings if f.kind in _ABOUT_BAR]
    return "; ".join([f"{', '.join(at)} {remark}" for remark, at in said.items()] + about_bar)


def _reason(entry: Entry) -> str:
    """Why the photo could not be used, without its path, which stands beside it and may be nobody else's business."""
    return entry.error.removeprefix(f"{entry.photo}: ")


def _ending(text: str, width: int) -> str:
    """The end of a path, where the file's name is, in at most ``width`` columns."""
    while columns(text) > width:
        text = f"…{text[2:]}" if text.startswith("…") else f"…{text[1:]}"
    return text


def _tell_unusable(batch: Batch) -> None:
    """One line on standard error, as for a single photo that cannot be used."""
    errors = [entry.error for entry in batch.entries if entry.error]
    if errors:
        more = f" (and {len(errors) - 1} more that could not be used)" if len(errors) > 1 else ""
        say(f"ribbonbar: {safe_text(errors[0], 2000)}{more}\n", sys.stderr)
