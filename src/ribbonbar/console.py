"""Standard output and the terminal: libraries kept off it, text that fits it, a reader that went away."""

import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass

from ribbonbar.errors import OutputError


@dataclass(frozen=True)
class Screen:
    """What text is laid out for: ``width`` in columns, ``colour`` where escape sequences are understood and wanted."""

    width: int = 80
    colour: bool = False

    @classmethod
    def of(cls, stream) -> "Screen":
        """The screen behind a stream; plain, 80 columns, where it is none. ``NO_COLOR`` (no-color.org) is obeyed."""
        if stream is None or not stream.isatty():
            return cls()
        plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
        return cls(shutil.get_terminal_size().columns, not plain)


def say(text: str, stream=...) -> None:
    """Write to standard output (or ``stream``). Letters it cannot show become ``?``; a reader that has closed the pipe
    has had enough. Raises OutputError when it cannot be written (disk full)."""
    stream = sys.stdout if stream is ... else stream
    if stream is None:  # closed before we began
        return
    if hasattr(stream, "reconfigure"):
        stream.reconfigure(errors="replace")
    try:
        stream.write(text)
        stream.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())  # nor shall Python complain when it ends
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        raise OutputError(f"standard output cannot be written ({error.strerror}); make room or name a file") from None


@contextmanager
def quiet_libraries() -> Iterator[None]:
    """Send what C libraries print (a JPEG decoder's complaints, for example) nowhere, by the descriptors they write to.

    Python's own output is held back too, so print nothing in here.
    """
    kept = {}
    for stream, number in ((sys.stdout, 1), (sys.stderr, 2)):
        if stream is not None:
            with suppress(OSError, ValueError):
                stream.flush()
        with suppress(OSError):  # a descriptor that is closed needs no silencing
            kept[number] = os.dup(number)
    try:
        hush(kept)
        yield
    finally:
        for number, copy in kept.items():
            os.dup2(copy, number)
            os.close(copy)


def hush(descriptors=(1, 2)) -> None:
    """Point these descriptors at nothing, for good."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for number in descriptors:
        os.dup2(nowhere, number)
    os.close(nowhere)
