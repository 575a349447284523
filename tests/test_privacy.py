"""Nothing leaves the machine and nothing is left on it: no socket, no file but those named, no metadata in any.

Every command runs once, in a process that notes what it opens, on photographs full of what phones write into them,
from folders whose names are nobody's business.
"""

import base64
import io
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import zlib
from dataclasses import dataclass
from pathlib import Path

import pytest
from PIL import Image, ImageCms

from ribbonbar.spec.colour import srgb_profile
from tests.cli.desk import LORRANDY, ORDER, SAMPLES

WATCHER = """\
import atexit, json, os, sys

LOG, WRITING = os.environ["WATCHED_BY"], os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
NAMING = {"os.mkdir": [0], "os.rename": [0, 1], "os.link": [0, 1], "os.symlink": [1], "sqlite3.connect": [0]}
noting = False


def note(kind, what):
    line = json.dumps([kind, what]) + "\\n"
    file = os.open(LOG, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(file, line.encode())
    os.close(file)


def watch(event, arguments):
    global noting
    if noting:
        return
    noting = True
    try:
        if event.startswith("socket."):
            note("socket", [event, *map(str, arguments[1:])])
        elif event == "open" and isinstance(arguments[2], int) and arguments[2] & WRITING:
            if isinstance(arguments[0], (str, bytes)):
                note("written", os.path.abspath(os.fsdecode(arguments[0])))
        elif event in NAMING:
            for place in NAMING[event]:
                note("written", os.path.abspath(os.fsdecode(arguments[place])))
        elif event in ("os.system", "os.exec", "os.posix_spawn", "subprocess.Popen"):
            note("program", repr(arguments[0]))
    finally:
        noting = False


def left_open():
    folder = "/proc/self/fd"  # what a library opens without Python's knowledge would still be here
    for number in os.listdir(folder) if os.path.isdir(folder) else ():
        try:
            target = os.readlink(f"{folder}/{number}")
        except OSError:
            continue
        if target.startswith("socket:"):
            note("socket left open", target)


sys.addaudithook(watch)
atexit.register(left_open)
"""
SECRETS = ("SECRETMAKER", "SECRETSERIAL", "SECRETCOMMENT", "SECRETXMP", "SECRETPROFILE", "secretfolder", "2031:01:01")


@dataclass(frozen=True)
class Ran:
    """All commands run once: ``out`` holds every file asked for, ``noted`` what the processes did, by command."""

    out: Path
    private: Path
    named: set[str]
    noted: dict[str, list[list]]
    printed: dict[str, bytes]


def phone_photo(source: Path, target: Path) -> None:
    """A photograph with maker, serial number, place, comment, XMP and a colour profile of its own."""
    exif = Image.Exif()
    exif[0x010F] = "SECRETMAKER"
    exif.get_ifd(0x8769)[0xA431] = "SECRETSERIAL"
    exif.get_ifd(0x8825)[29] = "2031:01:01"  # GPSDateStamp
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    named = profile.replace("sRGB built-in".encode("utf-16-be"), "SECRETPROFILE".encode("utf-16-be"))
    assert named != profile
    metadata = {"exif": exif, "icc_profile": named, "comment": b"SECRETCOMMENT", "xmp": b"<x:xmpmeta>SECRETXMP"}
    Image.open(source).save(target, quality=92, **metadata)
    held = target.read_bytes()
    assert all(secret.encode() in held or secret.encode("utf-16-be") in held for secret in SECRETS[:5])


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    private = tmp_path_factory.mktemp("secretfolder")
    out = tmp_path_factory.mktemp("out")
    day = private / "day"
    day.mkdir()
    for name in ("out-of-order", "finished-bar", "unknown"):
        phone_photo(SAMPLES / f"{name}.jpg", day / f"{name}.jpg")
    for path in (LORRANDY, SAMPLES / "work-order.toml"):
        shutil.copy(path, private / path.name)
    for empty in ("home", "cache", "tmp", "work"):
        (private / empty).mkdir()
    watcher = private / "watcher"
    watcher.mkdir()
    (watcher / "sitecustomize.py").write_text(WATCHER)
    spec, work_order = private / LORRANDY.name, private / "work-order.toml"
    bar = ["--spec", spec, "--order", ORDER]
    commands = {
        "audit": [
            *("audit", day / "finished-bar.jpg", *bar, "--work-order", work_order, "--json", out / "one.json"),
            *("--html", out / "one.html", "--csv", out / "one.csv", "--annotate", out / "one.png"),
            *("--handover", out / "sheet.html", "--show-grid", out / "grid.png", "--debug-folder", out / "stages"),
        ],
        "audit to jpeg": ["audit", day / "out-of-order.jpg", *bar, "--annotate", out / "one.jpg", "--json", "-"],
        "audit many": [
            *("audit", day, *bar, "--workers", "2", "--json", out / "many.jsonl"),
            *("--html", out / "many.html", "--csv", out / "many.csv"),
        ],
        "plan": [
            *("plan", work_order, "--spec", spec, "--json", out / "plan.json", "--svg", out / "plan.svg"),
            *("--png", out / "plan.png", "--pdf", out / "plan.pdf", "--cutting", out / "cutting.csv"),
        ],
        "explain": ["explain", "Lorrandy War Medal", "Straits Star", *bar, "--json", out / "why.json"],
        "spec check": ["spec", "check", spec],
        "spec draw": ["spec", "draw", spec, "-o", out / "chart.png"],
        "spec coverage": ["spec", "coverage", spec],
        "spec lookalikes": ["spec", "lookalikes", spec, "--json", out / "alike.json"],
        "spec from-photo": ["spec", "from-photo", day / "unknown.jpg", "--spec", spec, "-o", out / "draft.toml"],
    }
    noted, printed = {}, {}
    for name, words in commands.items():
        log = private / f"{name}.log"
        environment = os.environ | {
            "PYTHONPATH": os.pathsep.join([str(watcher), *filter(None, [os.environ.get("PYTHONPATH")])]),
            "WATCHED_BY": str(log),
            "PYTHONDONTWRITEBYTECODE": "1",
            "OMP_NUM_THREADS": "1",
            "HOME": str(private / "home"),
            "XDG_CACHE_HOME": str(private / "cache"),
            "XDG_CONFIG_HOME": str(private / "home"),
            **dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(private / "tmp")),
        }
        done = subprocess.run(
            [sys.executable, "-c", "from ribbonbar.cli import run; run()", *map(str, words)],
            capture_output=True,
            env=environment,
            cwd=private / "work",
            timeout=120,
        )
        assert done.returncode in (0, 1, 3), f"{name}: {done.stderr.decode()}"
        noted[name] = [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []
        printed[name] = done.stdout
    named = {
        word.name for words in commands.values() for word in words if isinstance(word, Path) and word.parent == out
    }
    return Ran(out, private, named, noted, printed)


def test_the_watcher_sees_what_it_is_to_see(tmp_path: Path) -> None:
    """A program that opens a socket and writes a file is noted, so silence below means something."""
    (tmp_path / "sitecustomize.py").write_text(WATCHER)
    code = "import socket; socket.socket().close(); open('x', 'w').close()"
    environment = os.environ | {"PYTHONPATH": str(tmp_path), "WATCHED_BY": str(tmp_path / "log")}
    subprocess.run([sys.executable, "-c", code], env=environment, cwd=tmp_path, check=True)
    noted = [json.loads(line) for line in (tmp_path / "log").read_text().splitlines()]
    assert {kind for kind, _ in noted} == {"socket", "written"}


def test_no_socket_is_ever_opened(ran: Ran) -> None:
    """No command opens a network socket; one photo opens none at all. The workers of many photos talk to their parent
    through pairs of unnamed local sockets, as the operating system gives them."""
    for name, noted in ran.noted.items():
        sockets = [what for kind, what in noted if kind == "socket"]
        if name == "audit many":
            sockets = [what for what in sockets if what[:2] != ["socket.__new__", str(int(socket.AF_UNIX))]]
        assert sockets == [], name
        assert [what for kind, what in noted if kind == "socket left open" and name != "audit many"] == []


def test_only_the_files_named_are_written(ran: Ran) -> None:
    """No cache, no settings, no temporary file anywhere but beside the output it becomes."""
    for name, noted in ran.noted.items():
        elsewhere = {what for kind, what in noted if kind == "written" and not what.startswith(f"{ran.out}{os.sep}")}
        assert elsewhere <= {os.devnull}, name
    for empty in ("home", "cache", "tmp", "work"):
        assert list((ran.private / empty).iterdir()) == [], empty
    assert {path.name for path in ran.out.iterdir()} == ran.named


def test_no_other_program_is_started(ran: Ran) -> None:
    """Workers apart, which are this program itself, and what older numpy asks of the processor when it is loaded."""
    for name, noted in ran.noted.items():
        assert {what for kind, what in noted if kind == "program"} <= {"'lscpu'"}, name


def unpacked(path: Path) -> list[bytes]:
    """A file's bytes, and those of everything packed in it: pictures in a page, streams in a PDF."""
    data = path.read_bytes()
    parts = [data]
    if path.suffix in (".html", ".svg"):
        parts += [base64.b64decode(found) for found in re.findall(rb"base64,([A-Za-z0-9+/=]+)", data)]
    if path.suffix == ".pdf":
        for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL):
            try:
                parts.append(zlib.decompress(stream))
            except zlib.error:
                parts.append(stream)
    return parts


def test_nothing_private_is_in_any_output(ran: Ran) -> None:
    """Neither what the camera wrote into the photograph nor where on the disk anything lies."""
    files = [path for path in ran.out.rglob("*") if path.is_file()]
    user = os.environ.get("USER", "")
    secrets = [*SECRETS, str(ran.private), str(ran.out), str(Path.home()), *([user] if len(user) > 4 else [])]
    for path in files:
        for part in unpacked(path):
            for secret in secrets:
                for code in ("utf-8", "utf-16-be", "utf-16-le"):
                    assert secret.encode(code) not in part, (path.name, secret)
    assert b"secretfolder" not in ran.printed["audit to jpeg"]


ALLOWED = {"dpi", "jfif", "jfif_version", "jfif_unit", "jfif_density", "icc_profile"}


def test_pictures_hold_pixels_and_nothing_else(ran: Ran) -> None:
    """PNG (ISO/IEC 15948): no text, time or EXIF chunk; the scale of a drawing to scale, and the plain sRGB profile,
    undated and the same for everybody. JPEG: no EXIF (APP1), no profile (APP2), no comment."""
    pictures = []
    for path in (path for path in ran.out.rglob("*") if path.is_file()):
        inside = unpacked(path)[1:] if path.suffix == ".html" else [path.read_bytes()]
        pictures += [(path.name, data) for data in inside if data[:2] in (b"\x89P", b"\xff\xd8")]
    assert len(pictures) > 15
    for name, data in pictures:
        with Image.open(io.BytesIO(data)) as picture:
            assert picture.info.keys() <= ALLOWED, name
            assert picture.info.get("icc_profile") in (None, srgb_profile()), name
            assert not picture.getexif(), name
        if data.startswith(b"\x89P"):
            kinds, at = set(), 8
            while at < len(data):
                kinds.add(data[at + 4 : at + 8])
                at += int.from_bytes(data[at : at + 4]) + 12
            assert kinds <= {b"IHDR", b"PLTE", b"tRNS", b"iCCP", b"IDAT", b"IEND", b"pHYs"}, name
        else:
            head = data[: data.index(b"\xff\xda")]
            assert re.findall(rb"\xff[\xe1-\xef\xfe]..[A-Za-z]{4}", head, re.DOTALL) == [], name


def test_the_pdf_says_nothing_of_its_making(ran: Ran) -> None:
    """ISO 32000-2, 14.3: neither an author nor a program; the one date that the format wants is 1 January 1970."""
    whole = b"".join(unpacked(ran.out / "plan.pdf"))
    for key in (b"/Author", b"/Creator", b"/ModDate", b"/Producer", b"/Title", b"xmpmeta"):
        assert key not in whole, key
    assert re.findall(rb"/CreationDate \((.*?)\)", whole) == [b"D:19700101000000Z"]
