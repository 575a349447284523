"""A day's photographs: nothing stops the batch, nothing finished is lost, and the file says the same however it ran."""

import errno
import json
import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ribbonbar import jsonlines
from ribbonbar.batch import audit_many, expand, progress_bar
from ribbonbar.errors import Exit, OptionError, OutputError, SpecError
from ribbonbar.report.as_json import from_json
from tests.batch_jobs import QuickJob

ROOT = Path(__file__).parents[1]


def folder_of(tmp_path: Path, *contents: str) -> list[Path]:
    """Photos named 000.jpg, 001.jpg … with these contents."""
    folder = tmp_path / "day"
    folder.mkdir()
    photos = [folder / f"{number:03}.jpg" for number in range(len(contents))]
    for photo, content in zip(photos, contents, strict=True):
        photo.write_text(content)
    return photos


def numbered(count: int) -> list[str]:
    return [f"photo {number} {'.' * (number % 5)}" for number in range(count)]


def lines_of(output: Path) -> list[dict]:
    data = output.read_text()
    assert data.endswith("\n")
    return [json.loads(line) for line in data.splitlines()]


def without_timing(output: Path) -> list[dict]:
    return [{key: value for key, value in line.items() if key != "timing_ms"} for line in lines_of(output)]


def start(folder: Path, output: Path, seconds: float, workers: int = 2) -> subprocess.Popen:
    command = [sys.executable, "-m", "tests.batch_jobs", str(folder), str(output), str(seconds), str(workers)]
    return subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True, start_new_session=True)


def wait_for_lines(output: Path, count: int) -> None:
    deadline = time.monotonic() + 20
    while not output.exists() or output.read_bytes().count(b"\n") < count:
        assert time.monotonic() < deadline, "the batch does not get on"
        time.sleep(0.005)


def test_the_file_is_the_same_on_one_and_on_two_workers(tmp_path):
    """Reports stand in the order of the photos, whoever finished first."""
    photos = folder_of(tmp_path, *numbered(12), "bad picture")
    for workers in (1, 2):
        audit_many(photos, QuickJob(0.002), output=tmp_path / f"{workers}.jsonl", workers=workers)
    assert without_timing(tmp_path / "1.jsonl") == without_timing(tmp_path / "2.jsonl")
    assert [line["photo"]["name"] for line in lines_of(tmp_path / "2.jsonl")] == [photo.name for photo in photos]
    assert lines_of(tmp_path / "2.jsonl")[0]["threads"] == "1"


def test_one_bad_picture_stops_nothing(tmp_path):
    """A damaged photo, a fault of ours, a killed and a hanging worker, a vanished file: an entry each, no more."""
    photos = folder_of(tmp_path, "fine", "bad", "bug", "kill", "hang", "fine too")
    photos.append(tmp_path / "day" / "gone.jpg")
    batch = audit_many(photos, QuickJob(), output=tmp_path / "out.jsonl", workers=2, time_limit=1.5)
    errors = [entry.error for entry in batch.entries]
    assert errors[0] == errors[5] == ""
    assert "damaged or cut short" in errors[1]
    assert "002.jpg: unexpected ValueError: line one line two" in errors[2]
    assert "003.jpg: the process reading it was killed" in errors[3]
    assert "004.jpg: given up after 1.5 s" in errors[4]
    assert "gone.jpg: cannot be read (No such file or directory)" in errors[6]
    assert [entry.extra for entry in batch.entries] == [4, None, None, None, None, 8, None]
    assert batch.exit_status == Exit.UNUSABLE
    assert {from_json(entry.line).outcome for entry in batch.entries if entry.error} == {"no-bar"}
    assert [line["photo"]["name"] for line in lines_of(tmp_path / "out.jsonl")] == [photo.name for photo in photos]


@pytest.mark.parametrize(
    ("lengths", "status"),
    [((4, 8), Exit.SETTLED), ((4, 6), Exit.UNCONFIRMED), ((4, 7), Exit.UNCONFIRMED), ((4, 5, 6), Exit.BROKEN)],
)
def test_the_exit_status_is_the_worst_of_the_photos(tmp_path, lengths, status):
    """In the order unusable, out of order, unconfirmed, in order."""
    photos = folder_of(tmp_path, *("x" * length for length in lengths))
    assert audit_many(photos, QuickJob(), workers=1).exit_status == status


def test_a_run_killed_at_random_moments_goes_on(tmp_path):
    """After any number of kills every photo is reported once, and the file equals that of a run left in peace."""
    folder = folder_of(tmp_path, *numbered(60), "bad one", "another bad one")[0].parent
    peace, killed = tmp_path / "peace.jsonl", tmp_path / "killed.jsonl"
    chance = random.Random(20)
    for _ in range(10):
        done = killed.read_bytes().count(b"\n") if killed.exists() else 0
        run = start(folder, killed, 0.005)
        wait_for_lines(killed, min(done + chance.randrange(6), 55))
        time.sleep(chance.random() * 0.01)
        os.kill(run.pid, signal.SIGKILL)
        run.communicate()
        assert killed.read_bytes().count(b"\n") >= done, "a finished report was lost"
    for output in (killed, peace):
        assert start(folder, output, 0).wait() == 0
    assert without_timing(killed) == without_timing(peace)
    assert len(lines_of(killed)) == 62
    assert [path.name for path in tmp_path.iterdir() if path.suffix == ".lock"] == []


def test_ctrl_c_ends_within_a_second_and_keeps_the_finished_part(tmp_path):
    """The message says how many are reported and how to go on; the exit status is 130."""
    folder = folder_of(tmp_path, *numbered(100))[0].parent
    output = tmp_path / "out.jsonl"
    run = start(folder, output, 0.05)
    wait_for_lines(output, 3)
    began = time.monotonic()
    os.killpg(run.pid, signal.SIGINT)
    _, message = run.communicate()
    assert time.monotonic() - began < 1.0
    assert run.returncode == 130
    count = len(lines_of(output))
    assert 2 <= count < 100  # the one in hand when the key is pressed may go
    assert message.strip() == f"stopped; {count} photos are reported in {output}, go on with --resume"


def test_a_torn_last_line_is_dropped_and_its_photo_done_again(tmp_path):
    """A power cut in the middle of a line costs that line only."""
    photos = folder_of(tmp_path, *numbered(3))
    output = tmp_path / "out.jsonl"
    audit_many(photos, QuickJob(), output=output, workers=1)
    whole = output.read_bytes()
    for cut in (1, 40, 300):
        output.write_bytes(whole[:-cut])
        batch = audit_many(photos, QuickJob(), output=output, workers=1, resume=True)
        assert [entry.resumed for entry in batch.entries].count(False) == (1 if cut < 300 else 2)
        assert [line["photo"]["name"] for line in lines_of(output)] == ["000.jpg", "001.jpg", "002.jpg"]


def test_photos_already_reported_are_known_by_content(tmp_path):
    """A renamed photo is not done again; a changed one is; lines of photos not named this time stay."""
    photos = folder_of(tmp_path, "one", "two", "three")
    output = tmp_path / "out.jsonl"
    audit_many(photos, QuickJob(), output=output, workers=1)
    renamed = photos[0].rename(photos[0].with_name("renamed.jpg"))
    photos[1].write_text("altered")
    batch = audit_many([renamed, photos[1]], QuickJob(), output=output, workers=1, resume=True)
    assert [entry.resumed for entry in batch.entries] == [True, False]
    assert [line["photo"]["name"] for line in lines_of(output)] == ["001.jpg", "002.jpg", "000.jpg", "001.jpg"]


def test_a_run_goes_on_only_as_it_began(tmp_path):
    """Lines made with other options, specification files or an earlier version are not mixed with new ones; nothing is
    lost, and what differs is named."""
    photos = folder_of(tmp_path, "one", "two")
    output = tmp_path / "out.jsonl"
    began = {"version": "1", "specifications": "aa", "order": "x/forces", "record": "", "max_megapixels": "60"}
    audit_many(photos[:1], QuickJob(), output=output, workers=1, made_with=began)
    before = output.read_bytes()
    for key, words in (
        ("version", "another version"),
        ("specifications", "other specification files"),
        ("order", "another --order"),
        ("record", "another --record"),
        ("max_megapixels", "another --max-megapixels"),
    ):
        with pytest.raises(OutputError, match=rf"line 1 was made with {words}\S*( |,|;).*--force"):
            audit_many(photos, QuickJob(), output=output, workers=1, resume=True, made_with=began | {key: "other"})
    with pytest.raises(OutputError, match="another version of ribbonbar, another --order; go on as the run began"):
        other = began | {"version": "2", "order": ""}
        audit_many(photos, QuickJob(), output=output, workers=1, resume=True, made_with=other)
    assert output.read_bytes() == before
    batch = audit_many(photos, QuickJob(), output=output, workers=1, resume=True, made_with=began)
    assert [entry.resumed for entry in batch.entries] == [True, False]
    assert [line["made_with"] for line in lines_of(output)] == [began, began]
    audit_many(photos, QuickJob(), output=output, workers=1, force=True, made_with=other)
    assert {line["made_with"]["version"] for line in lines_of(output)} == {"2"}


def test_lines_that_do_not_say_what_they_were_made_with_are_not_gone_on_with(tmp_path):
    """The report of a photo audited alone may be of any options."""
    photos = folder_of(tmp_path, "one", "two")
    output = tmp_path / "out.jsonl"
    audit_many(photos[:1], QuickJob(), output=output, workers=1)
    with pytest.raises(OutputError, match="line 1 does not say what it was made with"):
        audit_many(photos, QuickJob(), output=output, workers=1, resume=True, made_with={"version": "1"})


def test_a_copy_is_reported_once_and_named(tmp_path):
    """Two files with the same bytes are one photo."""
    photos = folder_of(tmp_path, "same", "other", "same")
    batch = audit_many(photos, QuickJob(), output=tmp_path / "out.jsonl", workers=2)
    assert batch.repeated == ((photos[2], photos[0]),)
    assert [line["photo"]["name"] for line in lines_of(tmp_path / "out.jsonl")] == ["000.jpg", "001.jpg"]


def test_what_a_second_try_may_mend_is_tried_again(tmp_path):
    """A killed worker's photo and a vanished file are tried again; a damaged photo is not."""
    photos = folder_of(tmp_path, "kill", "bad", "away")
    output = tmp_path / "out.jsonl"
    photos[2].rename(tmp_path / "away")
    audit_many(photos, QuickJob(), output=output, workers=1)
    (tmp_path / "away").rename(photos[2])
    batch = audit_many(photos, QuickJob(), output=output, workers=1, resume=True)
    assert [entry.resumed for entry in batch.entries] == [False, True, False]
    assert [bool(line.get("error")) for line in lines_of(output)] == [True, True, False]


def test_a_broken_specification_ends_the_batch_with_its_own_message(tmp_path):
    """What all photos need and cannot have is one error, not one a photo."""
    photos = folder_of(tmp_path, *numbered(5))
    with pytest.raises(SpecError, match="unknown colour"):
        audit_many(photos, QuickJob(broken=True), output=tmp_path / "out.jsonl", workers=2)


def test_two_runs_on_one_file_are_refused(tmp_path):
    """The second run says so and touches nothing; the first goes on to its end."""
    folder = folder_of(tmp_path, *numbered(40))[0].parent
    output = tmp_path / "out.jsonl"
    first = start(folder, output, 0.03)
    wait_for_lines(output, 2)
    with pytest.raises(OutputError, match="another run is writing"):
        audit_many(expand([folder]), QuickJob(), output=output, workers=1, resume=True)
    assert first.wait() == 0
    assert len(lines_of(output)) == 40


def test_a_lock_left_by_a_killed_run_is_no_obstacle(tmp_path):
    """The lock goes with the process that held it, whatever file it leaves."""
    photos = folder_of(tmp_path, "one")
    (tmp_path / "out.jsonl.lock").write_text("")
    audit_many(photos, QuickJob(), output=tmp_path / "out.jsonl", workers=1)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["day", "out.jsonl"]


def test_an_existing_file_is_kept_unless_forced(tmp_path):
    """Neither overwritten without --force, nor taken for reports when it is something else, nor is a photo."""
    photos = folder_of(tmp_path, "one")
    output = tmp_path / "notes.txt"
    for content in ("my notes\n", "my notes", '{"format": "other/1"}\n', '{"a": 1}\n{"format": "rib'):
        output.write_text(content)
        with pytest.raises(OutputError, match="already exists"):
            audit_many(photos, QuickJob(), output=output, workers=1)
        with pytest.raises(OutputError, match="line 1 is no report"):
            audit_many(photos, QuickJob(), output=output, workers=1, resume=True)
        assert output.read_text() == content
    with pytest.raises(OutputError, match="is one of the photos"):
        audit_many(photos, QuickJob(), output=photos[0], workers=1, force=True)
    audit_many(photos, QuickJob(), output=output, workers=1, force=True)
    assert len(lines_of(output)) == 1


def test_a_place_that_cannot_be_written_is_said_before_any_work(tmp_path, monkeypatch):
    """A folder, a missing folder, a device, a read-only folder: one line each, and no file is left."""
    photos = folder_of(tmp_path, "hang")
    for output, words in [
        (tmp_path / "day", "folder"),
        (tmp_path / "none" / "out.jsonl", "does not exist"),
        (Path("/dev/full"), "not a plain file"),
    ]:
        with pytest.raises(OutputError, match=words):
            audit_many(photos, QuickJob(), output=output, workers=1)

    def read_only(*arguments):
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr(jsonlines.os, "open", read_only)
    with pytest.raises(OutputError, match="Read-only file system"):
        audit_many(photos, QuickJob(), output=tmp_path / "out.jsonl", workers=1)
    assert [path.name for path in tmp_path.iterdir()] == ["day"]


def test_a_full_disk_keeps_whole_lines_only(tmp_path, monkeypatch):
    """The message says how many are reported; with room again the run goes on."""
    photos = folder_of(tmp_path, *numbered(6))
    output = tmp_path / "out.jsonl"
    real_write, written = os.write, []

    def nearly_full(file, data):
        if not stat.S_ISREG(os.fstat(file).st_mode):
            return real_write(file, data)
        written.append(len(data))
        if len(written) == 4:
            return real_write(file, data[:10])  # the last bytes that fit
        if len(written) > 4:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real_write(file, data)

    with monkeypatch.context() as patch, pytest.raises(OutputError, match=r"No space left .*; 3 photos are reported"):
        patch.setattr(jsonlines.os, "write", nearly_full)
        audit_many(photos, QuickJob(), output=output, workers=1)
    assert len(lines_of(output)) == 3
    assert len(audit_many(photos, QuickJob(), output=output, workers=1, resume=True).entries) == 6
    assert len(lines_of(output)) == 6


def test_a_folder_stands_for_the_pictures_in_it(tmp_path):
    """Sorted, sub-folders too, no hidden files; a named file is taken as it is; nothing found is said."""
    for name in ("b.JPG", "a.heic", "notes.txt", ".hidden.jpg", "sub/c.png", ".thumbs/d.png"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(name)
    found = expand([tmp_path, tmp_path / "notes.txt", tmp_path / "b.JPG"])
    assert [path.relative_to(tmp_path).as_posix() for path in found] == ["a.heic", "b.JPG", "sub/c.png", "notes.txt"]
    with pytest.raises(OptionError, match="no such file or folder"):
        expand([tmp_path / "none"])
    (tmp_path / "empty").mkdir()
    with pytest.raises(OptionError, match="no pictures in this folder"):
        expand([tmp_path / "empty"])


def test_a_pipe_named_like_a_photo_keeps_nobody_waiting(tmp_path):
    """What is no plain file is an error entry."""
    os.mkfifo(tmp_path / "pipe.jpg")
    batch = audit_many([tmp_path / "pipe.jpg"], QuickJob(), workers=1)
    assert "not a plain file" in batch.entries[0].error


def test_progress_is_told_photo_by_photo_and_drawn_on_a_terminal_only(tmp_path, capsys):
    """Every photo counts, done, left out or in error; standard error stays clean in a script."""
    photos = folder_of(tmp_path, "same", "same", "bad")
    told = []
    audit_many(photos, QuickJob(), workers=2, advance=told.append)
    assert sum(told) == 3
    with progress_bar(3) as advance:
        advance(1)
    assert capsys.readouterr() == ("", "")
