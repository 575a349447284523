"""``ribbonbar spec from-photo`` and ``lookalikes``: what is typed, what is printed, what is written."""

import json
import tomllib
from pathlib import Path

import pytest

from ribbonbar.cli import main
from tests.cli.desk import LORRANDY, ORDER, sample


def from_photo(*arguments: object) -> int:
    return main(["spec", "from-photo", "--spec", str(LORRANDY), *map(str, arguments)])


def test_the_draft_goes_into_a_file_that_check_accepts(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """A whole specification file, a line on what was measured, and nothing for ``spec check`` to mend."""
    file = tmp_path / "draft.toml"
    assert from_photo(sample("unknown"), "-o", file) == 0
    assert capsys.readouterr().out.startswith("1.2: 2 stripes on 32 mm")
    assert main(["spec", "check", str(file)]) == 0
    assert capsys.readouterr().out == "0 faults\n"
    assert main(["spec", "draw", str(file), "-o", str(tmp_path / "draft.png")]) == 0


def test_without_a_file_the_tables_alone_are_printed(capsys: pytest.CaptureFixture) -> None:
    """Standard output can be pasted or piped: source, colours, award; all else goes to standard error."""
    assert from_photo(sample("unknown")) == 0
    told = capsys.readouterr()
    assert set(tomllib.loads(told.out)) == {"source", "colours", "award"}
    assert told.err.startswith("1.2: 2 stripes")


def test_a_draft_never_writes_over_a_file_unasked(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """An earlier draft, mended by hand, is kept; with --force it is replaced, but never a file that is read."""
    file = tmp_path / "draft.toml"
    file.write_text("mended by hand")
    assert from_photo(sample("unknown"), "-o", file) == 2
    assert "exists already and is kept" in capsys.readouterr().err
    assert file.read_text() == "mended by hand"
    assert from_photo(sample("unknown"), "-o", LORRANDY, "--force") == 2
    assert "one of the files being read" in capsys.readouterr().err
    assert from_photo(sample("unknown"), "-o", file, "--force") == 0
    assert file.read_text().startswith('format = "ribbon-spec/1"')


def test_some_ribbons_refused_is_status_three(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """Of two ribbons asked for one is diagonal: the other is drafted, the refusal is a line, the status says so."""
    file = tmp_path / "draft.toml"
    assert from_photo(sample("three-rows"), "--position", "1.2", "--position", "1.3", "-o", file) == 3
    drafted, refused = capsys.readouterr().out.splitlines()
    assert drafted.startswith("1.2: 5 stripes")
    assert refused.startswith("1.3: no draft")
    assert len(tomllib.loads(file.read_text())["award"]) == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--position", "9.9"], "--position 9.9: not on this picture"),
        (["--position", "1.2", "--all"], "give one of them"),
        (["--corners", "1,1 2,2"], "a bar has 4 corners"),
        (["--height-mm", "0"], "--height-mm 0"),
    ],
)
def test_what_does_not_fit_is_refused_in_a_line(arguments: list, said: str, capsys: pytest.CaptureFixture) -> None:
    """Unusable options: status 2, one line, nothing on standard output."""
    assert from_photo(sample("unknown"), *arguments) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert said in told.err


def test_lookalikes_of_the_demo(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """Text on the terminal, JSON in a file, both with the same counts; fewer within one order of wear."""
    file = tmp_path / "alike.json"
    assert main(["spec", "lookalikes", str(LORRANDY), "--json", str(file)]) == 0
    *_, counts = capsys.readouterr().out.splitlines()
    value = json.loads(file.read_text())
    same, pairs = len(value["same"]), len(value["pairs"])
    assert same > 0
    assert counts.startswith(f"{same} ribbon")
    assert f", {pairs} pair" in counts
    assert main(["spec", "lookalikes", str(LORRANDY), "--order", ORDER, "--json", "-"]) == 0
    within = json.loads(capsys.readouterr().out)
    assert len(within["same"]) <= same


def test_lookalikes_with_an_unknown_order(capsys: pytest.CaptureFixture) -> None:
    """An order that nobody knows: a line, status 2."""
    assert main(["spec", "lookalikes", str(LORRANDY), "--order", "nowhere"]) == 2
    assert "nowhere" in capsys.readouterr().err
