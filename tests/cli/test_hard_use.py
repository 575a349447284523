"""Every command in hard use: consoles of few letters, places that cannot be written, full disks, Ctrl-C, files gone."""

import contextlib
import io
import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from ribbonbar import batch, job
from ribbonbar.cli import main
from ribbonbar.spec import reader
from tests.cli.desk import LORRANDY, ORDER, SAMPLES, command, program, sample

BAR = ("--spec", LORRANDY, "--order", ORDER)
WORK_ORDER = SAMPLES / "work-order.toml"
COMMANDS = {
    "audit": ("audit", sample("shared-ribbon"), *BAR),
    "audit of many": ("audit", sample("in-order"), sample("out-of-order"), *BAR, "--workers", "1"),
    "plan": ("plan", WORK_ORDER, "--spec", LORRANDY),
    "explain": ("explain", "Lorrandy War Medal", "Straits Star", *BAR),
    "spec check": ("spec", "check", LORRANDY),
    "spec coverage": ("spec", "coverage", LORRANDY),
    "spec lookalikes": ("spec", "lookalikes", LORRANDY),
    "spec from-photo": ("spec", "from-photo", sample("unknown"), "--spec", LORRANDY),
}
OUTPUTS = [
    *(("audit", option) for option in ("--json", "--html", "--csv", "--annotate", "--show-grid", "--debug-folder")),
    *(("audit of many", option) for option in ("--json", "--html", "--csv")),
    *(("plan", option) for option in ("--json", "--svg", "--png", "--pdf", "--cutting")),
    ("explain", "--json"),
    ("spec lookalikes", "--json"),
    ("spec from-photo", "-o"),
    ("spec draw", "-o"),
]
ONE_OF_EACH = [
    *(("audit", "--html"), ("audit", "--debug-folder"), ("audit of many", "--json"), ("audit of many", "--html")),
    *(("plan", "--pdf"), *OUTPUTS[-4:]),
]
ENDINGS = {"--annotate": "a.png", "--show-grid": "g.png"}


def words(name: str, *more: object) -> list[str]:
    typed = COMMANDS.get(name, ("spec", "draw", LORRANDY))
    return [*map(str, typed), *map(str, more)]


def one_line(capsys: pytest.CaptureFixture) -> str:
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("ribbonbar: ")
    assert told.err.count("\n") == 1
    return told.err


class Console(io.TextIOWrapper):
    """Standard output of another encoding."""

    def __init__(self, encoding: str) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, newline="\n")

    def shown(self) -> str:
        self.flush()
        return self.buffer.getvalue().decode(self.encoding)


def on_console(monkeypatch: pytest.MonkeyPatch, encoding: str, arguments: list[str]) -> tuple[int, str, str]:
    out, err = Console(encoding), Console(encoding)
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", out)
        patch.setattr(sys, "stderr", err)
        status = main(arguments)
    return status, out.shown(), err.shown()


@pytest.mark.parametrize("name", COMMANDS)
def test_a_console_of_few_letters_shows_what_it_can(monkeypatch, name):
    """Plain ASCII and Western European consoles: the same status and the same lines as with every letter there is."""
    everything = on_console(monkeypatch, "utf-8", words(name))
    for encoding in ("ascii", "latin-1"):
        shown = on_console(monkeypatch, encoding, words(name))
        assert shown[0] == everything[0]
        for few, all_letters in zip(shown[1:], everything[1:], strict=True):
            assert few == all_letters.encode(encoding, "replace").decode(encoding)


@pytest.mark.parametrize("name", ["audit", "audit of many", "plan", "explain", "spec lookalikes"])
def test_json_loses_no_letter_on_any_console(monkeypatch, name):
    """It is plain ASCII, so what reads it gets every letter back."""
    few = on_console(monkeypatch, "ascii", words(name, "--json", "-"))[1]
    every = on_console(monkeypatch, "utf-8", words(name, "--json", "-"))[1]
    for one, other in zip(few.splitlines(), every.splitlines(), strict=True):
        assert one.isascii()
        if "timing" not in one:
            assert one == other
    assert json.loads(few) if name != "audit of many" else all(map(json.loads, few.splitlines()))


def test_errors_and_help_need_no_letter_but_ascii():
    """A machine without any language set (LANG=C), in a process of its own: names of any alphabet come out somehow."""
    bare = {"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    refused = program("explain", "Médaille “Ж”", "Straits Star", "--spec", str(LORRANDY), **bare)
    assert refused.returncode == 2
    assert refused.stderr.startswith(b"ribbonbar: ")
    assert refused.stderr.count(b"\n") == 1
    for arguments in (["--help"], ["audit", "--help"], ["plan", "--help"], ["spec", "--help"]):
        helped = program(*arguments, **bare)
        assert (helped.returncode, helped.stderr) == (0, b"")


@pytest.mark.skipif(os.name != "posix", reason="closing descriptors as a shell of POSIX does")
@pytest.mark.parametrize("name", ["audit", "plan", "explain"])
def test_a_closed_standard_output_is_no_error(name):
    """As in ``ribbonbar … >&-``, and with both streams closed."""
    code = "from ribbonbar.cli import run; run()"
    expected = program(*words(name)).returncode
    for closing in (">&-", ">&- 2>&-"):
        shell = f'exec "$0" "$@" {closing}'
        ran = subprocess.run(["sh", "-c", shell, sys.executable, "-c", code, *words(name)], stderr=subprocess.PIPE)
        assert (ran.returncode, ran.stderr) == (expected, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full is a Linux thing")
@pytest.mark.parametrize("name", ["audit", "plan", "explain", "spec check", "spec coverage"])
def test_a_full_disk_behind_standard_output_is_said(name):
    """As in ``ribbonbar … > file`` on a full disk: status 2 and one line, for what was not written is not done."""
    code = "from ribbonbar.cli import run; run()"
    with Path("/dev/full").open("wb") as full:
        ran = subprocess.run([sys.executable, "-c", code, *words(name)], stdout=full, stderr=subprocess.PIPE)
    assert ran.returncode == 2
    assert ran.stderr.count(b"\n") == 1
    assert b"standard output cannot be written (No space left on device)" in ran.stderr


@pytest.mark.parametrize(("name", "option"), OUTPUTS)
def test_an_output_that_cannot_be_written_is_one_line(capsys, tmp_path, name, option):
    """A folder where a file is to be, a folder that is not there, a name no file can have: said before anything is
    printed or written."""
    file = ENDINGS.get(option, "out")
    if option == "--debug-folder":
        (tmp_path / file).write_text("mine")
    else:
        (tmp_path / file).mkdir()
        assert main(words(name, option, tmp_path / "none" / file)) == 2
        assert "does not exist; make it first" in one_line(capsys)
    assert main(words(name, option, tmp_path / file)) == 2
    assert "folder" in one_line(capsys)
    assert main(words(name, option, tmp_path / f"{'x' * 300}.png")) == 2
    one_line(capsys)
    assert [path.name for path in tmp_path.iterdir()] == [file]


@pytest.mark.skipif(not Path("/sys/kernel").is_dir(), reason="a folder that nobody may write into, Linux has one")
@pytest.mark.parametrize(("name", "option"), OUTPUTS)
def test_a_read_only_folder_is_said(capsys, name, option):
    """Where even the administrator may not write: status 2, one line, what the system said."""
    file = Path("/sys/kernel") / ENDINGS.get(option, "ribbonbar-out")
    assert main(words(name, option, file)) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "cannot" in told
    assert "(Permission denied)" in told or "(Operation not permitted)" in told or "(Read-only file system)" in told
    assert not file.exists()


@pytest.mark.skipif(os.name != "posix", reason="limits on files of POSIX systems")
@pytest.mark.parametrize(("name", "option"), ONE_OF_EACH)
def test_a_disk_that_fills_up_leaves_no_half_file(tmp_path, name, option):
    """The system takes 400 bytes of a file and no more: status 2, one line, and no part of the output stays."""
    code = (
        "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (400, 400))\nfrom ribbonbar.cli import run; run()"
    )
    typed = words(name, option, tmp_path / ENDINGS.get(option, "out"))
    settings = os.environ | {"OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    ran = subprocess.run([sys.executable, "-c", code, *typed], capture_output=True, env=settings, timeout=60)
    assert ran.returncode == 2
    assert ran.stderr.count(b"\n") == 1
    assert b"(File too large)" in ran.stderr
    left = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert [path.read_bytes() for path in left] in (
        [],
        [b""],
    )  # reports of many photos: none, and the file to go on with


@pytest.mark.parametrize("name", [*COMMANDS, "spec draw"])
def test_ctrl_c_ends_every_command_with_one_line(capsys, monkeypatch, tmp_path, name):
    """While the specification is read: status 130 and a word that it has stopped, no traceback."""

    def pressed(*arguments: object) -> None:
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(reader, "Document", pressed)
    assert main(words(name, *(["-o", tmp_path / "x.png"] if name == "spec draw" else []))) == 130
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.strip().splitlines()[-1].startswith("ribbonbar: stopped")
    assert len(told.err.strip().splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("name", "option"), [pair for pair in ONE_OF_EACH if pair != ("audit of many", "--json")])
def test_ctrl_c_while_a_file_is_written_leaves_none(capsys, monkeypatch, tmp_path, name, option):
    """The half-written file goes, whether an earlier one stands there or not."""

    def pressed(number: int) -> None:
        signal.raise_signal(signal.SIGINT)

    file = tmp_path / ENDINGS.get(option, "out")
    monkeypatch.setattr(os, "fsync", pressed)
    assert main(words(name, option, file)) == 130
    assert capsys.readouterr().err.strip() == "ribbonbar: stopped"
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    if option != "--debug-folder":
        file.write_text("earlier")
        assert main(words(name, option, file, "--force")) == 130
        assert [path.read_text() for path in tmp_path.iterdir()] == ["earlier"]


def test_a_photo_that_goes_away_meanwhile_is_said(capsys, monkeypatch, tmp_path):
    """Between the looking and the opening: status 2, one line, nothing written."""
    photo, page = tmp_path / "bar.jpg", tmp_path / "bar.html"
    shutil.copy(sample("in-order"), photo)
    checked = job.check_files

    def gone(*arguments: object) -> None:
        checked(*arguments)
        photo.unlink()

    monkeypatch.setattr(job, "check_files", gone)
    assert main(command(photo, "--html", page)) == 2
    assert "bar.jpg: no such file" in one_line(capsys)
    assert list(tmp_path.iterdir()) == []


def test_of_many_photos_one_that_goes_away_meanwhile_is_told_and_tried_again(capsys, monkeypatch, tmp_path):
    """The others are reported; when it is back, --resume audits that one alone."""
    photos = [tmp_path / f"{name}.jpg" for name in ("in-order", "out-of-order")]
    for photo in photos:
        shutil.copy(sample(photo.stem), photo)
    lines = tmp_path / "r.jsonl"
    looked = batch.content_hash

    def gone(photo: Path) -> str:
        found = looked(photo)
        if photo == photos[0]:
            photo.unlink()
        return found

    with monkeypatch.context() as patch:
        patch.setattr(batch, "content_hash", gone)
        assert main(command(*photos, "--json", lines, "--workers", 1)) == 2
    assert "in-order.jpg: no such file" in capsys.readouterr().err
    shutil.copy(sample("in-order"), photos[0])
    assert main(command(*photos, "--json", lines, "--workers", 1, "--resume")) == 1
    outcomes = [json.loads(line)["outcome"] for line in lines.read_text().splitlines()]
    assert outcomes == ["in-order", "out-of-order"]


@pytest.mark.parametrize("name", ["audit", "plan", "explain", "spec lookalikes", "spec from-photo"])
def test_a_specification_that_goes_away_meanwhile_is_said(capsys, monkeypatch, tmp_path, name):
    """Found, then gone when it is to be read."""
    spec = tmp_path / "lorrandy.toml"
    shutil.copy(LORRANDY, spec)
    real = reader.Document

    def gone(path: Path):
        with contextlib.suppress(FileNotFoundError):
            spec.unlink()
        return real(path)

    monkeypatch.setattr(reader, "Document", gone)
    assert main([word if word != str(LORRANDY) else str(spec) for word in words(name)]) == 2
    assert "lorrandy.toml" in one_line(capsys)
