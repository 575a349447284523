"""Reports on bars of an invented country, with the photograph they speak of."""

from dataclasses import replace
from datetime import date

import cv2
import numpy as np
import pytest

from ribbonbar.findings import Finding
from ribbonbar.report.model import Bar, Candidate, Photo, Position, Report, SeenEmblem
from ribbonbar.spec.colour import lab_from_hex
from ribbonbar.spec.model import (
    Authority,
    Award,
    Colour,
    Emblem,
    Group,
    Interval,
    OrderOfWear,
    Ribbon,
    Source,
    Specification,
    Stripe,
)

DYES = {
    "crimson": "#8e1f33",
    "navy": "#1f2a4d",
    "white": "#f1efe6",
    "sky-blue": "#86aed2",
    "gold": "#c8963c",
    "green": "#2c6e49",
    "black": "#1b1b1d",
    "orange": "#d2692f",
    "purple": "#573275",
}


def colour(name: str) -> Colour:
    return Colour(name, lab_from_hex(DYES[name]), "stated", "tarn/warrant")


def stripe(name: str, width: float) -> Stripe:
    start, _, end = name.partition(">")
    return Stripe(colour(start), colour(end or start), width)


def ribbon(*stripes: tuple[str, float], id: str = "standard", **fields) -> Ribbon:
    fields = {"shape": "stripes", "width_mm": 32.0, "height_mm": 10.0, "source": "tarn/warrant"} | fields
    return Ribbon(id, stripes=tuple(stripe(*s) for s in stripes), certainty="stated", **fields)


def award(id: str, name: str, *ribbons: Ribbon, **fields) -> Award:
    return Award(f"tarn/{id}", name, ribbons=ribbons, **fields)


AWARDS = (
    award("valour-cross", "Valour Cross", ribbon(("crimson", 32))),
    award(
        "heron",
        "Order of the Heron, Second Class",
        ribbon(("white", 3.2), ("purple", 3.2), shape="diagonal", angle=45.0, width_mm=38.0),
    ),
    award(
        "harbour-star",
        "Harbour Star",
        ribbon(("navy", 10), ("white", 2), ("sky-blue", 8), ("white", 2), ("navy", 10)),
        earned=Interval(date(1951, 3, 1), date(1954, 10, 31)),
        emblems=(Emblem("rosette", "silver", "clasp held"),),
        earned_source="tarn/warrant",
        earned_certainty="stated",
    ),
    award(
        "strait-medal",
        "Strait Medal",
        ribbon(("black", 10), ("white", 2), ("sky-blue", 8), ("white", 2), ("black", 10)),
        earned=Interval(date(1960, 6, 1), date(1961, 2, 28)),
    ),
    award("lamp-medal", "Lamp Medal", ribbon(("gold", 20), ("green", 12)), earned=Interval(date(1970, 1, 1))),
    award("ice-medal", "Ice Patrol Medal", ribbon(("white>sky-blue", 16), ("navy", 16))),
    award("jubilee", "Jubilee Medal", ribbon(("crimson", 6), ("white", 20), ("crimson", 6))),
    award("long-service", "Long Service and Good Conduct Medal", ribbon(("green", 12), ("gold", 8), ("green", 12))),
    award("banded", "Pilot Service Medal", ribbon(("navy", 3), ("gold", 3), ("crimson", 3), shape="bands")),
    award("cord", "Cord of Honour", ribbon(shape="unmatched", unmatched="embroidered in metal thread")),
)


@pytest.fixture
def specification() -> Specification:
    keys = tuple(a.key for a in AWARDS)
    order = OrderOfWear(
        "tarn/forces",
        "Order of wear, Tarn Isles forces",
        (
            Group("gallantry", "Gallantry", "listed", keys[:2]),
            Group("campaign", "Campaign medals", "by-date", keys[2:6]),
            Group("service", "Service medals", "listed", keys[6:]),
        ),
        source="tarn/warrant",
    )
    return Specification(
        authorities={"tarn": Authority("tarn", "Tarn Isles (invented)")},
        sources={
            "tarn/warrant": Source("tarn/warrant", "Royal warrant of Tarn, 1972 (invented)", "https://example.org/w")
        },
        colours={f"tarn/{name}": colour(name) for name in DYES},
        awards={a.key: a for a in AWARDS},
        orders={order.key: order},
    )


def candidate(id: str, probability: float = 0.99, **fields) -> Candidate:
    return Candidate(
        **{"award": f"tarn/{id}", "ribbon": "standard", "reversed": False, "probability": probability} | fields
    )


def seen(id: str) -> tuple[tuple[float, float, float], ...]:
    """48 samples across the ribbon, a little off the published dyes as cloth is."""
    pattern = next(a for a in AWARDS if a.key == f"tarn/{id}").ribbons[0]
    if pattern.shape == "unmatched":
        return ((50.0, 5.0, 5.0),) * 48
    edges = np.cumsum([s.width for s in pattern.stripes])
    where = np.searchsorted(edges / edges[-1], (np.arange(48) + 0.5) / 48)
    labs = np.array([pattern.stripes[i].start.lab for i in where]) + np.array([2.0, -1.5, 2.5])
    return tuple(tuple(float(v) for v in lab) for lab in labs.round(1))


# The bar stands a little turned and seen from the side, as bars on photographs do.
_FLAT = np.float32([[0, 0], [1280, 0], [1280, 200], [0, 200]])
_ON_PHOTO = np.float32([[212, 301], [1188, 268], [1196, 421], [220, 468]])
_TO_PHOTO = cv2.getPerspectiveTransform(_FLAT, _ON_PHOTO)


def on_photo(x0: float, y0: float, x1: float, y1: float) -> tuple[tuple[float, float], ...]:
    """Corners on the photo of a box on the flat bar, 10 flat pixels to the millimetre."""
    box = np.float32([[[x0, y0], [x1, y0], [x1, y1], [x0, y1]]])
    return tuple((float(x), float(y)) for x, y in cv2.perspectiveTransform(box, _TO_PHOTO)[0])


def position(row: int, place: int, of: int, *candidates: Candidate, status: str = "identified", **fields) -> Position:
    """A position of a two-row bar whose rows hold four and are centred."""
    left = (1280 - 320 * of) / 2 + 320 * (place - 1)
    corners = on_photo(left, 100 * (row - 1), left + 320, 100 * row)
    read = (
        seen(candidates[0].award.split("/")[1]) if candidates else ((60.0, 4.0, 8.0),) * 20 + ((30.0, 9.0, -4.0),) * 28
    )
    return Position(f"{row}.{place}", corners, status, candidates, **{"seen": read} | fields)


def report_on(*rows: tuple[Position, ...], outcome: str, **fields) -> Report:
    return Report(
        photo=Photo("IMG_0412.jpg", 1400, 800, "5f" * 32),
        outcome=outcome,
        order_of_wear="tarn/forces",
        bars=(Bar(on_photo(0, 0, 1280, 200), rows),) if rows else (),
        timing_ms={"total": 412.04},
        editions=("tarn.toml 0123456789ab",),
        **fields,
    )


def keys(*ids: str) -> tuple[str, ...]:
    return tuple(f"tarn/{id}" for id in ids)


def _bar(*rows: tuple[str, ...]) -> tuple[tuple[Position, ...], ...]:
    return tuple(
        tuple(position(r, p, len(row), candidate(id)) for p, id in enumerate(row, 1)) for r, row in enumerate(rows, 1)
    )


@pytest.fixture
def in_order() -> Report:
    ids = ("valour-cross", "heron"), ("harbour-star", "strait-medal", "jubilee", "long-service")
    return report_on(
        *_bar(*ids),
        outcome="in-order",
        proposed_order=keys(*ids[0], *ids[1]),
        proposed_positions=("1.1", "1.2", "2.1", "2.2", "2.3", "2.4"),
    )


@pytest.fixture
def out_of_order() -> Report:
    """The Strait Medal stands at the junior end; its place is after the Harbour Star."""
    rows = _bar(("valour-cross", "heron"), ("harbour-star", "jubilee", "lamp-medal", "strait-medal"))
    rows = (rows[0], (replace(rows[1][0], emblems=(SeenEmblem("rosette", 0.5, 0.5, 8.0),)), *rows[1][1:]))
    turned = replace(rows[1][2], candidates=(candidate("lamp-medal", 0.97, reversed=True),))
    rows = (rows[0], (*rows[1][:2], turned, rows[1][3]))
    return report_on(
        *rows,
        outcome="out-of-order",
        proposed_order=keys("valour-cross", "heron", "harbour-star", "strait-medal", "lamp-medal", "jubilee"),
        proposed_positions=("1.1", "1.2", "2.1", "2.4", "2.3", "2.2"),
        to_move=("2.4", "2.2"),
        findings=(
            Finding(
                "out-of-place",
                ("2.4",),
                "error",
                "Strait Medal (2.4) must stand before Lamp Medal (2.3); its place is 2.2.",
                "“Campaign medals” go by the first day of service: 1 June 1960 is before 1 January 1970",
                "Royal warrant of Tarn, 1972 (invented)",
            ),
            Finding(
                "out-of-place",
                ("2.2",),
                "error",
                "Jubilee Medal (2.2) must stand after Lamp Medal (2.3); its place is 2.4.",
                "“Campaign medals” stand before “Service medals”",
                "Royal warrant of Tarn, 1972 (invented)",
            ),
            Finding(
                "reversed",
                ("2.3",),
                "warning",
                "Lamp Medal is mounted back to front: turn the ribbon about.",
                "its stripes run the other way round than the specification says",
                "Royal warrant of Tarn, 1972 (invented)",
            ),
        ),
    )


@pytest.fixture
def doubtful() -> Report:
    """Nothing proved wrong: one of two look-alikes, one ribbon unknown, one settled by hand."""
    rows = (
        (
            position(1, 1, 2, candidate("valour-cross", 0.93)),
            position(1, 2, 2, candidate("heron", 1.0), given_by_hand=True),
        ),
        (
            position(2, 1, 4, candidate("harbour-star", 0.55), candidate("strait-medal", 0.43), status="ambiguous"),
            position(2, 2, 4, candidate("lamp-medal")),
            position(2, 3, 4, status="unidentified"),
            position(2, 4, 4, candidate("long-service")),
        ),
    )
    return report_on(
        *rows,
        outcome="unconfirmed",
        proposed_order=(
            *keys("valour-cross", "heron", "harbour-star", "lamp-medal"),
            "unidentified",
            "tarn/long-service",
        ),
        proposed_positions=("1.1", "1.2", "2.1", "2.2", "2.3", "2.4"),
        findings=(
            Finding(
                "ambiguous",
                ("2.1",),
                "note",
                "This ribbon may be Harbour Star or Strait Medal.",
                "this picture does not tell them apart",
            ),
            Finding(
                "unidentified",
                ("2.3",),
                "warning",
                "This ribbon matches nothing in the specification well enough to be named.",
                "nearest, but unlike: Lamp Medal",
            ),
        ),
    )


@pytest.fixture
def no_bar() -> Report:
    message = "No ribbon bar was found on this picture. If there is one, say where it is with --corners."
    return report_on(outcome="no-bar", findings=(Finding("photo", (), "note", message),))


@pytest.fixture
def perhaps_wrong(doubtful: Report) -> Report:
    """Only as one of two look-alikes would the ribbon at 2.1 be out of place: no error, only a warning."""
    warning = Finding(
        "out-of-place",
        ("2.1",),
        "warning",
        "If the ribbon at 2.1 is Strait Medal, it is out of place: Lamp Medal must stand before it.",
        "made up for this bar",
    )
    return replace(doubtful, findings=(*doubtful.findings, warning))


@pytest.fixture
def two_bars(in_order: Report, out_of_order: Report) -> Report:
    """One picture, two bars; the positions of the second begin with its number."""

    def second(number: str) -> str:
        return f"2/{number}"

    lower = out_of_order.bars[0]
    rows = tuple(tuple(replace(p, position=second(p.position)) for p in row) for row in lower.rows)
    below = tuple((x, y + 250) for x, y in lower.corners)
    return replace(
        out_of_order,
        bars=(in_order.bars[0], replace(lower, rows=rows, corners=below)),
        findings=tuple(replace(f, positions=tuple(map(second, f.positions))) for f in out_of_order.findings),
        proposed_order=in_order.proposed_order + out_of_order.proposed_order,
        proposed_positions=in_order.proposed_positions + tuple(map(second, out_of_order.proposed_positions)),
        to_move=tuple(map(second, out_of_order.to_move)),
    )


@pytest.fixture
def verified() -> Report:
    """A finished bar against its work order: two ribbons stand in each other's place."""
    ids = ("valour-cross", "heron"), ("harbour-star", "strait-medal", "long-service", "jubilee")
    return report_on(
        *_bar(*ids),
        outcome="out-of-order",
        work_order="job 1042",
        proposed_order=keys("valour-cross", "heron", "harbour-star", "strait-medal", "jubilee", "long-service"),
        proposed_positions=("1.1", "1.2", "2.1", "2.2", "2.4", "2.3"),
        to_move=("2.4",),
        findings=(
            Finding(
                "swapped",
                ("2.3", "2.4"),
                "error",
                "Long Service and Good Conduct Medal (2.3) and Jubilee Medal (2.4) are swapped.",
                "the work order says so",
            ),
        ),
    )


@pytest.fixture
def ordered_rows() -> tuple[tuple[str, ...], ...]:
    return keys("valour-cross", "heron"), keys("harbour-star", "strait-medal", "jubilee", "long-service")


ATTACK = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>\x1b[31m\x1b]0;t\x07\u202egnp\r\n=cmd|calc"


@pytest.fixture
def hostile(out_of_order: Report) -> Report:
    """Every text of the report that comes from a file tries to break out of the page, the terminal and the table."""
    first, *others = out_of_order.findings
    return replace(
        out_of_order,
        photo=replace(out_of_order.photo, name=f"=cmd{ATTACK}.jpg"),
        findings=(replace(first, message=f"@SUM {ATTACK}", because=ATTACK, source=ATTACK), *others),
        editions=(ATTACK,),
        work_order=f"+job {ATTACK}",
    )


@pytest.fixture
def hostile_specification(specification: Specification) -> Specification:
    awards = {
        key: replace(a, name=f"-1+{ATTACK}", note=ATTACK, emblems=(Emblem(ATTACK, ATTACK, ATTACK),))
        if key != "tarn/heron"
        else a
        for key, a in specification.awards.items()
    }
    orders = {key: replace(o, title=ATTACK) for key, o in specification.orders.items()}
    sources = {"tarn/warrant": Source("tarn/warrant", ATTACK, "javascript:alert(3)")}
    return replace(specification, awards=awards, orders=orders, sources=sources)


@pytest.fixture
def photo_pixels(out_of_order: Report) -> np.ndarray:
    """(800, 1400, 3) uint8 sRGB: the bar of ``out_of_order`` on dark cloth, a red patch in the far corner."""
    return photograph(out_of_order)


def photograph(report: Report) -> np.ndarray:
    noise = np.random.default_rng(7)
    flat = np.zeros((200, 1280, 4), np.float32)
    for row in report.bars[0].rows:
        for place in row:
            box = cv2.perspectiveTransform(np.float32([place.corners]), np.linalg.inv(_TO_PHOTO))[0]
            (x0, y0), (x1, y1) = box[0].round().astype(int), box[2].round().astype(int)
            flat[y0:y1, x0:x1, :3] = _cloth(place, y1 - y0, x1 - x0)
            flat[y0:y1, x0:x1, 3] = 1.0
    scene = np.empty((800, 1400, 3), np.float32)
    scene[:] = np.float32([52, 55, 60])
    scene[700:, 1300:] = [255, 0, 0]  # something that no report may show
    warped = cv2.warpPerspective(flat, _TO_PHOTO, (1400, 800), flags=cv2.INTER_AREA)
    cover = warped[..., 3:]
    scene = scene * (1 - cover) + warped[..., :3] * cover
    return np.clip(scene + noise.normal(0, 4, scene.shape), 0, 255).astype(np.uint8)


def _cloth(place: Position, height: int, width: int) -> np.ndarray:
    """(height, width, 3) float32 sRGB 0..255 of one ribbon, its weave showing as faint ribs."""
    pixels = np.empty((height, width, 3), np.float32)
    hexes = [DYES["gold"], DYES["black"]]
    shape, cuts, turned = "stripes", [1.0, 2.0], False
    if place.candidates:
        best = place.candidates[0]
        pattern = next(a for a in AWARDS if a.key == best.award).ribbons[0]
        shape, turned = pattern.shape, best.reversed
        if shape != "unmatched":
            hexes = [DYES[s.start.name] for s in pattern.stripes]
            cuts = np.cumsum([s.width for s in pattern.stripes])
    ys, xs = np.mgrid[0:height, 0:width] / np.array([[[height]], [[width]]])
    along = {"bands": ys, "diagonal": (xs * 3.2 + ys) % 0.64 / 0.64}.get(shape, 1 - xs if turned else xs)
    which = np.searchsorted(np.asarray(cuts) / cuts[-1], along, side="right").clip(0, len(hexes) - 1)
    pixels[:] = np.array([[int(h[i : i + 2], 16) for i in (1, 3, 5)] for h in hexes], np.float32)[which]
    return pixels * (0.96 + 0.04 * np.sin(np.arange(height) * 2.1)[:, None, None])
