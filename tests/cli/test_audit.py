"""``ribbonbar audit`` with one photo, as a tailor, a marshal or a veteran types it."""

import io
import json
import shutil
from datetime import date

import cv2
import numpy as np
import pytest
from PIL import Image

from ribbonbar.audit import audit_file, load_catalogue
from ribbonbar.cli import main
from ribbonbar.options import AuditOptions
from ribbonbar.report.as_json import from_json, to_dict
from ribbonbar.report.words import day
from tests.cli.desk import LORRANDY, ORDER, SAMPLES, audit, refused, sample


@pytest.fixture
def empty_photo(tmp_path):
    """A photograph of a plain table."""
    path = tmp_path / "table.png"
    Image.new("RGB", (640, 480), (118, 96, 70)).save(path)
    return path


def words(capsys) -> str:
    """What was printed, however it was broken into lines."""
    return " ".join(capsys.readouterr().out.split())


def test_a_bar_in_order_has_status_0(capsys):
    """The outcome comes first, then a line a ribbon, in the end the cautions; standard error is silent."""
    assert audit(sample("in-order")) == 0
    told = capsys.readouterr()
    assert told.err == ""
    lines = told.out.splitlines()
    assert lines[0].startswith(" IN ORDER   in-order.jpg")
    assert [line.split()[0] for line in lines if line.startswith("  1.")] == ["1.1", "1.2", "1.3", "1.4"]
    assert "proves no entitlement" in told.out
    assert "\x1b" not in told.out


def test_a_bar_in_order_asks_for_nothing(capsys):
    """Where all is well there is nothing to do."""
    assert audit(sample("in-order")) == 0
    assert "What to do" not in capsys.readouterr().out


def test_a_bar_out_of_order_has_status_1(capsys):
    """The ribbon to move is named with the place that is its own."""
    assert audit(sample("out-of-order")) == 1
    assert "its place is 1.2" in words(capsys)


def test_a_bar_that_cannot_be_confirmed_has_status_3(capsys):
    """Two awards share one ribbon: both are named, neither is guessed."""
    assert audit(sample("shared-ribbon")) == 3
    told = words(capsys)
    assert "Coastguard Long Service Medal" in told
    assert "Lighthouse Long Service Medal" in told


def test_the_record_settles_what_dates_can(capsys):
    """Without the wearer's dates the sequence stays open; with them it is confirmed."""
    assert audit(sample("dates-needed")) == 3
    assert audit(sample("dates-needed"), "--record", SAMPLES / "record.toml") == 0


def test_a_finished_bar_is_held_against_its_work_order(capsys, tmp_path):
    """Two ribbons swapped: not as ordered, and the handover sheet says so with job number and today's date."""
    order = ["--work-order", SAMPLES / "work-order.toml"]
    assert audit(sample("finished-bar"), *order, "--handover", tmp_path / "sheet.html") == 1
    assert "Lorrandy War Medal (1.3) and Straits Star (2.1) are swapped" in words(capsys)
    sheet = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "job 1042" in sheet
    assert day(date.today()) in sheet
    assert "Not as ordered" in sheet


def test_json_on_standard_output_stands_alone(capsys):
    """The report as the Python interface gives it, on one line, and nothing else."""
    assert audit(sample("out-of-order"), "--json", "-") == 1
    told = capsys.readouterr()
    assert told.err == ""
    assert told.out.count("\n") == 1
    expected = to_dict(audit_file(SAMPLES / "out-of-order.jpg", load_catalogue([LORRANDY]), AuditOptions(order=ORDER)))
    printed = json.loads(told.out)
    assert printed.pop("timing_ms").keys() == expected.pop("timing_ms").keys()
    assert printed == expected


def test_without_a_specification_those_shipped_are_used(capsys):
    """The shipped files know the invented country among the real ones."""
    assert main(["audit", sample("in-order"), "--order", ORDER]) == 0
    assert "Held against: Order of wear, Lorrandy armed forces" in capsys.readouterr().out


def test_every_file_asked_for_is_written(capsys, tmp_path):
    """JSON, page, table and pictures, each what its name says, and nothing besides."""
    names = {"--json": "r.json", "--html": "r.html", "--csv": "r.csv", "--annotate": "r.jpg", "--show-grid": "g.png"}
    files = [word for option, name in names.items() for word in (option, str(tmp_path / name))]
    assert audit(sample("out-of-order"), *files) == 1
    assert "OUT OF ORDER" in capsys.readouterr().out
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names.values())
    assert from_json((tmp_path / "r.json").read_text()).outcome == "out-of-order"
    assert "Keddle Isles Medal" in (tmp_path / "r.html").read_text(encoding="utf-8")
    assert (tmp_path / "r.csv").read_bytes().startswith(b"\xef\xbb\xbfphoto,outcome")
    assert Image.open(tmp_path / "r.jpg").format == "JPEG"
    assert Image.open(tmp_path / "g.png").format == "PNG"


def test_no_picture_written_carries_where_it_was_taken(tmp_path):
    """A photo with a place in its EXIF data: neither place nor maker is in anything written."""
    exif = Image.Exif()
    exif[0x010F] = "SECRETMAKER"
    exif.get_ifd(0x8825)[29] = "2031:01:01"  # GPSDateStamp
    photo = tmp_path / "photo.jpg"
    Image.open(sample("in-order")).save(photo, exif=exif, quality=92)
    names = ["a.png", "a.jpg", "a.html", "g.png"]
    pairs = zip(["--annotate", "--annotate", "--html", "--show-grid"], names, strict=True)
    for option, name in pairs:
        assert audit(photo, option, tmp_path / name) == 0
        written = (tmp_path / name).read_bytes()
        assert b"SECRETMAKER" not in written
        assert b"2031:01:01" not in written
    assert not Image.open(tmp_path / "a.jpg").getexif()


def test_nothing_is_written_over(capsys, tmp_path):
    """A file that is there stays, and no other output is written beside it; --force writes it."""
    page, table = tmp_path / "r.html", tmp_path / "r.csv"
    page.write_text("mine")
    files = ["--csv", table, "--html", page]
    assert "--force" in refused(capsys, sample("in-order"), *files)
    assert page.read_text() == "mine"
    assert not table.exists()
    assert audit(sample("in-order"), *files, "--force") == 0
    assert "in-order.jpg" in page.read_text(encoding="utf-8")
    assert table.exists()


@pytest.mark.parametrize("option", ["--json", "--html", "--csv"])
def test_no_input_is_written_over_even_when_forced(capsys, tmp_path, option):
    """Photo, specification, record, work order and answers are read, so they are never written."""
    photo, spec = tmp_path / "photo.jpg", tmp_path / "spec.toml"
    record, order, answers = (tmp_path / f"{name}.toml" for name in ("record", "order", "answers"))
    shutil.copy(sample("in-order"), photo)
    shutil.copy(LORRANDY, spec)
    shutil.copy(SAMPLES / "record.toml", record)
    shutil.copy(SAMPLES / "work-order.toml", order)
    answers.write_text('[answers]\n"1.1" = "lorrandy/sea-gallantry-cross"\n')
    inputs = ["--spec", spec, "--record", record, "--work-order", order, "--answers", answers]
    for path in (photo, spec, record, order, answers):
        before = path.read_bytes()
        assert "files being read" in refused(capsys, photo, *inputs, option, path, "--force")
        assert path.read_bytes() == before


def test_outputs_that_cannot_be_are_refused_before_the_work(capsys, tmp_path):
    """Two outputs in one file, a folder that is not there, a picture in a kind that is not written."""
    one = tmp_path / "one"
    assert "give each its own file" in refused(capsys, "none.jpg", "--csv", one, "--json", one)
    assert "does not exist" in refused(capsys, "none.jpg", "--html", tmp_path / "none" / "r.html")
    assert "end the name in .png or .jpg" in refused(capsys, "none.jpg", "--annotate", tmp_path / "a.gif")
    assert "end the name in .png" in refused(capsys, "none.jpg", "--show-grid", tmp_path / "g.jpg")
    assert "give what was ordered with --work-order" in refused(capsys, "none.jpg", "--handover", one)
    assert list(tmp_path.iterdir()) == []


def test_where_no_bar_is_found_the_way_on_is_told(capsys, empty_photo, tmp_path):
    """Status 3; the message names --corners and --show-grid, and the grid is written to read them from."""
    assert audit(empty_photo, "--show-grid", tmp_path / "grid.png") == 3
    told = words(capsys)
    assert "NO RIBBON BAR FOUND" in told
    assert '--corners "x,y x,y x,y x,y"' in told
    assert "--show-grid" in told
    grid = Image.open(tmp_path / "grid.png")
    assert grid.width > 640
    assert grid.height > 480


def test_corners_given_by_hand_replace_the_finding(capsys):
    """The true corners of a sample give the same ribbons, read within those corners."""
    truth = json.loads((SAMPLES / "out-of-order.json").read_text())["bars"][0]["corners"]
    text = " ".join(f"{x},{y}" for x, y in truth)
    assert audit(sample("out-of-order"), "--corners", text, "--json", "-") == 1
    (bar,) = json.loads(capsys.readouterr().out)["bars"]
    assert np.abs(np.array(bar["corners"]) - truth).max() < 0.1
    assert len(bar["rows"][0]) == 4


@pytest.mark.parametrize(
    ("corners", "why"),
    [
        ("here", "not pairs of numbers"),
        ("1,2 3,4 5,6", "3 are given"),
        ("10,10 200,10 200,60 10,60 5,5", "5 are given"),
        ("10,10 200,10 200,60 10,nan", "must be finite"),
        ("10,10 200,10 200,inf 10,60", "must be finite"),
        ("10,10 200,10 200,60 10,6000", "outside the picture, which is 1824 x 1216"),
        ("-5,10 200,10 200,60 10,60", "corner 1 (-5,10) lies outside"),
        ("10,10 10,60 200,60 200,10", "counter-clockwise"),
        ("10,10 200,60 200,10 10,60", "cross"),
        ("10,10 200,10 10,10 10,60", "cross or fold"),
        ("10,10 12,10 12,60 10,60", "shorter than 8 pixels"),
    ],
)
def test_bad_corners_are_one_line(capsys, corners, why):
    """Too few, not numbers, not finite, outside, the wrong way round, crossing, too small."""
    assert why in refused(capsys, sample("finished-bar"), "--corners", corners)


@pytest.mark.parametrize("award", ["lorrandy/lighthouse-long-service-medal", "Lighthouse long service medal"])
def test_an_answer_settles_a_position(capsys, award):
    """Given by id or by name; the bar is confirmed, and the report says that a hand helped."""
    assert audit(sample("shared-ribbon"), "--answer", f"1.4={award}", "--json", "-") == 0
    last = json.loads(capsys.readouterr().out)["bars"][0]["rows"][0][3]
    assert last["given_by_hand"]
    assert last["candidates"][0]["award"] == "lorrandy/lighthouse-long-service-medal"
    assert audit(sample("shared-ribbon"), "--answer", f"1.4={award}") == 0
    assert "given by hand" in capsys.readouterr().out


@pytest.mark.parametrize("position", ['"1.4"', "1.4"])
def test_answers_come_from_a_file_too(capsys, tmp_path, position):
    """The position with quotes, or without them as a person would write it first."""
    file = tmp_path / "answers.toml"
    file.write_text(f'[answers]\n{position} = "Lighthouse Long Service Medal"\n')
    assert audit(sample("shared-ribbon"), "--answers", file) == 0
    assert "given by hand" in capsys.readouterr().out


def test_an_answer_for_a_position_that_is_not_there_names_those_that_are(capsys):
    """Nothing is guessed about which position was meant."""
    told = refused(capsys, sample("shared-ribbon"), "--answer", "2.1=Polar Survey Medal")
    assert "no position 2.1" in told
    assert "1.1, 1.2, 1.3, 1.4" in told


def test_a_misspelt_answer_gets_a_proposal(capsys):
    """What was perhaps meant, by id."""
    told = refused(capsys, sample("shared-ribbon"), "--answer", "1.4=Lighthouse Long Servise Medal")
    assert "position 1.4" in told
    assert "did you mean lorrandy/lighthouse-long-service-medal" in told


def test_asking_needs_a_terminal(capsys):
    """In a script there is nobody to ask: the other way to answer is named."""
    assert "give --answer POSITION=AWARD" in refused(capsys, sample("shared-ribbon"), "--ask")


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["none.jpg"], "no such file"),
        (["{notes}"], "not a picture"),
        (["{torn}"], "cut short"),
        (["{photo}", "--spec", "{notes}"], "notes.jpg"),
        (["{photo}", "--order", "lorrandy/lorrandy-force"], "did you mean lorrandy/lorrandy-forces"),
        (["{photo}", "--record", "{notes}"], "notes.jpg"),
        (["{photo}", "--work-order", "none.toml"], "no such file"),
        (["{photo}", "--answer", "1.4"], "POSITION=AWARD"),
        (["{photo}", "--answers", "none.toml"], "cannot be read"),
        (["{photo}", "--max-megapixels", "0.5"], "raise the limit with --max-megapixels"),
        (["{photo}", "--max-megapixels", "nan"], "give a number above 0"),
        (["{photo}", "--max-megapixels", "-1"], "give a number above 0"),
        (["{photo}", "--workers", "0"], "workers"),
        (["{photo}", "--debug-folder", "{notes}"], "this is a file"),
        (["{photo}", "--colour"], "No such option"),
        ([], "PHOTO"),
    ],
)
def test_what_cannot_be_used_is_one_line(capsys, tmp_path, arguments, why):
    """Never a traceback: what is wrong, where, and how to mend it."""
    notes, torn = tmp_path / "notes.jpg", tmp_path / "torn.jpg"
    notes.write_text("the customer comes on Friday")
    torn.write_bytes((SAMPLES / "in-order.jpg").read_bytes()[:20_000])
    names = {"notes": notes, "torn": torn, "photo": sample("in-order")}
    assert why in refused(capsys, *(word.format(**names) for word in arguments))


def test_the_pictures_of_the_stages_go_into_a_folder(capsys, tmp_path):
    """Into a new folder; one that holds files already is refused."""
    folder = tmp_path / "stages"
    assert audit(sample("in-order"), "--debug-folder", folder) == 0
    pictures = list(folder.iterdir())
    assert pictures
    assert all(cv2.imread(str(path)) is not None for path in pictures)
    capsys.readouterr()
    assert "holds files already" in refused(capsys, sample("in-order"), "--debug-folder", folder)


def test_the_grid_holds_nothing_but_pixels(tmp_path):
    """PNG (ISO/IEC 15948): header, data and end, no text, time, profile or EXIF chunk."""
    assert audit(sample("in-order"), "--show-grid", tmp_path / "g.png") == 0
    data, at, chunks = (tmp_path / "g.png").read_bytes(), 8, set()
    while at < len(data):
        length = int.from_bytes(data[at : at + 4])
        chunks.add(data[at + 4 : at + 8])
        at += length + 12
    assert chunks == {b"IHDR", b"IDAT", b"IEND"}


def test_a_phone_photo_turned_by_exif_is_shown_upright_on_the_grid(tmp_path):
    """Coordinates are those of the upright picture, which is what --corners takes."""
    exif = Image.Exif()
    exif[274] = 6  # the camera was held upright
    buffer = io.BytesIO()
    Image.new("RGB", (1200, 800), (40, 60, 90)).save(buffer, "JPEG", exif=exif)
    (tmp_path / "turned.jpg").write_bytes(buffer.getvalue())
    assert audit(tmp_path / "turned.jpg", "--show-grid", tmp_path / "g.png") == 3
    grid = Image.open(tmp_path / "g.png")
    assert grid.height > grid.width
