"""Which of two awards goes first, and why; by function and by command."""

import json
from pathlib import Path

import pytest

from ribbonbar.cli import main
from ribbonbar.errors import OptionError
from ribbonbar.precedence.explain import as_json, as_text, explain, explain_named
from tests.precedence.bars import CALDER, CALDER_AWARDS, CALDER_ORDER, key, order, record, rule, specification

SPEC = """
format = "ribbon-spec/1"
[authority]
id = "calder"
title = "Calder (invented)"
[[source]]
id = "dress-2"
title = "Calder forces dress regulations, part 2"
[colours]
navy = { srgb = "#1b2440", certainty = "memory" }
"""
AWARD = """
[[award]]
id = "{id}"
name = "{name}"
{earned}
  [[award.ribbon]]
  id = "standard"
  stripes = [["navy", 1]]
  certainty = "memory"
"""
ORDER = """
[[order_of_wear]]
id = "calder-forces"
title = "Order of wear, Calder forces"
source = "dress-2"
  [[order_of_wear.group]]
  id = "gallantry"
  title = "Gallantry"
  sequence = "listed"
  awards = ["valour-cross"]
  [[order_of_wear.group]]
  id = "campaign"
  title = "Campaign medals"
  sequence = "by-date"
  awards = ["harbour-star", "strait-medal"]
"""


def said(first, second, held=None, using=CALDER):
    return explain(key(first), key(second), using, next(iter(using.orders.values())), held)


def test_settled_by_group():
    """A gallantry decoration goes before a campaign medal, whichever is asked first."""
    first = said("Valour Cross", "Delta Medal")
    assert first.relation == "first-before-second"
    assert first.because == "“Gallantry decorations” go before “Campaign medals”"
    assert first.source == "Calder forces dress regulations, part 2"
    assert first.needs is None
    assert said("Delta Medal", "Valour Cross").relation == "second-before-first"


def test_depends_on_dates():
    """Two overlapping campaigns depend on the dates of the service, which are asked for."""
    answer = said("Harbour Star", "Strait Medal")
    assert answer.relation == "depends"
    assert answer.needs == "dates of Harbour Star and Strait Medal"
    assert "“Campaign medals”" in answer.because
    assert answer.source == "Calder forces dress regulations, part 2"
    assert said("Harbour Star", "Strait Medal", record("Harbour Star 1954-01-01")).needs == "date of Strait Medal"
    settled = said("Harbour Star", "Strait Medal", record("Harbour Star 1954-01-01", "Strait Medal 1953-01-01"))
    assert (settled.relation, settled.needs) == ("second-before-first", None)


def test_same_day_depends_on_nothing():
    """Two awards of one day may stand either way round; no date is asked for."""
    answer = said("Foreign Star", "Foreign Medal", record("Foreign Star 1960-01-01", "Foreign Medal 1960-01-01"))
    assert (answer.relation, answer.needs) == ("depends", None)
    assert "either may go first" in answer.because


def test_other_awards_held_may_settle_it():
    """With a third award held, a fixed sequence and a date together can settle what they do not alone."""
    fixed = rule("listed-within", "Strait Medal", "Peace Mission Medal", because="the two keep one sequence")
    known = specification(CALDER_AWARDS, [order(*CALDER_ORDER.groups)], [fixed])
    held = record("Strait Medal 1956-06-01", "Delta Medal 1960-06-01", "Peace Mission Medal 1958-07-01")
    answer = said("Strait Medal", "Delta Medal", held, using=known)
    assert answer.relation == "first-before-second"


def test_remarks():
    """That the two exclude each other, or that one is for the other breast, is said as well."""
    apart = rule("not-together", "Harbour Star", "Delta Medal", because="the second is a clasp")
    known = specification(CALDER_AWARDS, [CALDER_ORDER], [apart])
    answer = said("Harbour Star", "Delta Medal", using=known)
    assert answer.because.endswith(". The two are not worn together: the second is a clasp")
    assert "not worn together" not in said("Harbour Star", "Valour Cross", using=known).because
    elsewhere = said("Harbour Star", "Unit Citation")
    assert elsewhere.relation == "depends"
    assert elsewhere.needs == "an order of wear that lists Unit Citation"
    assert elsewhere.because.endswith("Unit Citation is not for this bar: it is worn elsewhere (right breast)")


def test_one_award_twice_is_refused():
    """There is nothing to say of an award and itself."""
    with pytest.raises(OptionError, match="name two different awards"):
        said("Valour Cross", "Valour Cross")


def test_by_name_under_the_order_that_lists_both():
    """Names as published are understood; without an order, the one that lists both is used and named."""
    police = order(id="police", title="Order of wear, Calder police")
    known = specification(CALDER_AWARDS, [police, CALDER_ORDER], sources=CALDER.sources.values())
    answer = explain_named("valour cross", "DELTA MEDAL", known)
    assert answer.explanation.order_of_wear == "calder/calder-forces"
    assert answer.notes == ()
    assert explain_named("valour cross", "delta medal", known, "police").explanation.relation == "depends"
    held = record(order_of_wear="calder/police")
    assert explain_named("valour cross", "delta medal", known, "", held).explanation.order_of_wear == "calder/police"
    with pytest.raises(OptionError, match="did you mean calder/valour-cross"):
        explain_named("valor cross", "delta medal", known)


def test_json_and_text():
    """The JSON holds what the contract says; the text says it in sentences with the caution."""
    answer = explain_named("Harbour Star", "Strait Medal", CALDER)
    data = json.loads(as_json(answer))
    assert data["format"] == "ribbon-explanation/1"
    assert data["order_of_wear"] == "calder/calder-forces"
    assert data["relation"] == "depends"
    assert data["needs"] == "dates of Harbour Star and Strait Medal"
    assert data["source"] == "Calder forces dress regulations, part 2"
    assert {"because", "awards", "notes"} <= data.keys()
    text = as_text(answer, CALDER)
    assert text.startswith("Whether Harbour Star or Strait Medal goes first depends.\n")
    assert "To settle it: dates of Harbour Star and Strait Medal\n" in text
    assert text.endswith("The issuing authority's current order decides.\n")
    sure = as_text(explain_named("Delta Medal", "Valour Cross", CALDER), CALDER)
    assert sure.startswith("Valour Cross goes before Delta Medal.\n")
    assert "To settle it" not in sure


@pytest.fixture
def spec(tmp_path):
    path = tmp_path / "calder.toml"
    awards = [
        AWARD.format(id="valour-cross", name="Valour Cross", earned=""),
        AWARD.format(id="harbour-star", name="Harbour Star", earned="earned = { from = 1951-03-01, to = 1954-10-31 }"),
        AWARD.format(id="strait-medal", name="Strait Medal", earned="earned = { from = 1953-01-01, to = 1956-12-31 }"),
    ]
    path.write_text(SPEC + "".join(awards) + ORDER)
    return path


def test_command_prints_sentences(spec, capsys):
    """The command answers in plain sentences with the rule and its source."""
    assert main(["explain", "Harbour Star", "valour cross", "--spec", str(spec)]) == 0
    out, err = capsys.readouterr()
    assert out == (
        "Valour Cross goes before Harbour Star.\n"
        "Because: “Gallantry” go before “Campaign medals”\n"
        "Order of wear: Order of wear, Calder forces\n"
        "Source: Calder forces dress regulations, part 2\n"
        "The issuing authority's current order decides.\n"
    )
    assert err == ""


def test_command_prints_json_alone(spec, capsys):
    """With --json - standard output holds the JSON and nothing else."""
    assert main(["explain", "harbour-star", "strait-medal", "--spec", str(spec), "--json", "-"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["relation"] == "depends"


def test_command_with_record_and_file(spec, tmp_path, capsys):
    """With a record the dates settle it; --json FILE writes a file and does not write over one."""
    job, out = tmp_path / "job.toml", tmp_path / "out.json"
    job.write_text(
        'format = "ribbon-record/1"\n[[held]]\naward = "Harbour Star"\ndate = 1954-01-01\n'
        '[[held]]\naward = "Strait Medal"\ndate = 1953-06-01\n'
    )
    arguments = ["explain", "harbour-star", "strait-medal", "--spec", str(spec), "--record", str(job)]
    assert main([*arguments, "--json", str(out)]) == 0
    assert json.loads(out.read_text())["relation"] == "second-before-first"
    assert "Strait Medal goes before Harbour Star." in capsys.readouterr().out
    assert main([*arguments, "--json", str(out)]) == 2
    assert main([*arguments, "--json", str(out), "--force"]) == 0
    assert main([*arguments, "--json", str(job), "--force"]) == 2
    assert job.read_text().startswith('format = "ribbon-record/1"')


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (["Harbor Star", "valour-cross"], "did you mean calder/harbour-star"),
        (["harbour-star", "harbour-star"], "name two different awards"),
        (["harbour-star", "valour-cross", "--order", "calder-force"], "did you mean calder/calder-forces"),
        (["harbour-star", "valour-cross", "--record", "none.toml"], "there is no such file"),
        (["harbour-star", ""], "is not the name of an award"),
        (["harbour-star"], "Missing argument"),
    ],
)
def test_command_refuses_in_one_line(spec, capsys, arguments, what):
    """What cannot be answered is one line on standard error, and status 2."""
    assert main(["explain", *arguments, "--spec", str(spec)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert what in err


def test_command_with_the_specifications_that_ship(capsys):
    """Without --spec the shipped files are used."""
    assert main(["explain", "gb/military-cross", "gb/burma-star"]) == 0
    assert "Military Cross goes before Burma Star." in capsys.readouterr().out


def test_shipped_files_are_the_default():
    """The command line's module imports nothing heavy until it runs."""
    source = Path("src/ribbonbar/cli/explain.py").read_text()
    assert source.index("from ribbonbar.precedence") > source.index("def explain(")
