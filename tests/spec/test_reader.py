"""What a sound file becomes, alone and together with others."""

from datetime import date
from pathlib import Path

import pytest

from ribbonbar.errors import SpecError
from ribbonbar.spec.colour import lab_from_hex
from ribbonbar.spec.model import Emblem, Interval, Specification
from ribbonbar.spec.reader import check, files_of, read_specification, shipped_specs
from tests.spec.small import SMALL, line_of

ORDERS_ONLY = """\
format = "ribbon-spec/1"

[authority]
id = "calder"

[[source]]
id = "calder-1"
title = "Calder dress regulations, part 3 (invented)"

[[order_of_wear]]
id = "police"
title = "Order of wear, Calder police"
ribbons_per_row = 3
rows_allowed = [2, 4]
short_row = "bottom"
short_row_align = "senior"
second_ribbon = true
in_force = { from = 1918-11-01 }
source = "calder-1"

  [[order_of_wear.group]]
  id = "all"
  title = "All"
  sequence = "by-award-date"
  awards = ["strait-medal", "*", "league/*"]
"""

LEAGUE = """\
format = "ribbon-spec/1"

[authority]
id = "league"
title = "League (invented)"

[[source]]
id = "sheet"
title = "Sheet (invented)"

[colours]
teal = { srgb = "#1f7d86", certainty = "memory" }

[[award]]
id = "observer-medal"
name = "Observer Medal"
ribbon = [{ id = "first", bands = [["teal", 1], ["teal", 1]], frame = "teal", certainty = "memory" }]

[[award]]
id = "pilot-medal"
name = "Pilot Medal"

  [[award.ribbon]]
  id = "first"
  unmatched = "embroidered"

[[award]]
id = "pilot-badge"
name = "Pilot Badge"
worn_elsewhere = "right breast"
note = "no ribbon"
"""


def read(folder: Path, **files: str) -> Specification:
    for name, text in files.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return read_specification([folder])


def test_every_part_of_an_award(tmp_path: Path) -> None:
    """Names, days, emblems and ribbons come out as they were written."""
    award = read(tmp_path, calder=SMALL).awards["calder/harbour-star"]
    assert (award.name, award.abbreviation) == ("Harbour Star", "HS")
    assert award.earned == Interval(date(1951, 3, 1), date(1954, 10, 31))
    assert award.emblems == (Emblem("rosette", "silver", "clasp held"),)
    (ribbon,) = award.ribbons
    assert (ribbon.id, ribbon.shape, ribbon.division, ribbon.width_mm) == ("standard", "stripes", "military", 32.0)
    assert ribbon.worn == Interval(date(1951, 3, 1), None)
    assert (ribbon.certainty, ribbon.source) == ("stated", "calder/calder-1")
    assert [stripe.width for stripe in ribbon.stripes] == [10, 2, 8, 2, 10]
    assert (ribbon.stripes[2].start.name, ribbon.stripes[2].end.name) == ("red", "white")
    assert not ribbon.symmetrical


def test_colours(tmp_path: Path) -> None:
    """sRGB becomes L*a*b*; L*a*b* stays as it was written."""
    colours = read(tmp_path, calder=SMALL).colours
    assert colours["calder/red"].lab == (42.0, 58.0, 34.0)
    assert colours["calder/navy"].lab == lab_from_hex("#1b2440")
    assert colours["calder/white"].source == "calder/calder-1"


def test_own_width(tmp_path: Path) -> None:
    """A cross keeps its own 38 mm, the others the authority's width."""
    awards = read(tmp_path, calder=SMALL).awards
    assert awards["calder/valour-cross"].ribbons[0].width_mm == 38.0
    assert awards["calder/strait-medal"].ribbons[0].width_mm == 32.0


@pytest.mark.parametrize(("written", "angle"), [("45", 45), ("135", -45), ("-30", -30), ("120.0", -60)])
def test_a_slope_is_between_minus_and_plus_ninety(tmp_path: Path, written: str, angle: float) -> None:
    """135 degrees and -45 degrees are the same stripes."""
    text = SMALL.replace("angle = 45", f"angle = {written}")
    assert read(tmp_path, calder=text).awards["calder/strait-medal"].ribbons[0].angle == angle


def test_order_of_wear(tmp_path: Path) -> None:
    """Groups keep their sequence; a group without a source has its order's."""
    order = read(tmp_path, calder=SMALL).orders["calder/forces"]
    assert [(group.id, group.sequence) for group in order.groups] == [("gallantry", "listed"), ("campaign", "by-date")]
    assert order.groups[1].awards == ("calder/harbour-star", "calder/strait-medal")
    assert order.groups[1].source == "calder/calder-1"


def test_rule(tmp_path: Path) -> None:
    """A rule names awards by key and says why."""
    (rule,) = read(tmp_path, calder=SMALL).rules
    assert (rule.kind, rule.awards) == ("not-together", ("calder/harbour-star", "calder/strait-medal"))
    assert (rule.because, rule.source, rule.orders) == ("the second is a clasp to the first", "calder/calder-1", ())


def test_orders_in_a_file_of_their_own(tmp_path: Path) -> None:
    """A file may carry only an order over the awards of other files; wildcards give what is not listed by name."""
    specification = read(tmp_path, calder=SMALL, league=LEAGUE, orders=ORDERS_ONLY)
    order = specification.orders["calder/police"]
    assert order.groups[0].awards == (
        "calder/strait-medal",
        "calder/valour-cross",
        "calder/harbour-star",
        "league/observer-medal",
        "league/pilot-medal",
    )
    assert (order.ribbons_per_row, order.rows_allowed, order.second_ribbon) == (3, (2, 4), True)
    assert (order.short_row, order.short_row_align) == ("bottom", "senior")
    assert order.in_force.start == date(1918, 11, 1)
    assert specification.authorities["calder"].title == "Calder (invented)"


def test_an_award_worn_elsewhere_needs_no_ribbon_and_no_group(tmp_path: Path) -> None:
    """It is known, but no wildcard puts it on the bar."""
    specification = read(tmp_path, calder=SMALL, league=LEAGUE, orders=ORDERS_ONLY)
    assert specification.awards["league/pilot-badge"].worn_elsewhere == "right breast"
    assert check([tmp_path]) == ()


def test_bands_frame_and_unmatched(tmp_path: Path) -> None:
    """Horizontal, framed and unmatchable ribbons say what they are."""
    awards = read(tmp_path, league=LEAGUE).awards
    bands, unmatched = awards["league/observer-medal"].ribbons[0], awards["league/pilot-medal"].ribbons[0]
    assert (bands.shape, bands.symmetrical, bands.frame.name) == ("bands", True, "teal")
    assert (unmatched.shape, unmatched.stripes, unmatched.unmatched) == ("unmatched", (), "embroidered")


def test_prefix_patterns(tmp_path: Path) -> None:
    """``har*`` stands for this authority's awards that begin so."""
    text = SMALL.replace('["harbour-star", "strait-medal"]\n\n', '["har*", "strait-*"]\n\n')
    order = read(tmp_path, calder=text).orders["calder/forces"]
    assert order.groups[1].awards == ("calder/harbour-star", "calder/strait-medal")


def test_files_of_one_authority_must_agree(tmp_path: Path) -> None:
    """Two widths for one authority are a fault; a title given once is enough."""
    with pytest.raises(SpecError, match=r"ribbon_width_mm is 35\.0, but another file of calder says 32\.0"):
        read(tmp_path, calder=SMALL, orders=ORDERS_ONLY.replace('"calder"\n', '"calder"\nribbon_width_mm = 35.0\n', 1))


def test_an_award_repeated_in_another_file(tmp_path: Path) -> None:
    """The second file is told where the first one has it."""
    again = SMALL[: SMALL.index("[colours]")] + '[[award]]\nid = "strait-medal"\nname = "S"\nworn_elsewhere = "cuff"\n'
    line = line_of(SMALL, 'id = "strait-medal"') - 1
    with pytest.raises(SpecError, match=rf'again\.toml.*"strait-medal", first given at .*calder\.toml:{line}'):
        read(tmp_path, calder=SMALL, z_again=again)


def test_one_broken_file_does_not_make_the_others_look_broken(tmp_path: Path) -> None:
    """Names that may stand in the file that cannot be read are not called unknown."""
    (tmp_path / "calder.toml").write_text(SMALL + "[[award]\n")
    (tmp_path / "orders.toml").write_text(ORDERS_ONLY.replace('"calder"\n', '"calder"\ntitle = "Calder"\n', 1))
    assert [Path(fault.file).name for fault in check([tmp_path])] == ["calder.toml"]


def test_a_file_given_twice_is_read_once(tmp_path: Path) -> None:
    """As a file and with its folder."""
    read(tmp_path, calder=SMALL)
    file = tmp_path / "calder.toml"
    assert files_of([file, tmp_path]) == [file]
    assert check([file, tmp_path]) == ()


def test_hidden_files_of_a_folder_are_left_alone(tmp_path: Path) -> None:
    """What other programs leave beside the files is not read."""
    (tmp_path / "._calder.toml").write_bytes(b"\x00\x05\x16\x07")
    read(tmp_path, calder=SMALL)
    assert [file.name for file in files_of([tmp_path])] == ["calder.toml"]


def test_editions_name_the_files(tmp_path: Path) -> None:
    """Every file is named with the beginning of its SHA-256, so that a report can say what it rests on."""
    import hashlib

    digest = hashlib.sha256(SMALL.encode()).hexdigest()[:12]
    assert read(tmp_path, calder=SMALL).editions == (f"calder.toml {digest}",)


def test_windows_line_ends_count_the_same(tmp_path: Path) -> None:
    """A file saved with CR LF has its faults on the same lines."""
    (tmp_path / "calder.toml").write_bytes(SMALL.replace("angle = 45", "angle = 90").replace("\n", "\r\n").encode())
    (fault,) = check([tmp_path])
    assert fault.line == line_of(SMALL, "angle = 45")


def test_the_format_page_shows_a_sound_file(tmp_path: Path) -> None:
    """What a newcomer copies from the page has no fault."""
    page = (Path(__file__).parents[2] / "ribbon_specs" / "FORMAT.md").read_text(encoding="utf-8")
    example = page.split("## A whole file")[1].split("```toml\n")[1].split("```")[0]
    (tmp_path / "calder.toml").write_text(example, encoding="utf-8")
    (tmp_path / "league.toml").write_text(LEAGUE, encoding="utf-8")
    assert [str(fault) for fault in check([tmp_path])] == []


def test_the_shipped_folder_is_found() -> None:
    """Wherever the package is installed, its specification files are beside it."""
    assert list(shipped_specs().glob("*.toml"))
