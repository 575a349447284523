"""The file of many reports, one a line: locked against a second run, whole lines only, each on the disk at once."""

import json
import os
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from types import MappingProxyType

from ribbonbar.errors import OutputError
from ribbonbar.output import check_writable, write_whole
from ribbonbar.report.as_json import FORMAT

MADE_WITH = "made_with"
"""Key of each line: what, besides the photo, the report depends on."""
_START = b'{"format":'
_OTHER = {
    "version": "another version of ribbonbar",
    "specifications": "other specification files, or other editions of them",
    "order": "another --order",
    "record": "another --record",
    "work_order": "another --work-order",
    "max_megapixels": "another --max-megapixels",
}


class ReportLines:
    """The file, open for adding reports; use it in a ``with`` statement.

    ``kept`` maps the SHA-256 of each photo reported so far to its line. With ``resume`` the reports of an earlier run
    are kept, without a torn last line, and without those marked ``again`` whose photo is in ``names``; a file that
    exists is otherwise only replaced with ``force``. ``made_with`` is what this run's reports depend on besides the
    photo; an earlier line that says otherwise is not gone on with.

    Raises OutputError: exists, folder, not writable, in use by another run, not a file of reports, made with other
    options.
    """

    def __init__(
        self,
        path: Path,
        names: frozenset[str],
        made_with: Mapping[str, str] = MappingProxyType({}),
        *,
        resume: bool,
        force: bool,
    ) -> None:
        self.path, self.names, self.made_with, self.resume, self.force = path, names, made_with, resume, force
        self.kept: dict[str, str] = {}
        self._file = self._size = self._lock = -1

    def __enter__(self) -> "ReportLines":
        check_writable(self.path, force=True)
        try:
            self._lock = _take_lock(self.path)
            self._open()
        except OSError as error:
            self.__exit__()
            raise OutputError(f"{self.path}: cannot be written ({error.strerror}); choose another place") from None
        except BaseException:
            self.__exit__()
            raise
        return self

    def _open(self) -> None:
        exists = self.path.exists()
        if exists and not self.resume and not self.force:
            raise OutputError(f"{self.path}: already exists; go on with --resume, or begin again with --force")
        whole = b""
        if exists and self.resume:
            before = self.path.read_bytes()
            self.kept = _reported(before, self.path, self.names, self.made_with)
            whole = _as_bytes(self.kept.values())
            if whole != before:
                write_whole(self.path, whole, force=True)
        self._file = os.open(self.path, os.O_WRONLY | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666)
        os.ftruncate(self._file, len(whole))
        self._size = os.lseek(self._file, 0, os.SEEK_END)

    def append(self, line: str) -> None:
        """Add one report and wait until it is on the disk. Raises OutputError; nothing of the line stays then."""
        data = unwritten = _as_bytes([line])
        try:
            while unwritten:
                unwritten = unwritten[os.write(self._file, unwritten) :]
            os.fsync(self._file)
        except OSError as error:
            raise OutputError(
                f"{self.path}: cannot be written any further ({error.strerror}); {len(self.kept)} photos are reported, "
                "make room and go on with --resume"
            ) from None
        self._size += len(data)
        self.kept[json.loads(line)["photo"]["sha256"] or line] = line

    def put_in_order(self, lines: Iterable[str]) -> None:
        """Give this run's lines the order given, after the lines of other photos."""
        lines = list(lines)
        own = set(lines)
        wanted = [line for line in self.kept.values() if line not in own] + lines
        if wanted == list(self.kept.values()):
            return
        with suppress(OutputError):  # no room for a second copy: every report is there, only not sorted
            write_whole(self.path, _as_bytes(wanted), force=True)
            self._size = -1

    def __exit__(self, *exception: object) -> None:
        if self._file >= 0:
            with suppress(OSError):
                if self._size >= 0:
                    os.ftruncate(self._file, self._size)  # no half line after a full disk or Ctrl-C
            os.close(self._file)
        _release_lock(self._lock, self.path)


def _as_bytes(lines: Iterable[str]) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode("utf-8", "backslashreplace")  # lone surrogate: its JSON escape


def _reported(data: bytes, path: Path, names: frozenset[str], made_with: Mapping[str, str]) -> dict[str, str]:
    """The lines of an earlier run by photo. A file that is not one of reports is somebody's, and stays as it is."""
    kept: dict[str, str] = {}
    *lines, torn = data.split(b"\n")
    if not _START.startswith(b"".join(torn.split())[: len(_START)]):
        lines.append(torn)
    for number, raw in enumerate(lines, start=1):
        try:
            report = json.loads(raw)
            name, sha256 = report["photo"]["name"], report["photo"]["sha256"]
            if report["format"] != FORMAT or not isinstance(sha256, str):
                raise ValueError
        except (ValueError, LookupError, TypeError, RecursionError):
            raise OutputError(f"{path}: line {number} is no report; name the file of the run to go on with") from None
        if not (report.get("again") and name in names):
            _check_made_alike(report.get(MADE_WITH), made_with, f"{path}: line {number}")
            kept[sha256 or raw.decode()] = raw.decode()
    return kept


def _check_made_alike(earlier: object, made_with: Mapping[str, str], where: str) -> None:
    """Half of a file under one order of wear and half under another would be nobody's answer."""
    if not made_with or earlier == made_with:
        return
    if not isinstance(earlier, dict):
        raise OutputError(f"{where} does not say what it was made with; begin again with --force or name another file")
    other = ", ".join(words for key, words in _OTHER.items() if earlier.get(key) != made_with.get(key))
    raise OutputError(
        f"{where} was made with {other or 'other options'}; go on as the run began, or begin again with --force"
    )


def _take_lock(output: Path) -> int:
    """Lock a file beside the output. The system drops the lock with the process: a killed run leaves none behind."""
    path = output.with_name(f"{output.name}.lock")
    while True:
        lock = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
        try:
            _lock_now(lock)
        except OSError:
            os.close(lock)
            raise OutputError(f"{output}: another run is writing to it; wait for it or name another file") from None
        with suppress(OSError):
            if os.path.samestat(os.fstat(lock), path.stat()):
                return lock
        os.close(lock)  # the run before us removed this file between our opening and our locking it


def _lock_now(lock: int) -> None:
    try:
        import fcntl
    except ImportError:
        import msvcrt

        msvcrt.locking(lock, msvcrt.LK_NBLCK, 1)
    else:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _release_lock(lock: int, output: Path) -> None:
    if lock < 0:
        return
    path = output.with_name(f"{output.name}.lock")
    if os.name == "nt":  # an open file cannot be removed there
        os.close(lock)
    with suppress(OSError):
        path.unlink()
    if os.name != "nt":
        os.close(lock)
