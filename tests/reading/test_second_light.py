"""A bar whose light was taken wrong from plain ribbons: found again from the ribbons that it leaves unrecognised."""

import pytest

from ribbonbar.reading.decode import decode, divided, set_up, shine_on, unlit
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.refine import refine
from ribbonbar.reading.second_light import UNRECOGNISED, second_light
from ribbonbar.reading.templates import bank_of
from ribbonbar.spec.model import Award, Specification
from tests.reading.cloth import GOLD, GREEN, NAVY, RIBBONS, SKY, WHITE, catalogue, dye, ribbon, woven_strip
from tests.reading.strips import seen_on

PLAIN = {"calm-medal": SKY, "wharf-medal": GREEN, "coal-medal": NAVY, "grain-medal": GOLD, "snow-medal": WHITE}
WOVEN = RIBBONS | {name: ribbon((colour, 32)) for name, colour in PLAIN.items()}
PURPLE, YELLOW, BLACK = dye("purple", "#6a2c82"), dye("yellow", "#f0dc3c"), dye("black", "#141414")
STRANGERS = {
    "of colours that no other has": ribbon((PURPLE, 3), (YELLOW, 10), (PURPLE, 6), (YELLOW, 10), (PURPLE, 3)),
    "of as many stripes as a known one": ribbon((YELLOW, 12), (BLACK, 8), (YELLOW, 12)),
}


@pytest.fixture(scope="module")
def full():
    """The small catalogue's templates and a plain ribbon of nearly every colour in it: some light suits each of them
    to each other."""
    awards = {f"calder/{n}": Award(f"calder/{n}", n.replace("-", " ").title(), ribbons=(WOVEN[n],)) for n in PLAIN}
    return set_up(bank_of(Specification(awards=dict(catalogue().awards) | awards)), 6.0)


def bar(*ribbons, light=(1.0, 1.0, 1.0)):
    """The rows of a bar of one row."""
    return [seen_on(0.0, strip=woven_strip([(one, False) for one in ribbons], light=light))]


def first_light(views, loom):
    """The templates under the light first found, and the rows under it."""
    shone, rows = decode(views, unlit(loom), {})
    return shone, [refine(row, view, shone) for row, view in zip(rows, views, strict=True)]


def told(rows, loom):
    """The likeliest award of each ribbon."""
    (row,) = rows
    return [loom.bank.patterns[loom.pattern[t]].names[0][0].split("/")[1] for t in row.evidence.argmax(1)]


def best(rows):
    """Log evidence of the likeliest look of each ribbon."""
    (row,) = rows
    return row.evidence.max(1)


@pytest.mark.parametrize(
    ("names", "light", "taken_for"),
    [
        (("calm-medal", "calm-medal", "harbour-star"), (1.3, 0.3, 0.3), "valour-cross"),
        (("valour-cross", "valour-cross", "valour-cross", "harbour-star"), (0.4, 0.9, 0.3), "wharf-medal"),
        (("wharf-medal", "wharf-medal", "wharf-medal", "long-service"), (0.7, 0.8, 0.3), "coal-medal"),
        # under the wrong light, a wide ribbon among three is divided as two of five
        (("calm-medal", "calm-medal", "calm-medal", "order-of-merit"), (0.8, 0.2, 1.1), "grain-medal"),
    ],
)
def test_plain_ribbons_do_not_keep_the_light_that_suits_them(full, names, light, taken_for):
    """Plain ribbons in odd light pass for plain ribbons of another colour, and the ribbon of many stripes beside them
    is then like nothing; by its light, all are what they are."""
    views = bar(*(WOVEN[name] for name in names), light=light)
    shone, rows = first_light(views, full)
    assert told(rows, full)[0] == taken_for
    assert best(rows)[-1] < UNRECOGNISED < best(rows)[0]
    shone, rows = second_light(rows, views, shone, {})
    assert told(rows, full) == list(names)
    assert best(rows).min() > -40.0
    again = divided(views, shone)  # the light that comes back is the one that the rows are now told by
    assert told(again, full) == list(names)
    assert best(again).min() > UNRECOGNISED


@pytest.mark.parametrize("names", [("harbour-star", "valour-cross"), ("valour-cross",) * 3, ("jubilee",)])
def test_a_bar_that_is_recognised_keeps_its_light(full, names):
    """Every ribbon fits: light and rows come back as they were."""
    views = bar(*(WOVEN[name] for name in names))
    shone, rows = first_light(views, full)
    assert best(rows).min() > UNRECOGNISED
    light, again = second_light(rows, views, shone, {})
    assert light is shone
    assert again is rows


@pytest.mark.parametrize("kind", STRANGERS)
@pytest.mark.parametrize("known", [("valour-cross", "harbour-star"), ("jubilee",)])
def test_a_stranger_does_not_change_the_light_of_the_known_ones(full, known, kind):
    """A ribbon in no specification suits no light at all: the others' light stays."""
    views = bar(*(WOVEN[name] for name in known), STRANGERS[kind])
    shone, rows = first_light(views, full)
    assert best(rows)[-1] < UNRECOGNISED < best(rows)[:-1].min()
    light, again = second_light(rows, views, shone, {})
    assert light is shone
    assert again is rows
    assert told(again, full)[:-1] == list(known)


def test_a_bar_of_one_wrong_light_is_right_again(loom):
    """Seen so dark that a ribbon of many stripes is like nothing while a plain one still passes."""
    dark = type(NEUTRAL)(NEUTRAL.gain * 0.35, NEUTRAL.offset)
    views = bar(RIBBONS["harbour-star"], RIBBONS["valour-cross"])
    shone = shine_on(loom, dark)
    rows = [refine(row, view, shone) for row, view in zip(divided(views, shone), views, strict=True)]
    assert best(rows)[0] < UNRECOGNISED < best(rows)[1]
    _, rows = second_light(rows, views, shone, {})
    assert told(rows, loom) == ["harbour-star", "valour-cross"]
    assert best(rows).min() > -40.0
