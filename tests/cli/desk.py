"""A desk to type commands at: the sample photographs, a terminal, a process of its own."""

import os
import subprocess
import sys
from pathlib import Path

from ribbonbar.cli import main

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_images"
LORRANDY = ROOT / "ribbon_specs" / "lorrandy.toml"
ORDER = "lorrandy/lorrandy-forces"


def sample(name: str) -> str:
    return str(SAMPLES / f"{name}.jpg")


def command(*arguments: object) -> list[str]:
    """``audit`` with the invented country's specification and order of wear."""
    return ["audit", "--spec", str(LORRANDY), "--order", ORDER, *map(str, arguments)]


def audit(*arguments: object) -> int:
    return main(command(*arguments))


def refused(capsys, *arguments: object) -> str:
    """The one line that says why; nothing on standard output, exit status 2."""
    assert audit(*arguments) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("ribbonbar: ")
    assert told.err.count("\n") == 1
    return told.err


def program(*arguments: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """The console command in a process of its own."""
    code = "from ribbonbar.cli import run; run()"
    settings = os.environ | {"OMP_NUM_THREADS": "1"} | environment
    return subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, env=settings, timeout=60)


def in_terminal(arguments: list[str], typed: list[str], ask: str = "leaves it open: ", **environment: str):
    """Run the command on a terminal of 100 columns and type a line at each prompt: (what was shown, exit status)."""
    import fcntl
    import pty
    import struct
    import termios

    code = "from ribbonbar.cli import run; run()"
    pid, terminal = pty.fork()
    if pid == 0:  # pragma: no cover - the child
        settings = os.environ | {"TERM": "xterm-256color", "OMP_NUM_THREADS": "1"} | environment
        settings.pop("COLUMNS", None)
        os.execve(sys.executable, [sys.executable, "-c", code, *arguments], settings)
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 100, 0, 0))
    shown, answered = b"", 0
    while True:
        try:
            piece = os.read(terminal, 65536)
        except OSError:  # the program has ended
            break
        shown += piece
        if shown.count(ask.encode()) > answered and answered < len(typed):
            os.write(terminal, typed[answered].encode())
            answered += 1
    status = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    os.close(terminal)
    return shown.decode(errors="replace").replace("\r\n", "\n"), status
