"""``ribbonbar spec``: what is typed, what is printed, what is written."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from ribbonbar.cli import main
from ribbonbar.errors import OptionError
from ribbonbar.spec.chart import MOST_RIBBONS, Section, chart, png, sections
from ribbonbar.spec.colour import linear_from_lab, srgb_from_linear
from ribbonbar.spec.model import Award, Specification
from ribbonbar.spec.reader import read_specification, shipped_specs
from tests.spec.small import SMALL

DEMO = shipped_specs() / "lorrandy.toml"


@pytest.fixture
def calder(tmp_path: Path) -> Path:
    file = tmp_path / "calder.toml"
    file.write_text(SMALL)
    return file


def test_check_of_a_sound_file(calder: Path, capsys: pytest.CaptureFixture) -> None:
    """No fault: the count alone, status 0."""
    assert main(["spec", "check", str(calder)]) == 0
    assert capsys.readouterr().out == "0 faults\n"


def test_check_prints_a_line_a_fault_and_the_count(calder: Path, capsys: pytest.CaptureFixture) -> None:
    """Two faults: two lines that say file, table and line, then the count, status 1."""
    calder.write_text(SMALL.replace("angle = 45", "angle = 0").replace('["red", 38]', '["rad", 38]'))
    assert main(["spec", "check", str(calder)]) == 1
    first, second, count = capsys.readouterr().out.splitlines()
    assert first.startswith(f"{calder}:ribbon valour-cross/standard:")
    assert second.startswith(f"{calder}:ribbon strait-medal/standard:")
    assert count == "2 faults"


def test_check_of_a_missing_file(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """A file that is not there is a fault like any other."""
    assert main(["spec", "check", str(tmp_path / "none.toml")]) == 1
    assert "does not exist" in capsys.readouterr().out


def test_draw_writes_a_colour_managed_picture(calder: Path, tmp_path: Path) -> None:
    """The chart is a PNG with an sRGB profile in it."""
    output = tmp_path / "chart.png"
    assert main(["spec", "draw", str(calder), "-o", str(output)]) == 0
    with Image.open(output) as picture:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(picture.info["icc_profile"]))
        assert "sRGB" in ImageCms.getProfileDescription(profile)
        assert picture.format == "PNG"


def test_draw_never_writes_over_a_file_unasked(calder: Path, tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """An existing picture is kept without --force; the specification itself even with it."""
    output = tmp_path / "chart.png"
    output.write_bytes(b"mine")
    assert main(["spec", "draw", str(calder), "-o", str(output)]) == 2
    assert output.read_bytes() == b"mine"
    assert main(["spec", "draw", str(calder), "-o", str(calder), "--force"]) == 2
    assert main(["spec", "draw", str(tmp_path), "-o", str(calder), "--force"]) == 2
    assert main(["spec", "draw", "valour-cross", "--spec", str(calder), "-o", str(calder), "--force"]) == 2
    assert calder.read_text() == SMALL
    assert main(["spec", "draw", str(calder), "-o", str(output), "--force"]) == 0
    assert output.read_bytes().startswith(b"\x89PNG")
    assert all(line.startswith("ribbonbar: ") for line in capsys.readouterr().err.splitlines())


def test_draw_one_award(calder: Path, tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """By id or by key; a name nobody has is one line with a suggestion, status 2."""
    for wanted in ("harbour-star", "calder/harbour-star"):
        output = tmp_path / f"{wanted.replace('/', '-')}.png"
        assert main(["spec", "draw", wanted, "--spec", str(calder), "-o", str(output)]) == 0
    assert main(["spec", "draw", "calder/harbor-star", "--spec", str(calder), "-o", str(tmp_path / "x.png")]) == 2
    assert 'did you mean "calder/harbour-star"?' in capsys.readouterr().err
    assert not (tmp_path / "x.png").exists()


def test_draw_of_a_file_with_faults(calder: Path, tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """Nothing is drawn; the first fault is on standard error, status 2."""
    calder.write_text(SMALL.replace("angle = 45", "angle = 0"))
    assert main(["spec", "draw", str(calder), "-o", str(tmp_path / "x.png")]) == 2
    assert "angle 0 is not diagonal" in capsys.readouterr().err
    assert not (tmp_path / "x.png").exists()


def test_coverage(capsys: pytest.CaptureFixture) -> None:
    """For each order: how many awards, how many with a ribbon to match, and which not, with the reason."""
    assert main(["spec", "coverage", str(DEMO)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("lorrandy/lorrandy-forces: 47 awards, 46 with a ribbon that can be matched (49 stated,")
    assert lines[1].startswith("  unmatched  lorrandy/guard-of-honour-medal: embroidered")


def test_coverage_names_undated_awards(calder: Path, capsys: pytest.CaptureFixture) -> None:
    """An award in a by-date group whose qualifying days are unknown cannot be placed without the wearer's record."""
    assert main(["spec", "coverage", str(calder)]) == 0
    assert "  no dates   calder/strait-medal" in capsys.readouterr().out


def test_a_chart_draws_every_award_once() -> None:
    """An award in two orders stands with the first; one in no order comes last."""
    specification = read_specification([DEMO])
    drawn = [award.key for section in sections(specification) for award in section.awards]
    assert sorted(drawn) == sorted(specification.awards)
    assert sections(specification)[-1].title == "In no order of wear"
    police = sections(specification, order="lorrandy/lorrandy-police")
    assert sum(len(section.awards) for section in police) == 45
    with pytest.raises(OptionError, match="did you mean"):
        sections(specification, order="lorrandy/lorrandy-polices")


def test_a_chart_shows_the_dyes() -> None:
    """The first pixel of a plain crimson ribbon on the chart is crimson as sRGB shows it."""
    award = read_specification([DEMO]).awards["lorrandy/lorrandy-cross"]
    picture = np.asarray(chart([Section("", (award,))]))
    crimson = np.round(srgb_from_linear(linear_from_lab(np.array(award.ribbons[0].stripes[0].start.lab))) * 255)
    assert (picture == crimson).all(axis=2).sum() == (38 * 7) * 70


def test_a_chart_is_the_same_every_time() -> None:
    """Same specification in, same bytes out."""
    parts = sections(read_specification([DEMO]))[:2]
    assert png(chart(parts)) == png(chart(parts))


def test_a_chart_has_a_limit() -> None:
    """A file with more ribbons than a picture can hold is refused with a way out."""
    awards = tuple(Award(f"x/a{i}", "a") for i in range(MOST_RIBBONS + 1))
    with pytest.raises(OptionError, match="draw one order of wear"):
        chart([Section("", awards)])


def test_an_empty_specification_has_an_empty_chart() -> None:
    """A file with an authority and nothing else still draws."""
    assert png(chart(sections(Specification()))).startswith(b"\x89PNG")
