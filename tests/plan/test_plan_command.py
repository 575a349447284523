"""``ribbonbar plan`` as a tailor types it: exit status, files, and one line where something is wrong."""

import json

import pytest

from ribbonbar.cli import main
from tests.plan.calder import SPEC

RECORD = """
format = "ribbon-record/1"
reference = "job 1042"
[[held]]
award = "Valour Cross"
[[held]]
award = "calder/harbour-star"
emblems = ["rosette"]
[[held]]
award = "calder/strait-medal"
date = 1960-01-01
"""


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A folder with the specification and one job, as the working folder."""
    (tmp_path / "calder.toml").write_text(SPEC)
    (tmp_path / "job.toml").write_text(RECORD)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def plan(*arguments: str) -> int:
    return main(["plan", *arguments, "--spec", "calder.toml"])


def test_a_settled_plan_is_printed_with_reasons_and_the_cutting_list(desk, capsys):
    """Exit status 0; the sequence, why, what to cut, what to mind."""
    assert plan("job.toml") == 0
    told = capsys.readouterr().out
    assert told.startswith("SETTLED: job 1042")
    assert told.index("1.1   Valour Cross") < told.index("1.2   Harbour Star with silver rosette") < told.index("1.3 ")
    assert "After Valour Cross: “Gallantry decorations” go before “Campaign medals” [1]" in told
    assert "[1] Calder register (invented)" in told
    assert "30 mm of Harbour Star" in told
    assert "a plan proves no entitlement" in told


def test_an_open_plan_has_status_3_and_asks(desk, capsys):
    """Without the date of the Strait Medal the pair is open."""
    (desk / "job.toml").write_text(RECORD.replace("date = 1960-01-01", ""))
    assert plan("job.toml") == 3
    told = capsys.readouterr().out
    assert told.startswith("OPEN: job 1042")
    assert "  ? " in told


def test_a_broken_rule_has_status_1(desk, capsys):
    """Two awards that may not stand together are an error of what is held."""
    rule = """
[[rule]]
kind = "not-together"
awards = ["harbour-star", "strait-medal"]
because = "the second is a clasp to the first"
source = "calder-1"
"""
    (desk / "calder.toml").write_text(SPEC + rule)
    assert plan("job.toml") == 1
    assert "A RULE IS BROKEN" in capsys.readouterr().out


def test_json_on_standard_output_stands_alone(desk, capsys):
    """The format of a plan, and nothing else on standard output."""
    assert plan("job.toml", "--json", "-") == 0
    result = json.loads(capsys.readouterr().out)
    assert result["format"] == "ribbon-plan/1"
    assert result["order_of_wear"] == "calder/calder-forces"
    assert result["sequence"] == ["calder/valour-cross", "calder/harbour-star", "calder/strait-medal"]
    assert result["rows"] == [result["sequence"]]
    assert result["open"] == []
    assert result["findings"] == []


def test_every_file_asked_for_is_written(desk, capsys):
    """JSON, three drawings and the cutting list of two jobs together; JSON has a line a job."""
    (desk / "two.toml").write_text(RECORD.replace("1042", "1043"))
    files = {"--json": "p.json", "--svg": "p.svg", "--png": "p.png", "--pdf": "p.pdf", "--cutting": "p.csv"}
    assert plan("job.toml", "two.toml", *(word for pair in files.items() for word in pair), "--turn-under", "8") == 0
    lines = (desk / "p.json").read_text().splitlines()
    assert [json.loads(line)["reference"] for line in lines] == ["job 1042", "job 1043"]
    assert (desk / "p.svg").read_text().startswith("<svg")
    assert (desk / "p.png").read_bytes().startswith(b"\x89PNG")
    assert (desk / "p.pdf").read_bytes().startswith(b"%PDF")
    table = (desk / "p.csv").read_text(encoding="utf-8-sig")
    assert "total,,,,calder/valour-cross,Valour Cross,standard,38,2,52" in table
    assert sorted(path.name for path in desk.iterdir()) == sorted(
        ["calder.toml", "job.toml", "two.toml", *files.values()]
    )


def refused(capsys, *arguments: str) -> str:
    assert plan(*arguments) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    return told.err


def test_a_name_that_nearly_matches_gets_a_proposal(desk, capsys):
    """The file, the place in it, and what was perhaps meant."""
    (desk / "job.toml").write_text(RECORD.replace("Valour Cross", "Valor Cross"))
    told = refused(capsys, "job.toml")
    assert "job.toml" in told
    assert "line 5" in told
    assert "did you mean calder/valour-cross?" in told


def test_nothing_is_written_over(desk, capsys):
    """A file that exists stays unless forced; an input stays even then; one file cannot hold two things."""
    (desk / "p.svg").write_text("mine")
    assert "--force" in refused(capsys, "job.toml", "--svg", "p.svg")
    assert (desk / "p.svg").read_text() == "mine"
    assert "one of the files being read" in refused(capsys, "job.toml", "--svg", "job.toml", "--force")
    assert "one of the files being read" in refused(capsys, "job.toml", "--json", "calder.toml", "--force")
    assert "give each its own file" in refused(capsys, "job.toml", "--png", "x", "--pdf", "x")
    assert plan("job.toml", "--svg", "p.svg", "--force") == 0
    assert (desk / "p.svg").read_text().startswith("<svg")


def test_what_cannot_be_used_is_one_line(desk, capsys):
    """A missing record, an unknown order, a folder that is not there, impossible figures."""
    assert "no such file" in refused(capsys, "none.toml")
    assert "did you mean calder/calder-forces?" in refused(capsys, "job.toml", "--order", "calder-force")
    assert "does not exist" in refused(capsys, "job.toml", "--pdf", "none/p.pdf")
    assert "give 0 to 100" in refused(capsys, "job.toml", "--turn-under", "-3")
    assert "give 1 to 20" in refused(capsys, "job.toml", "--per-row", "99")


def test_awards_all_worn_elsewhere_make_an_empty_plan(desk, capsys):
    """Nothing to draw is no failure: the note says where they are worn."""
    spec = SPEC.replace('name = "Jubilee Medal"', 'name = "Jubilee Medal"\nworn_elsewhere = "right breast"')
    (desk / "calder.toml").write_text(spec)
    (desk / "job.toml").write_text('format = "ribbon-record/1"\n[[held]]\naward = "Jubilee Medal"\n')
    assert plan("job.toml", "--pdf", "p.pdf", "--png", "p.png", "--cutting", "p.csv") == 0
    assert "worn elsewhere (right breast)" in capsys.readouterr().out
