"""What is typed after ``ribbonbar audit`` becomes options: checked once, never guessed."""

from dataclasses import fields
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ribbonbar.cli.audit import audit as audit_command
from ribbonbar.errors import OptionError
from ribbonbar.job import Request, check_files, options_of
from ribbonbar.many import photos_of
from ribbonbar.options import check_corners, check_positions, parse_answers, parse_corners
from ribbonbar.spec.reader import read_specification

LORRANDY = Path(__file__).parents[1] / "ribbon_specs" / "lorrandy.toml"


@cache
def specification():
    return read_specification([LORRANDY])


def answers(*texts: str, file: Path | None = None) -> dict[str, str]:
    return parse_answers(texts, file, specification())


def test_every_option_of_the_command_is_a_field_of_the_request():
    """Nothing that can be typed is lost on the way to the work."""
    typed = {"spec": "specs"}
    options = {typed.get(name, name) for name in audit_command.__annotations__ if name != "return"}
    assert options == {field.name for field in fields(Request)}


@pytest.mark.parametrize(
    "text", ["10,20 110,20 110,50 10,50", " 10 , 20  110,20\n110,50\t10,50 ", "1e1,20 110.0,+20 110,50 10,50"]
)
def test_corners_are_read_as_a_person_writes_them(text):
    """Blanks beside the commas and any white space between the pairs."""
    assert parse_corners(text) == ((10, 20), (110, 20), (110, 50), (10, 50))


def test_a_bar_upside_down_has_its_corners_clockwise_too():
    """The first corner is the bar's own top left, wherever that is on the picture."""
    assert parse_corners("110,50 10,50 10,20 110,20")[0] == (110, 50)


@given(st.text(alphabet="0123456789., -+einfa\n", max_size=60) | st.text(max_size=40))
def test_any_text_for_corners_is_an_outline_or_one_line(text):
    """Never another error than the one for options."""
    try:
        assert len(parse_corners(text)) == 4
    except OptionError as error:
        assert "\n" not in str(error)


@given(st.lists(st.tuples(st.floats(), st.floats()), min_size=4, max_size=4))
def test_any_four_points_are_convex_and_clockwise_or_refused(points):
    """What is taken goes round once, clockwise as seen, with no corner that folds back."""
    try:
        corners = parse_corners(" ".join(f"{x!r},{y!r}" for x, y in points))
    except OptionError:
        return
    for k in range(4):
        (ax, ay), (bx, by), (cx, cy) = corners[k - 2], corners[k - 1], corners[k]
        assert (bx - ax) * (cy - by) > (by - ay) * (cx - bx)


def test_corners_on_the_border_lie_inside():
    """The whole picture may be the bar; a pixel beyond it may not."""
    check_corners(((0, 0), (40, 0), (40, 30), (0, 30)), 40, 30)
    with pytest.raises(OptionError, match=r"corner 3 \(41,30\) lies outside"):
        check_corners(((0, 0), (40, 0), (41, 30), (0, 30)), 40, 30)


def test_answers_by_id_and_name_come_back_as_keys():
    """Blanks round the equals sign do not matter; a second bar's positions have its number before them."""
    told = answers("1.3 = Polar Survey Medal", "2/1.1=keddle-isles-medal")
    assert told == {"1.3": "lorrandy/polar-survey-medal", "2/1.1": "lorrandy/keddle-isles-medal"}


@pytest.mark.parametrize("text", ["1=Polar Survey Medal", "0.1=x", "1.0=x", "a.b=x", "=x", "1,3=x", "1.2.3=x", "1.2"])
def test_what_is_no_position_is_refused(text):
    """Rows and places are counted from 1."""
    with pytest.raises(OptionError, match=r"1\.3"):
        answers(text)


def test_a_position_given_two_awards_is_refused(tmp_path):
    """On the command line, and between it and a file; the same award twice is no quarrel."""
    with pytest.raises(OptionError, match=r"position 1\.3 is given two awards"):
        answers("1.3=Polar Survey Medal", "1.3=Keddle Isles Medal")
    file = tmp_path / "answers.toml"
    file.write_text('[answers]\n"1.3" = "Polar Survey Medal"\n')
    assert answers("1.3=Polar Survey Medal", file=file) == {"1.3": "lorrandy/polar-survey-medal"}
    with pytest.raises(OptionError, match="is given two awards"):
        answers("1.3=Keddle Isles Medal", file=file)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", r"no table \[answers\]"),
        ("answers = 3", r"no table \[answers\]"),
        ("[answer]\n", "“answer” is not known here"),
        ("[answers]\n1.3 = 4", "must be a text in quotes"),
        ("[answers]\n1.3.4 = 'x'", "must be a text in quotes"),
        ("[answers]\n1.3 = ['x']", "must be a text in quotes"),
        ("[answers\n", "not valid TOML"),
        ("[answers]\n'9' = 'Polar Survey Medal'", "“9” is no position"),
        ("[answers]\n1.3 = 'Polar Survay Medal'", "did you mean lorrandy/polar-survey-medal"),
        ("a." * 20_000 + "b = 1", "not known here|not valid TOML"),
        ("#" * 60_000, "too large"),
        (b"[answers]\n1.3 = '\xff'", "not UTF-8"),
    ],
)
def test_a_faulty_answers_file_is_one_line_that_names_it(tmp_path, text, why):
    """The file's name, what is wrong, and how it is to be written."""
    file = tmp_path / "my-answers.toml"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(OptionError, match=why) as error:
        answers(file=file)
    assert str(error.value).startswith("my-answers.toml")
    assert "\n" not in str(error.value)


def test_a_files_name_is_never_taken_for_a_pattern(tmp_path):
    """Braces and per cent signs in it are letters like others."""
    file = tmp_path / "{job} 100%s.toml"
    file.write_text('[answers]\n"1.3" = 4\n')
    with pytest.raises(OptionError, match=r"^\{job\} 100%s\.toml, “1\.3”: the award must be a text in quotes"):
        answers(file=file)


@given(st.text(max_size=60))
def test_any_text_for_an_answer_is_an_answer_or_one_line(text):
    """Never another error than the one for options."""
    try:
        answers(text)
    except OptionError as error:
        assert "\n" not in str(error)


def test_an_answer_for_a_missing_position_names_those_there():
    """The bar has two ribbons, the answer is for a third."""
    check_positions({"1.2": "x"}, ["1.1", "1.2"])
    with pytest.raises(OptionError, match=r"no position 1\.3 .* it has 1\.1, 1\.2"):
        check_positions({"1.3": "x"}, ["1.1", "1.2"])


def test_an_order_by_its_title_is_found():
    """Orders of wear answer to key, id and title, as awards do."""
    request = Request((Path("x.jpg"),), order="order of wear, lorrandy armed forces")
    assert options_of(request, specification()).order == "lorrandy/lorrandy-forces"


def test_one_photo_is_one_several_or_a_folder_are_many(tmp_path):
    """A run that goes on with an earlier one is a run of many, even of one photo."""
    photo = tmp_path / "x.jpg"
    assert not Request((photo,)).is_many
    assert Request((photo, photo)).is_many
    assert Request((tmp_path,)).is_many
    assert Request((photo,), resume=True).is_many


def test_photos_are_those_named_and_those_in_folders_each_once(tmp_path):
    """A missing file stays in its place, to be told of."""
    for name in ("b.jpg", "a.png", "note.txt", ".hidden.jpg"):
        (tmp_path / name).touch()
    gone, first = tmp_path / "gone.jpg", tmp_path / "b.jpg"
    assert photos_of([first, gone, tmp_path]) == [first, gone, tmp_path / "a.png"]
    (tmp_path / "empty").mkdir()
    with pytest.raises(OptionError, match="no pictures in this folder"):
        photos_of([tmp_path / "empty"])


def test_one_file_cannot_hold_two_outputs(tmp_path, monkeypatch):
    """However its name is written."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(OptionError, match="give each its own file"):
        check_files(Request((Path("x.jpg"),)), [Path("r"), None, tmp_path / "r"], [])
