"""Nothing is lost, overwritten or left half-written."""

import errno
import os
from pathlib import Path

import pytest

from ribbonbar.errors import OutputError
from ribbonbar.output import check_writable, write_whole


def test_a_new_file_is_written_whole(tmp_path: Path) -> None:
    """The file holds exactly the data and nothing else is left in the folder."""
    write_whole(tmp_path / "report.json", b"{}")
    assert [(f.name, f.read_bytes()) for f in tmp_path.iterdir()] == [("report.json", b"{}")]


def test_a_new_file_may_be_read_by_others(tmp_path: Path) -> None:
    """The file has the permissions any new file has, not those of a private temporary file."""
    (tmp_path / "usual").write_bytes(b"")
    write_whole(tmp_path / "ours", b"")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_a_file_that_exists_is_kept(tmp_path: Path) -> None:
    """Without force the old file stays, and the line says what to do."""
    target = tmp_path / "report.json"
    target.write_bytes(b"old")
    with pytest.raises(OutputError, match=r"exists already and is kept; .*--force"):
        write_whole(target, b"new")
    assert target.read_bytes() == b"old"


def test_force_replaces(tmp_path: Path) -> None:
    """With force the new data stands in the old file's place."""
    target = tmp_path / "report.json"
    target.write_bytes(b"old")
    write_whole(target, b"new", force=True)
    assert [f.read_bytes() for f in tmp_path.iterdir()] == [b"new"]


def test_an_input_is_never_written_over(tmp_path: Path) -> None:
    """Not even with force, and not under another spelling of its path."""
    photo = tmp_path / "bar.jpg"
    photo.write_bytes(b"photo")
    (tmp_path / "sub").mkdir()
    with pytest.raises(OutputError, match="one of the files being read"):
        write_whole(tmp_path / "sub" / ".." / "bar.jpg", b"new", force=True, inputs=[photo])
    assert photo.read_bytes() == b"photo"


@pytest.mark.parametrize("target", ["", "missing/out.png", "no\0name", "x" * 300, "\x1b[2J/out.png"])
def test_places_that_cannot_be_written_are_named_on_one_line(tmp_path: Path, target: str) -> None:
    """A folder, a missing folder or an impossible name is refused in one printable line."""
    for attempt in (check_writable, lambda path: write_whole(path, b"new")):
        if target == "x" * 300 and attempt is check_writable:
            continue
        with pytest.raises(OutputError) as error:
            attempt(tmp_path / target)
        assert str(error.value).isprintable()
    assert list(tmp_path.iterdir()) == []


def test_a_device_is_not_replaced() -> None:
    """A device such as the null device is no place for a report, least of all with force."""
    with pytest.raises(OutputError, match="not a plain file"):
        write_whole(Path(os.devnull), b"new", force=True)


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk fills up, the old file stays and no part of the new one remains."""
    target = tmp_path / "report.json"
    target.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        write_whole(target, b"new", force=True)
    assert [f.read_bytes() for f in tmp_path.iterdir()] == [b"old"]


def test_two_runs_on_one_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When another run makes the file between the check and the writing, that file is kept."""
    target = tmp_path / "report.json"
    sync = os.fsync

    def meanwhile(number: int) -> None:
        sync(number)
        target.write_bytes(b"other run")

    monkeypatch.setattr(os, "fsync", meanwhile)
    with pytest.raises(OutputError, match="exists already"):
        write_whole(target, b"ours")
    assert [f.read_bytes() for f in tmp_path.iterdir()] == [b"other run"]
