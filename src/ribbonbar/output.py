"""Writing a file whole or not at all, and never over one that is already there unless the user asked for it."""

import contextlib
import os
import secrets
from collections.abc import Iterable
from pathlib import Path

from ribbonbar.errors import OutputError


def write_whole(path: Path, data: bytes, force: bool = False, inputs: Iterable[Path] = ()) -> None:
    """Write ``data`` to ``path`` in one step: the file is either all there or as it was before.

    A file that exists is kept unless ``force``; a file in ``inputs`` is kept even then. The data goes to a new file
    in the same folder, is flushed to the disk and only then given its name.

    Raises OutputError when ``path`` is a folder, an input, not a plain file, exists without ``force``, or cannot be
    written (no such folder, no permission, disk full); nothing is left behind.
    """
    check_writable(path, force, inputs)
    unfinished = path.parent / f".ribbonbar-{secrets.token_hex(8)}.part"
    try:
        with unfinished.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        _name(unfinished, path, force)
    except FileExistsError:
        raise OutputError(_exists(path)) from None
    except OSError as error:
        raise OutputError(
            f"{_shown(path)}: cannot write it ({error.strerror or error}); choose another place"
        ) from None
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink()


def check_writable(path: Path, force: bool = False, inputs: Iterable[Path] = ()) -> None:
    """Refuse early, before any long work, what ``write_whole`` would refuse. Raises OutputError."""
    if "\0" in str(path):
        raise OutputError(f"{_shown(path)}: no file can have this name; choose another name")
    try:
        if path.is_dir():
            raise OutputError(f"{_shown(path)}: this is a folder; name a file to write")
        if not path.parent.is_dir():
            raise OutputError(f"{_shown(path)}: the folder to write into does not exist; make it first")
        if not path.exists():
            return
        if any(other.exists() and path.samefile(other) for other in inputs):
            raise OutputError(f"{_shown(path)}: this is one of the files being read; choose another name")
        if not path.is_file():
            raise OutputError(f"{_shown(path)}: not a plain file; name a file to write")
    except OSError as error:
        raise OutputError(_refused(path, error)) from None
    if not force:
        raise OutputError(_exists(path))


def _name(unfinished: Path, path: Path, force: bool) -> None:
    if force:
        unfinished.replace(path)
        return
    try:
        path.hardlink_to(unfinished)  # fails, unlike a rename, when another run has made the file meanwhile
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if path.exists():
            raise FileExistsError from None
        unfinished.replace(path)


def _refused(path: Path, error: OSError) -> str:
    return f"{_shown(path)}: cannot write it ({error.strerror or error}); choose another place"


def _exists(path: Path) -> str:
    return f"{_shown(path)}: exists already and is kept; choose another name or add --force"


def _shown(path: Path) -> str:
    return "".join(c if c.isprintable() else "?" for c in str(path))
