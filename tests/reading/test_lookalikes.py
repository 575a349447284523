"""Which ribbons are alike: given these ribbons, expect these groups and pairs, and that the reading agrees."""

import json
from collections.abc import Iterable
from pathlib import Path

import pytest

from ribbonbar.alike import alike, as_json, as_text
from ribbonbar.errors import OptionError
from ribbonbar.reading.lookalikes import Pair, hardly_told_apart, limit, same_cloth
from ribbonbar.reading.read import read_bar
from ribbonbar.reading.templates import Bank, bank_of
from ribbonbar.spec.colour import ciede2000
from ribbonbar.spec.model import Award, Ribbon, Specification
from ribbonbar.spec.reader import shipped_specs
from tests.reading.cloth import GOLD, GREEN, NAVY, RED, RIBBONS, SKY, WHITE, catalogue, dye, ribbon, woven_strip

RED_SHADE = dye("blood-red", "#a9202f")  # one step of dye from RED
MIRRORED = {"dawn": ribbon((SKY, 16), (GOLD, 16)), "dusk": ribbon((GOLD, 16), (SKY, 16))}


def together(ribbons: dict[str, Ribbon]) -> Specification:
    return Specification(awards={f"calder/{n}": Award(f"calder/{n}", n, ribbons=(r,)) for n, r in ribbons.items()})


def names(bank: Bank, pairs: Iterable[Pair]) -> list[set[str]]:
    return [{award for end in (p.first, p.second) for award, _ in bank.patterns[end].names} for p in pairs]


def test_ribbons_that_are_nothing_alike_make_no_pair() -> None:
    """The small invented catalogue has nine ribbons that anybody can tell apart."""
    bank = bank_of(catalogue())
    assert same_cloth(bank) == []
    assert hardly_told_apart(bank) == []


def test_two_awards_with_one_ribbon_are_a_group_and_no_pair() -> None:
    """The same stripes of the same dyes: no photograph tells the two awards apart, and nothing is left to compare."""
    bank = bank_of(together(RIBBONS | {"coast-medal": RIBBONS["sea-medal"]}))
    (number,) = same_cloth(bank)
    assert {award for award, _ in bank.patterns[number].names} == {"calder/sea-medal", "calder/coast-medal"}
    assert hardly_told_apart(bank) == []


def test_the_reading_finds_a_predicted_pair_ambiguous() -> None:
    """A plain red and a red one step of dye away: predicted as a pair, and a photograph of either is read so."""
    twins = {"valour-cross": ribbon((RED, 32)), "lifeboat-medal": ribbon((RED_SHADE, 32))}
    assert 1.0 < ciede2000(RED.lab, RED_SHADE.lab) < 4.0  # within a dye lot: the reading has to allow for as much
    bank = bank_of(together(RIBBONS | twins))
    assert names(bank, hardly_told_apart(bank)) == [{"calder/valour-cross", "calder/lifeboat-medal"}]
    others = [(RIBBONS[n], False) for n in ("harbour-star", "long-service", "sea-medal")]
    for twin in twins.values():
        reading = read_bar([woven_strip([(twin, False), *others])], bank).rows[0][0]
        assert reading.status == "ambiguous"
        assert {c.award for c in reading.candidates} == {"calder/valour-cross", "calder/lifeboat-medal"}


def test_the_reading_tells_apart_what_is_predicted_to_be_told_apart() -> None:
    """A white stripe of 2 mm and one of 4 mm between the same neighbours: no pair, and each is identified."""
    close = {
        "harbour-star": RIBBONS["harbour-star"],
        "harbour-medal": ribbon((NAVY, 8), (WHITE, 4), (RED, 8), (WHITE, 4), (NAVY, 8)),
    }
    bank = bank_of(together(RIBBONS | close))
    assert hardly_told_apart(bank) == []
    others = [(RIBBONS[n], False) for n in ("valour-cross", "long-service", "sea-medal")]
    for name, own in close.items():
        reading = read_bar([woven_strip([(own, False), *others])], bank).rows[0][0]
        assert (reading.status, reading.candidates[0].award) == ("identified", f"calder/{name}")


def test_a_ribbon_that_is_another_back_to_front_is_a_pair() -> None:
    """Sky and gold against gold and sky: alike once one of them is mounted the wrong way round."""
    bank = bank_of(together(RIBBONS | MIRRORED))
    (pair,) = hardly_told_apart(bank)
    assert names(bank, [pair]) == [{"calder/dawn", "calder/dusk"}]
    assert pair.turned
    assert pair.behind == pytest.approx(0.0, abs=0.05)  # the very same cloth


def test_two_ribbons_of_one_award_are_no_pair() -> None:
    """Two issues of one award a shade apart: whichever it is, the award is the same."""
    issues = (ribbon((RED, 32)), ribbon((RED_SHADE, 32)))
    award = Award("calder/valour-cross", "Valour Cross", ribbons=issues)
    others = together({"flying-cross": RIBBONS["flying-cross"]}).awards
    assert hardly_told_apart(bank_of(Specification(awards={award.key: award} | others))) == []


def test_a_coarser_photograph_mixes_up_more() -> None:
    """What a good photograph mixes up a coarse one does too; two narrow stripes run together only on the coarse one."""
    fine = {
        "one": ribbon((GREEN, 15), (WHITE, 2), (GREEN, 15)),
        "two": ribbon((GREEN, 15), (WHITE, 0.7), (GREEN, 0.6), (WHITE, 0.7), (GREEN, 15)),
    }
    bank = bank_of(together(RIBBONS | fine))
    good, coarse = hardly_told_apart(bank, 9.0), hardly_told_apart(bank, 0.7)
    assert good == []
    assert {"calder/one", "calder/two"} in names(bank, coarse)


def test_every_pair_lies_within_the_limit_of_ambiguous() -> None:
    """No pair lacks more evidence than makes a ribbon identified, and the hardest come first."""
    bank = bank_of(catalogue_of_demo())
    behind = [pair.behind for pair in hardly_told_apart(bank)]
    assert behind == sorted(behind)
    assert all(b < limit() for b in behind)


def catalogue_of_demo() -> Specification:
    from ribbonbar.spec.reader import read_specification

    return read_specification([shipped_specs() / "lorrandy.toml"])


FILE = """
format = "ribbon-spec/1"
[authority]
id = "calder"
title = "Calder (invented)"
[colours]
red = { srgb = "#b01e2e", certainty = "memory" }
blood-red = { srgb = "#a9202f", certainty = "memory" }
sky = { srgb = "#7fb0d8", certainty = "memory" }
gold = { srgb = "#c9962f", certainty = "memory" }
"""
RIBBON_OF = {
    "Valour Cross": '[["red", 32]]',
    "Lifeboat Medal": '[["blood-red", 32]]',
    "Sea Medal": '[["sky", 6], ["gold", 20], ["sky", 6]]',
    "Coast Medal": '[["sky", 6], ["gold", 20], ["sky", 6]]',
    "Dawn Medal": '[["sky", 16], ["gold", 16]]',
    "Dusk Medal": '[["gold", 16], ["sky", 16]]',
}


@pytest.fixture
def calder(tmp_path: Path) -> Path:
    text = FILE
    for name, stripes in RIBBON_OF.items():
        own = name.lower().replace(" ", "-")
        text += f'[[award]]\nid = "{own}"\nname = "{name}"\n'
        text += f'[[award.ribbon]]\nid = "standard"\ncertainty = "memory"\nstripes = {stripes}\n'
    text += '[[award]]\nid = "flying-cross"\nname = "Flying Cross"\n[[award.ribbon]]\nid = "standard"\n'
    text += 'certainty = "memory"\ndiagonal = { stripes = [["red", 3], ["gold", 3]], angle = 45 }\n'
    text += '[[order_of_wear]]\nid = "sea"\ntitle = "Sea service"\n[[order_of_wear.group]]\nid = "all"\ntitle = "All"\n'
    text += 'sequence = "listed"\nawards = ["valour-cross", "sea-medal", "dawn-medal"]\n'
    file = tmp_path / "calder.toml"
    file.write_text(text)
    return file


def test_what_differs_is_said_in_words(calder: Path) -> None:
    """Groups first, pairs after, each feature beside the award that has it; the last line counts both."""
    text = as_text(alike([calder]))
    assert text.startswith("the same ribbon for 2 awards (narrow sky edges, broad gold centre):\n")
    assert "  Sea Medal (calder/sea-medal)\n  Coast Medal (calder/coast-medal)\n" in text
    assert "  the whole ribbon blood red: Lifeboat Medal (calder/lifeboat-medal)\n" in text
    assert "hardly told apart, one of them back to front:\n  the same ribbon: Dawn Medal (calder/dawn-medal)\n" in text
    assert text.splitlines()[-1] == (
        "1 ribbon of more than one award, 2 pairs that a good photograph hardly tells apart"
    )


def test_only_the_awards_of_one_order(calder: Path) -> None:
    """An order that holds one of each of the look-alikes holds none."""
    assert as_text(alike([calder], "sea")).splitlines() == [
        "0 ribbons of more than one award, 0 pairs that a good photograph hardly tells apart"
    ]
    with pytest.raises(OptionError, match="land"):
        alike([calder], "land")


def test_the_same_as_json(calder: Path) -> None:
    """Ids for a program; every pair with what differs."""
    value = json.loads(as_json(alike([calder])))
    assert value["format"] == "ribbon-lookalikes/1"
    assert [[r["award"] for r in group] for group in value["same"]] == [["calder/sea-medal", "calder/coast-medal"]]
    assert {p["back_to_front"] for p in value["pairs"]} == {True, False}
    assert all(len(p["differences"]) == 2 for p in value["pairs"])
