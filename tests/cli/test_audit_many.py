"""``ribbonbar audit`` with a day's photographs, as a marshal types it before a parade."""

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from PIL import Image

from ribbonbar.batch import Batch, Entry
from ribbonbar.cli import main
from ribbonbar.findings import Finding
from ribbonbar.many import brief, summary
from ribbonbar.report.as_json import to_json
from ribbonbar.report.model import Bar, Photo, Position, Report
from ribbonbar.report.text import columns
from tests.cli.desk import LORRANDY, ORDER, SAMPLES, audit, command, refused, sample

CORNERS = ((0.0, 0.0), (40.0, 0.0), (40.0, 12.0), (0.0, 12.0))


@pytest.fixture
def day(tmp_path):
    """A folder: a bar in order, one out of order, a table without a bar, a picture cut short, and a note."""
    folder = tmp_path / "day"
    folder.mkdir()
    shutil.copy(sample("in-order"), folder / "a.jpg")
    shutil.copy(sample("out-of-order"), folder / "b.jpg")
    Image.new("RGB", (400, 300), (118, 96, 70)).save(folder / "c.png")
    (folder / "d.jpg").write_bytes((SAMPLES / "in-order.jpg").read_bytes()[:20_000])
    (folder / "note.txt").write_text("parade at ten")
    return folder


def test_a_folder_is_a_line_a_photo_worst_first_then_the_counts(capsys, day, tmp_path):
    """All photos are audited; the status is the worst; JSON Lines, overview and table hold every one."""
    files = {"--json": "r.jsonl", "--html": "r.html", "--csv": "r.csv"}
    written = [word for option, name in files.items() for word in (option, tmp_path / name)]
    assert audit(day, *written) == 2
    told = capsys.readouterr()
    assert told.err == f"ribbonbar: {day / 'd.jpg'}: the JPEG is cut short; copy the photo again\n"
    lines = told.out.splitlines()
    assert [line.split("  ")[0] for line in lines[:4]] == ["Not readable", "Out of order", "No bar found", "In order"]
    assert lines[1].endswith("1.3 wrong place")
    assert "4 photographs: 1 not readable, 1 out of order, 1 no bar found and 1 in order." in lines
    assert "proves no entitlement" in told.out
    reports = [json.loads(line) for line in (tmp_path / "r.jsonl").read_text().splitlines()]
    assert [report["photo"]["name"] for report in reports] == ["a.jpg", "b.jpg", "c.png", "d.jpg"]
    page = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert page.count("data:image/jpeg") >= 2
    assert str(day) not in page
    rows = list(csv.DictReader((tmp_path / "r.csv").open(encoding="utf-8-sig", newline="")))
    assert {row["photo"] for row in rows} == {"a.jpg", "b.jpg", "c.png", "d.jpg"}


def test_a_photo_that_is_not_there_stops_nothing(capsys, day):
    """The others are audited; one line on standard error says which cannot be used."""
    assert audit(day / "a.jpg", day / "gone.jpg", day / "lost.jpg") == 2
    told = capsys.readouterr()
    assert told.err.count("\n") == 1
    assert "gone.jpg: cannot be read" in told.err
    assert "1 more that could not be used" in told.err
    assert "2 not readable and 1 in order" in told.out


def test_without_an_unusable_one_the_status_is_that_of_the_worst_bar(capsys, day):
    """Out of order before no bar found before in order; standard error is silent."""
    assert audit(day / "a.jpg", day / "b.jpg", day / "c.png") == 1
    assert audit(day / "a.jpg", day / "c.png") == 3
    assert capsys.readouterr().err == ""


def test_a_copy_of_a_photo_is_left_out_and_said_so(capsys, day):
    """The same picture under two names is audited once."""
    shutil.copy(day / "a.jpg", day / "copy.jpg")
    assert audit(day / "a.jpg", day / "copy.jpg") == 0
    told = capsys.readouterr().out
    assert f"copy.jpg: left out, the same picture as {day / 'a.jpg'}" in told
    assert "1 photograph: 1 in order." in told


def test_json_on_standard_output_is_a_report_a_line(capsys, day):
    """Nothing else is printed there."""
    assert audit(day / "a.jpg", day / "b.jpg", "--json", "-") == 1
    reports = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [report["outcome"] for report in reports] == ["in-order", "out-of-order"]


def test_a_stopped_run_goes_on(capsys, day, tmp_path):
    """Photos reported already are not audited again, and the overview shows their bars all the same."""
    lines, page = tmp_path / "r.jsonl", tmp_path / "r.html"
    assert audit(day / "a.jpg", day / "b.jpg", "--json", lines) == 1
    before = lines.read_text().splitlines()
    capsys.readouterr()
    assert "--resume" in refused(capsys, day, "--json", lines)
    assert audit(day, "--json", lines, "--resume", "--html", page) == 2
    after = lines.read_text().splitlines()
    assert len(after) == 4
    assert set(before) < set(after)
    assert page.read_text(encoding="utf-8").count("data:image/jpeg") >= 2
    assert "4 photographs" in capsys.readouterr().out


def test_a_stopped_run_goes_on_only_with_the_options_it_began_with(capsys, day, tmp_path):
    """A record, another order or an edited specification in between would make one file of two answers."""
    lines, spec = tmp_path / "r.jsonl", tmp_path / "lorrandy.toml"
    shutil.copy(LORRANDY, spec)
    begun = ["audit", str(day / "a.jpg"), "--json", str(lines), "--spec", str(spec)]
    assert main([*begun, str(day / "b.jpg")]) == 1
    before = lines.read_bytes()
    capsys.readouterr()
    others = {
        "--record": SAMPLES / "record.toml",
        "--work-order": SAMPLES / "work-order.toml",
        "--order": ORDER,
        "--max-megapixels": 50,
    }
    for option, value in others.items():
        assert main([*begun, "--resume", option, str(value)]) == 2
        assert f"line 1 was made with another {option}; go on as the run began" in capsys.readouterr().err
    spec.write_text(spec.read_text(encoding="utf-8") + "\n# a new edition\n", encoding="utf-8")
    assert main([*begun, "--resume"]) == 2
    assert "made with other specification files, or other editions of them; go on" in capsys.readouterr().err
    assert lines.read_bytes() == before


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--corners", "1,1 9,1 9,9 1,9"),
        ("--annotate", "a.png"),
        ("--handover", "h.html"),
        ("--answer", "1.1=Sea Gallantry Cross"),
        ("--answers", "answers.toml"),
        ("--ask", None),
        ("--show-grid", "g.png"),
        ("--debug-folder", "stages"),
    ],
)
def test_what_is_for_one_photo_is_refused_for_several(capsys, day, option, value):
    """Before anything is audited or written."""
    told = refused(capsys, day, option, *([value] if value else []))
    assert f"{option} is for one photo" in told


def test_going_on_needs_the_file_to_go_on_with(capsys, day):
    """--resume alone says nothing of where the earlier reports are."""
    assert "name it with --json FILE" in refused(capsys, day, "--resume")


def test_a_wrong_order_is_said_once_and_before_the_work(capsys, day):
    """Not once a photo."""
    assert "did you mean" in refused(capsys, day, "--order", "lorrandy/lorrandy-force")


def test_no_photo_and_no_earlier_file_is_written_over(capsys, day, tmp_path):
    """The photos are inputs; a file that is there is kept."""
    photo = (day / "a.jpg").read_bytes()
    page = tmp_path / "r.html"
    page.write_text("mine")
    for option in ("--json", "--html", "--csv"):
        assert "files being read" in refused(capsys, day, option, day / "a.jpg", "--force")
    assert "--force" in refused(capsys, day, "--html", page)
    assert (day / "a.jpg").read_bytes() == photo
    assert page.read_text() == "mine"


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C reaches a group of processes otherwise there")
def test_ctrl_c_keeps_what_is_done(day, tmp_path):
    """Status 130, one line that says how to go on, whole lines in the file."""
    for number in range(40):  # each another picture: bytes after the end of a JPEG are passed over
        (day / f"n{number:02}.jpg").write_bytes((day / "a.jpg").read_bytes() + bytes([number]))
    lines = tmp_path / "r.jsonl"
    code = "from ribbonbar.cli import run; run()"
    run = subprocess.Popen(
        [sys.executable, "-c", code, *command(day, "--json", lines, "--workers", 1)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    deadline = time.monotonic() + 40
    while not (lines.exists() and lines.read_bytes().count(b"\n") >= 2):
        assert time.monotonic() < deadline, "the run does not get on"
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGINT)
    out, err = run.communicate(timeout=20)
    assert run.returncode == 130
    assert out == b""
    assert err.count(b"\n") == 1
    assert b"go on with --resume" in err
    assert all(json.loads(line) for line in lines.read_text().splitlines())


def photo_of(name: str, outcome: str, positions=(), findings=()) -> Entry:
    report = Report(
        Photo(name, 400, 300, "0" * 64),
        outcome,
        "",
        (Bar(CORNERS, (tuple(Position(number, CORNERS, status) for number, status in positions),)),),
        findings,
    )
    return Entry(Path("a/long/way/to/the/photographs") / name, "", to_json(report))


def lines_of(*entries: Entry, width: int | None = None) -> list[str]:
    from ribbonbar.report.as_json import from_json

    reports = {entry.photo: from_json(entry.line) for entry in entries}
    return summary(Batch(entries), reports, width).splitlines()


def test_a_line_says_which_ribbon_to_look_at():
    """Positions with a word each, rather than a sentence that begins the same on every line."""
    findings = (Finding("swapped", ("1.1", "1.2"), "error", "1.1 and 1.2 are swapped."),)
    statuses = [("1.1", "identified"), ("1.2", "identified"), ("1.3", "unidentified")]
    (line, *_) = lines_of(photo_of("x.jpg", "out-of-order", statuses, findings))
    assert line.endswith("x.jpg  1.1, 1.2 swapped; 1.3 not recognised")


def test_lines_fit_the_terminal_and_keep_the_files_name():
    """A long path is cut where the folders are; without a terminal nothing is cut."""
    entry = photo_of("the-name-that-matters.jpg", "unconfirmed", [(f"1.{n}", "unidentified") for n in range(1, 40)])
    (narrow, *_), (whole, *_) = lines_of(entry, width=80), lines_of(entry)
    assert columns(narrow) <= 80
    assert "the-name-that-matters.jpg" in narrow
    assert str(entry.photo) in whole
    assert whole.endswith("1.39 not recognised")


def test_what_concerns_the_whole_photo_is_said_too():
    """A mirrored photograph is no ribbon's fault."""
    report = Report(Photo("x.jpg", 4, 3, ""), "in-order", "", (), (Finding("mirrored-photo", (), "warning", "…"),))
    assert brief(report) == "the photo looks mirrored"


def test_names_cannot_steer_the_terminal():
    """A file's name with an escape sequence is shown harmless."""
    assert "\x1b" not in "".join(lines_of(photo_of("\x1b[2J.jpg", "in-order"), width=80))
