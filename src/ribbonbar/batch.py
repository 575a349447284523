"""Many photos: all cores, one bad picture stops nothing, and a stopped run goes on where it was.

Reports are written as they come and put into the order of the photos at the end, so the file is the same (timings
aside) whatever the number of workers and however often the run was stopped.
"""

import errno
import hashlib
import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from ribbonbar.crew import Job, answers, cores
from ribbonbar.errors import Exit, OptionError, OutputError, RibbonbarError
from ribbonbar.findings import Finding
from ribbonbar.jsonlines import MADE_WITH, ReportLines
from ribbonbar.options import AuditOptions
from ribbonbar.report.as_json import to_dict, to_json
from ribbonbar.report.model import Photo, Report

PICTURE_SUFFIXES = frozenset({".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif"})
"""What counts as a photo when a folder is given; a file named by itself is taken whatever its name ends in."""
TIME_LIMIT_S = 120.0
"""Seconds that one photo may take before its worker is stopped; far above what the largest photo allowed needs."""
_STATUS = {"in-order": Exit.SETTLED, "out-of-order": Exit.BROKEN}
_WORST_FIRST = (Exit.UNUSABLE, Exit.BROKEN, Exit.UNCONFIRMED, Exit.SETTLED)


class InterruptedRunError(RibbonbarError):
    """Stopped with Ctrl-C; what was finished is kept."""

    exit_status = Exit.INTERRUPTED


@dataclass(frozen=True)
class AuditJob:
    """The audit itself as the job of a batch; ``extra`` is a small JPEG of the first bar, where that is asked for.

    ``specs`` as for ``load_catalogue``.
    """

    specs: tuple[Path, ...] = ()
    options: AuditOptions = field(default_factory=AuditOptions)
    thumbnails: bool = False

    def warm(self) -> None:
        import cv2

        cv2.setNumThreads(1)
        _catalogue(self.specs)

    def __call__(self, photo: Path) -> tuple[str, bytes]:
        from ribbonbar.audit import audit_file

        report = audit_file(photo, _catalogue(self.specs), self.options)
        return to_json(report), thumbnail_of(photo, report, self.options.max_megapixels) if self.thumbnails else b""


@lru_cache(1)
def _catalogue(specs: tuple[Path, ...]):
    from ribbonbar.audit import load_catalogue

    return load_catalogue(specs)


def thumbnail_of(photo: Path, report: Report, max_megapixels: float) -> bytes:
    """A small JPEG, without metadata, of the report's first bar; empty where there is none. Raises PhotoError."""
    from ribbonbar.photo.opening import open_photo
    from ribbonbar.report.crop import crops_of, thumbnail

    if not report.bars:
        return b""
    picture = open_photo(photo, max_megapixels)
    first = next((crop for crop in crops_of(report, picture.pixels, picture.srgb) if crop), None)
    return thumbnail(first) if first else b""


@dataclass(frozen=True)
class Entry:
    """One photo of a batch. ``line`` is its report as one line of JSON; ``resumed`` when an earlier run wrote it.

    A photo that could not be audited has a report too (no bar, one ``photo`` finding), with two keys more: ``error``,
    the line for a person, and ``again``, true where a second try may fare better (file away, worker killed), so that
    ``resume`` tries it again. ``extra`` is what else the job gave; None for resumed photos and errors.
    """

    photo: Path
    sha256: str
    line: str
    extra: Any = None
    resumed: bool = False

    @property
    def exit_status(self) -> Exit:
        """The exit status that this photo alone would give."""
        report = json.loads(self.line)
        return Exit.UNUSABLE if report.get("error") else _STATUS.get(report.get("outcome"), Exit.UNCONFIRMED)

    @property
    def error(self) -> str:
        """Why the photo could not be audited; empty when it was."""
        return json.loads(self.line).get("error", "")


@dataclass(frozen=True)
class Batch:
    """All entries in the order of the photos; ``repeated`` pairs each left-out photo with the one it is a copy of."""

    entries: tuple[Entry, ...]
    repeated: tuple[tuple[Path, Path], ...] = ()

    @property
    def exit_status(self) -> Exit:
        """The worst of the photos, in the order 2, 1, 3, 0."""
        statuses = {entry.exit_status for entry in self.entries}
        return next((status for status in _WORST_FIRST if status in statuses), Exit.SETTLED)


def expand(paths: Iterable[Path]) -> list[Path]:
    """The photos meant by files and folders: a folder stands for the pictures in it and below it, sorted by name.

    Hidden files and folders are left out, a photo meant twice is kept once. Raises OptionError for a path that does not
    exist and for a folder without a picture.
    """
    photos: dict[Path, None] = {}
    for path in paths:
        if not path.is_dir():
            if not path.exists():
                raise OptionError(f"{path}: no such file or folder; check the name")
            photos[path] = None
            continue
        inside = sorted(found for found in path.rglob("*") if _is_visible_picture(found, path))
        if not inside:
            kinds = ", ".join(sorted(suffix[1:] for suffix in PICTURE_SUFFIXES))
            raise OptionError(f"{path}: no pictures in this folder; files ending in {kinds} are looked for")
        photos.update(dict.fromkeys(inside))
    return list(photos)


def _is_visible_picture(path: Path, folder: Path) -> bool:
    hidden = any(part.startswith(".") for part in path.relative_to(folder).parts)
    return not hidden and path.suffix.lower() in PICTURE_SUFFIXES and path.is_file()


def audit_many(
    photos: Iterable[Path],
    job: Job,
    *,
    output: Path | None = None,
    made_with: Mapping[str, str] = MappingProxyType({}),
    workers: int | None = None,
    resume: bool = False,
    force: bool = False,
    advance: Callable[[int], None] = lambda photos: None,
    time_limit: float = TIME_LIMIT_S,
) -> Batch:
    """Do the job for every photo and write one report a line to ``output`` (JSON Lines).

    A photo is its content: a second file with the same bytes is left out (``Batch.repeated``), and with ``resume`` the
    photos whose SHA-256 already stands in ``output`` are not done again. A kill loses at most the photos in hand.
    ``made_with`` says what the reports depend on besides the photo; it stands in every line, and a file whose lines say
    otherwise is not gone on with.
    ``workers`` is the number of processes, all cores unless given. ``advance`` is told how many photos have just been
    settled. ``time_limit`` (seconds) ends a photo that hangs.

    Raises OutputError (exists, not writable, disk full, in use by another run, not a file of reports, made with other
    options), and InterruptedRunError on Ctrl-C; the lines written until then stay. Raises what the job's ``warm``
    raises.
    """
    photos = list(dict.fromkeys(photos))
    workers = workers or cores()
    if output is None:
        return _run(photos, job, {}, lambda line: None, made_with, workers, advance, time_limit)
    output = Path(os.path.realpath(output))
    if any(output == Path(os.path.realpath(photo)) for photo in photos):
        raise OutputError(f"{output}: is one of the photos; name another file for the reports")
    names = frozenset(photo.name for photo in photos)
    with ReportLines(output, names, made_with, resume=resume, force=force) as lines:
        try:
            batch = _run(photos, job, dict(lines.kept), lines.append, made_with, workers, advance, time_limit)
        except KeyboardInterrupt:
            kept = f"{len(lines.kept)} photos are reported in {output}"
            raise InterruptedRunError(f"stopped; {kept}, go on with --resume") from None
        lines.put_in_order(entry.line for entry in batch.entries)
    return batch


@contextmanager
def progress_bar(photos: int) -> Iterator[Callable[[int], None]]:
    """A bar with the time left on standard error; nothing at all where that is not a terminal."""
    if not sys.stderr.isatty():
        yield lambda photos: None
        return
    import typer

    with typer.progressbar(length=photos, label="Auditing", show_pos=True, file=sys.stderr) as bar:
        yield bar.update


def content_hash(photo: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal. Raises OSError, for anything but a plain file too."""
    if photo.exists() and not photo.is_file():
        raise OSError(errno.EINVAL, "not a plain file")  # a pipe would keep us waiting for ever
    with photo.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _run(
    photos: list[Path],
    job: Job,
    earlier: dict[str, str],
    append: Callable[[str], None],
    made_with: Mapping[str, str],
    workers: int,
    advance: Callable[[int], None],
    time_limit: float,
) -> Batch:
    """``earlier`` maps the hashes of the photos that need not be done again to their lines."""
    entries: dict[Path, Entry] = {}
    hashes: dict[Path, str] = {}
    first_with: dict[str, Path] = {}
    repeated: list[tuple[Path, Path]] = []

    def stamped(line: str) -> str:
        return json.dumps(json.loads(line) | {MADE_WITH: dict(made_with)}) if made_with else line

    def settle(entry: Entry) -> None:
        if not entry.resumed:
            append(entry.line)
        entries[entry.photo] = entry
        advance(1)

    def still_to_do() -> Iterator[Path]:
        for photo in photos:
            try:
                sha256 = hashes[photo] = content_hash(photo)
            except OSError as error:
                problem = f"{photo}: cannot be read ({error.strerror}); check that it still exists and may be read"
                settle(Entry(photo, "", stamped(_error_line(photo, "", problem, again=True))))
                continue
            if sha256 in first_with:
                repeated.append((photo, first_with[sha256]))
                advance(1)
                continue
            first_with[sha256] = photo
            if sha256 in earlier:
                settle(Entry(photo, sha256, earlier[sha256], resumed=True))
                continue
            yield photo

    with closing(answers(still_to_do(), job, workers, time_limit)) as finished:
        for photo, answer in finished:
            line = " ".join(answer.text.split("\n"))
            if answer.problem:
                line = _error_line(photo, hashes[photo], answer.problem, answer.again or not photo.exists())
            settle(Entry(photo, hashes[photo], stamped(line), answer.extra))
    return Batch(tuple(entries[photo] for photo in photos if photo in entries), tuple(repeated))


def _error_line(photo: Path, sha256: str, problem: str, again: bool) -> str:
    problem = " ".join(problem.split())
    finding = Finding("photo", (), "error", problem, "the photo could not be audited")
    report = Report(Photo(photo.name, 0, 0, sha256), "no-bar", "", findings=(finding,))
    return json.dumps(to_dict(report) | {"error": problem, "again": again})
