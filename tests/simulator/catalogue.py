"""Invented catalogues: believable ribbons by the hundred, with look-alikes, shared ribbons and orders of wear."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np

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

# Invented dyes in CIE L*a*b*; how often a dye is taken follows its weight. Neutrals and primaries are commonest.
DYES = {
    "white": (95, 0, 4, 6), "ivory": (90, -1, 16, 2), "black": (9, 0, 0, 3), "charcoal": (26, 0, -2, 1),
    "navy": (16, 5, -20, 4), "midnight": (20, 10, -30, 2), "royal": (33, 14, -48, 4), "cobalt": (44, 2, -42, 2),
    "azure": (60, -8, -34, 3), "ice-blue": (81, -6, -14, 2), "slate-blue": (48, -1, -18, 1), "teal": (44, -24, -12, 2),
    "scarlet": (46, 60, 42, 4), "red": (40, 58, 32, 4), "crimson": (30, 44, 12, 3), "cerise": (38, 54, 6, 1),
    "claret": (22, 30, 7, 2), "rose": (66, 30, 8, 1), "shell-pink": (79, 17, 6, 1), "coral": (60, 46, 36, 1),
    "tangerine": (60, 42, 56, 2), "amber": (71, 15, 64, 2), "yellow": (83, -3, 72, 4), "primrose": (89, -6, 42, 1),
    "gold": (60, 9, 48, 3), "sand": (72, 4, 28, 1), "drab": (56, 1, 24, 1), "tan": (47, 17, 30, 1),
    "brown": (32, 14, 18, 2), "umber": (21, 9, 9, 1), "green": (43, -36, 22, 4), "emerald": (52, -47, 26, 1),
    "bottle-green": (25, -22, 10, 3), "olive": (37, -7, 22, 1), "apple": (70, -27, 38, 1), "mint": (80, -20, 12, 1),
    "violet": (40, 30, -36, 2), "purple": (25, 26, -30, 2), "lavender": (63, 17, -24, 1), "plum": (31, 26, -10, 1),
    "grey": (59, 0, -2, 1), "silver": (77, 0, -1, 1),
}  # fmt: skip
_START = """bal cor dun el far gor hal ist jor kel lor mar nor os pel quil ras sel tor ul ver wes yar zim ald bran cal
drav en fen"""
_END = "dale holm mere moor stead wick barrow field gate haven ridge strand vale water fold rey min dor ane ith"
_KINDS = {
    "crosses": ("Cross of {}", "{} Cross"),
    "orders": ("Order of {}", "Companionship of {}"),
    "gallantry": ("{} Gallantry Medal", "{} Rescue Medal", "{} Bravery Medal"),
    "campaign": ("{} Campaign Medal", "{} Star", "{} Expedition Medal"),
    "jubilee": ("{} Jubilee Medal", "{} Centenary Medal"),
    "long-service": ("{} Long Service Medal", "{} Efficiency Medal"),
    "foreign": ("{} Alliance Medal", "{} Mission Medal"),
}
_SHARE = {"crosses": 3, "orders": 5, "gallantry": 7, "campaign": 17, "jubilee": 5, "long-service": 8, "foreign": 5}
_EMBLEMS = {"crosses": "numeral", "orders": "rosette", "gallantry": "rosette", "campaign": "oak-leaf star",
            "jubilee": "", "long-service": "rosette star numeral", "foreign": "numeral"}  # fmt: skip
PER_ROW = {"land-service": 4, "sea-service": 3, "air-service": 5}


def colours(rng: np.random.Generator, source: str) -> dict[str, Colour]:
    """This authority's dyes: the common table, each a little its own."""
    return {
        name: Colour(name, tuple(np.round(np.array(row[:3], float) + rng.normal(0, 1.2, 3), 2)), "stated", source)
        for name, row in DYES.items()
    }


def _pick(rng: np.random.Generator, number: int, dyes: dict[str, Colour]) -> list[Colour]:
    """``number`` dyes that a weaver would put side by side: neighbours on the list differ clearly."""
    names = list(dyes)
    weight = np.array([DYES[n][3] for n in names], float)
    chosen: list[Colour] = []
    while len(chosen) < number:
        colour = dyes[names[rng.choice(len(names), p=weight / weight.sum())]]
        if all(np.linalg.norm(np.subtract(colour.lab, other.lab)) > 22 for other in chosen):
            chosen.append(colour)
    return chosen


def _widths(rng: np.random.Generator, number: int) -> np.ndarray:
    return rng.choice([1, 1.5, 2, 3, 4, 5, 6, 8], number, p=[0.1, 0.08, 0.2, 0.2, 0.16, 0.12, 0.08, 0.06])


def _plain_stripes(pairs: list[tuple[Colour, float]]) -> tuple[Stripe, ...]:
    total = sum(width for _, width in pairs)
    merged: list[tuple[Colour, float]] = []
    for colour, width in pairs:
        if merged and merged[-1][0] == colour:
            merged[-1] = (colour, merged[-1][1] + width)
        else:
            merged.append((colour, width))
    return tuple(Stripe(colour, colour, round(float(width * 32 / total), 2)) for colour, width in merged)


def invent_ribbon(rng: np.random.Generator, dyes: dict[str, Colour], source: str = "") -> Ribbon:
    """One believable ribbon: mostly 3 to 11 stripes and symmetrical; asymmetric, plain, diagonal, shaded, banded."""
    shape, angle = "stripes", 0.0
    kind = rng.choice(
        ["symmetric", "asymmetric", "equal", "plain", "diagonal", "shaded", "bands"],
        p=[0.58, 0.2, 0.07, 0.03, 0.05, 0.05, 0.02],
    )
    if kind == "symmetric":
        half = int(rng.integers(1, 6))
        palette = _pick(rng, int(min(rng.integers(2, 5), half + 1)), dyes)
        order = [palette[i % len(palette)] for i in rng.permutation(len(palette))]
        run = [order[i % len(order)] for i in range(half + 1)]
        widths = _widths(rng, half + 1)
        widths[-1] *= rng.choice([1, 1, 2])
        side = list(zip(run, widths, strict=True))
        stripes = _plain_stripes(side[:-1] + side[-1:] + side[:-1][::-1])
    elif kind == "asymmetric":
        number = int(rng.integers(2, 8))
        palette = _pick(rng, int(min(rng.integers(2, 5), number)), dyes)
        run = [palette[i % len(palette)] for i in range(number)]
        stripes = _plain_stripes(list(zip(run, _widths(rng, number), strict=True)))
    elif kind == "equal":
        number = int(rng.choice([3, 5, 7, 9, 11]))
        palette = _pick(rng, 2, dyes)
        stripes = _plain_stripes([(palette[i % 2], 1.0) for i in range(number)])
    elif kind == "plain":
        stripes = _plain_stripes([(_pick(rng, 1, dyes)[0], 1.0)])
    elif kind == "diagonal":
        shape, angle = "diagonal", float(rng.choice([30, 45, 60, 120, 135, 150]))
        palette = _pick(rng, int(rng.integers(2, 4)), dyes)
        stripes = tuple(Stripe(c, c, float(rng.choice([2.0, 2.5, 3.2, 4.0]))) for c in palette)
    elif kind == "bands":
        shape = "bands"
        stripes = tuple(Stripe(c, c, float(rng.choice([2, 3, 4]))) for c in _pick(rng, int(rng.integers(2, 4)), dyes))
    else:
        first, second, edge = _pick(rng, 3, dyes)
        if rng.random() < 0.5:
            middle = (Stripe(first, second, 16.0), Stripe(second, first, 16.0))
            stripes = middle if rng.random() < 0.5 else (Stripe(edge, edge, 4.0), *middle, Stripe(edge, edge, 4.0))
        else:
            stripes = (Stripe(first, second, 26.0), Stripe(edge, edge, 6.0))
    width = float(rng.choice([32.0, 35.0, 38.0], p=[0.94, 0.03, 0.03]))
    frame = dyes["gold"] if kind == "symmetric" and rng.random() < 0.02 else None
    return Ribbon("standard", shape, stripes, width, 10.0, angle, frame=frame, certainty="stated", source=source)


def sketch(ribbon: Ribbon, columns: int = 48, rows: int = 6) -> np.ndarray:
    """(rows, columns, 3) L*a*b* samples of a ribbon as a viewer sees it."""
    x = np.broadcast_to((np.arange(columns) + 0.5) / columns, (rows, columns))
    y = np.broadcast_to(((np.arange(rows) + 0.5) / rows)[:, None], (rows, columns))
    period = sum(s.width for s in ribbon.stripes)
    if ribbon.shape == "stripes":
        at = x * period
    elif ribbon.shape == "bands":
        at = y * period
    else:
        at = diagonal_phase(x * ribbon.width_mm, y * ribbon.height_mm, ribbon.angle) % period
    ends = np.cumsum([s.width for s in ribbon.stripes])
    index = np.minimum(np.searchsorted(ends, at, side="right"), len(ends) - 1)
    start = np.array([s.start.lab for s in ribbon.stripes])[index]
    end = np.array([s.end.lab for s in ribbon.stripes])[index]
    widths = np.array([s.width for s in ribbon.stripes])
    share = ((at - (ends - widths)[index]) / widths[index])[..., None]
    return start + (end - start) * share


def diagonal_phase(x_mm: np.ndarray, y_mm: np.ndarray, angle: float) -> np.ndarray:
    """Distance across the stripes, mm; the stripes rise ``angle`` degrees counter-clockwise, y runs downward."""
    slope = np.radians(angle)
    return np.sin(slope) * x_mm + np.cos(slope) * y_mm


def nearness(ribbon: Ribbon, others: np.ndarray) -> float:
    """Smallest mean CIE76 between a ribbon, either way round, and (N, rows, columns, 3) sketches."""
    if not len(others):
        return np.inf
    own = sketch(ribbon)
    turned = own[:, ::-1]
    return min(float(np.linalg.norm(others - view, axis=-1).mean((1, 2)).min()) for view in (own, turned))


def _twin(ribbon: Ribbon, rng: np.random.Generator, dyes: dict[str, Colour]) -> Ribbon:
    """A look-alike: one dye a shade off, or the widths a little off."""
    if rng.random() < 0.5 or len(ribbon.stripes) == 1:
        old = ribbon.stripes[int(rng.integers(len(ribbon.stripes)))].start
        near = sorted((c for c in dyes.values() if c != old), key=lambda c: np.linalg.norm(np.subtract(c.lab, old.lab)))
        new = near[int(rng.integers(2))]
        swap = {old: new}
        stripes = tuple(Stripe(swap.get(s.start, s.start), swap.get(s.end, s.end), s.width) for s in ribbon.stripes)
    else:
        dye = ribbon.stripes[0].start
        factor = float(rng.choice([0.65, 0.75, 1.35, 1.5]))
        stripes = tuple(replace(s, width=round(s.width * (factor if s.start == dye else 1), 2)) for s in ribbon.stripes)
    return replace(ribbon, stripes=stripes)


def invent_unknown(rng: np.random.Generator, specification: Specification, near: bool) -> Ribbon:
    """A ribbon in no specification: mean CIE76 at least 20 from all of it, or 9 to 16 where ``near``."""
    dyes = {c.name: c for c in specification.colours.values() if c.name in DYES} or colours(rng, "")
    known = np.stack([sketch(r) for a in specification.awards.values() for r in a.ribbons if r.stripes])
    low, high = (9.0, 16.0) if near else (20.0, np.inf)
    while True:
        ribbon = invent_ribbon(rng, dyes)
        if ribbon.width_mm == 32.0 and low <= nearness(ribbon, known) <= high:
            return ribbon


def _name(rng: np.random.Generator, used: set[str], form: str) -> str:
    while True:
        name = form.format((str(rng.choice(_START.split())) + str(rng.choice(_END.split()))).capitalize())
        if name not in used:
            used.add(name)
            return name


def invent(seed: int, count: int = 300, twins: float = 0.08, shared: float = 0.02) -> Specification:
    """An invented authority's ``count`` awards under three orders of wear (4, 3 and 5 ribbons a row).

    ``twins`` and ``shared`` are the shares of look-alikes and of awards that share another's ribbon.
    """
    rng = np.random.default_rng([seed, 101])
    authority = f"sim-{seed}"
    source = f"{authority}/sheets"
    dyes = colours(rng, source)
    ribbons: list[Ribbon] = []
    known = np.zeros((0, 6, 48, 3))
    while len(ribbons) < count:
        roll = rng.random() if len(ribbons) > 8 else 1.0
        if roll < shared:
            ribbon = ribbons[int(rng.integers(len(ribbons)))]
            least, most = 0.0, 1e-9
        elif roll < shared + twins:
            ribbon = _twin(ribbons[int(rng.integers(len(ribbons)))], rng, dyes)
            least, most = 2.0, 9.0
        else:
            ribbon = invent_ribbon(rng, dyes, source)
            least, most = 8.0, np.inf
        turned = np.linalg.norm(sketch(ribbon) - sketch(ribbon)[:, ::-1], axis=-1).mean()
        if least <= nearness(ribbon, known) <= most and (ribbon.symmetrical or turned > 8.0):
            ribbons.append(ribbon)
            known = np.concatenate([known, sketch(ribbon)[None]])
    awards: dict[str, Award] = {}
    orders: dict[str, OrderOfWear] = {}
    used: set[str] = set()
    hand = iter([ribbons[i] for i in rng.permutation(count)])
    for number, (name, per_row) in enumerate(PER_ROW.items()):
        size = count // 3 + (number < count % 3)
        groups = []
        for group, group_size in _group_sizes(size).items():
            keys = []
            starts = sorted(rng.integers(0, 36500, group_size))
            for start in starts:
                title = _name(rng, used, str(rng.choice(_KINDS[group])))
                key = f"{authority}/{title.lower().replace(' ', '-')}"
                first = date(1900, 1, 1) + timedelta(days=int(start))
                earned = Interval(first, first + timedelta(days=int(rng.integers(90, 500))))
                kinds = _EMBLEMS[group].split()
                emblem = (Emblem(str(rng.choice(kinds)), "silver", "further award"),) if kinds else ()
                awards[key] = Award(
                    key,
                    title,
                    earned=earned if group == "campaign" else Interval(),
                    emblems=emblem if rng.random() < 0.6 else (),
                    ribbons=(next(hand),),
                )
                keys.append(key)
            if group == "campaign":
                keys = [keys[i] for i in rng.permutation(len(keys))]
            groups.append(
                Group(group, group.replace("-", " ").capitalize(), "by-date" if group == "campaign" else "listed",
                      tuple(keys), source)
            )  # fmt: skip
        title = f"Order of wear, {name.replace('-', ' ')} (invented)"
        orders[f"{authority}/{name}"] = OrderOfWear(
            f"{authority}/{name}", title, tuple(groups), ribbons_per_row=per_row, source=source
        )
    return Specification(
        authorities={authority: Authority(authority, f"Simulated registry {seed} (invented)")},
        sources={source: Source(source, f"Simulated registry {seed}, pattern sheets (invented)")},
        colours={f"{authority}/{name}": colour for name, colour in dyes.items()},
        awards=awards,
        orders=orders,
    )


def _group_sizes(size: int) -> dict[str, int]:
    total = sum(_SHARE.values())
    sizes = {group: size * share // total for group, share in _SHARE.items()}
    sizes["campaign"] += size - sum(sizes.values())
    return sizes
