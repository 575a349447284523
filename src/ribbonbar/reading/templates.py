"""The specification's ribbons as the reading compares them: dye coverage on a fixed grid, both ways round."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np

from ribbonbar.spec.colour import linear_from_lab
from ribbonbar.spec.model import Ribbon, Specification

COLUMNS = 96
"""Samples over a ribbon's width: a third of a millimetre on a 32 mm ribbon, half of its narrowest published stripe."""
ROWS = 8
"""Samples over a ribbon's height; only diagonals and horizontal bands differ from one to the next."""
PERIOD_CELLS = 512
"""Steps in which one period of a diagonal pattern is looked up."""
FRAME_MM = 1.5
"""Width of a metal frame round a ribbon (from memory)."""
PHASES = 16
"""Places at which a diagonal pattern may begin: a ribbon is cut from the roll anywhere."""
TRIMMED = 1 / 12
"""Share of the height left out above and below: turned edges, the next row's shadow."""
UNLISTED = 0.1
"""How likely an award is that the order of wear asked for does not list, against one that it lists (estimate from
memory): enough to tell a near twin of another country from one's own, and too little to call either identified."""
DYES = 8
"""Most dyes told apart within one ribbon; further ones are rare (rainbow ribbons) and share the last place."""


@dataclass(frozen=True)
class Pattern:
    """One look, and every (award, ribbon) that has it. ``width_mm`` is the ribbon's own width."""

    names: tuple[tuple[str, str], ...]
    ribbon: Ribbon
    width_mm: float

    @property
    def symmetrical(self) -> bool:
        return self.ribbon.symmetrical


@dataclass(frozen=True)
class Family:
    """Templates of one kind: ``rows`` is 1 for vertical stripes and ROWS for diagonals and bands.

    ``pattern`` (T,) indexes the patterns, ``reversed`` (T,) bool says which way round, ``cover`` is (T, rows, COLUMNS,
    DYES), the share of each dye in each cell, ``dyes`` (T, DYES, 3) their colours and ``linear`` (T, rows, COLUMNS, 3)
    float32 the templates as woven, both in linear sRGB.
    """

    rows: int
    pattern: np.ndarray
    reversed: np.ndarray
    cover: np.ndarray
    dyes: np.ndarray
    linear: np.ndarray

    def __len__(self) -> int:
        return len(self.pattern)


@dataclass(frozen=True)
class Bank:
    """All templates of a catalogue. ``vertical`` and ``slanted`` hold them by family; ``widths`` the width classes;
    ``weight`` (P,) is how likely each pattern is to be worn, against the others, before anything is seen."""

    patterns: tuple[Pattern, ...]
    vertical: Family
    slanted: Family
    widths: tuple[float, ...]
    weight: np.ndarray

    def favouring(self, listed: Collection[str]) -> "Bank":
        """The bank where the awards of one order of wear are asked for: others are worn with it, if seldom."""
        worn = [any(award in listed for award, _ in pattern.names) for pattern in self.patterns]
        return replace(self, weight=np.where(worn, 1.0, UNLISTED))


def bank_of(specification: Specification) -> Bank:
    """Templates of every ribbon a machine can match; ribbons that look the same become one pattern."""
    groups: dict[tuple, list[tuple[str, str]]] = {}
    ribbons: dict[tuple, Ribbon] = {}
    for key, award in specification.awards.items():
        for ribbon in award.ribbons:
            if ribbon.shape == "unmatched":
                continue
            look = _look(ribbon)
            groups.setdefault(look, []).append((key, ribbon.id))
            ribbons.setdefault(look, ribbon)
    patterns = tuple(Pattern(tuple(names), ribbons[look], ribbons[look].width_mm) for look, names in groups.items())
    upright = {number: p for number, p in enumerate(patterns) if p.ribbon.shape == "stripes"}
    slanted = {number: p for number, p in enumerate(patterns) if p.ribbon.shape != "stripes"}
    widths = tuple(sorted({round(p.width_mm, 1) for p in patterns}))
    return Bank(patterns, _family(upright, 1), _family(slanted, ROWS), widths, np.ones(len(patterns)))


def cut_to(bank: Bank, height_mm: float) -> Bank:
    """The catalogue as it looks on a bar whose ribbons are seen this tall: a diagonal stripe then crosses as much less
    or more of the width."""
    slanted = {number: bank.patterns[number] for number in dict.fromkeys(bank.slanted.pattern.tolist())}
    cut = {n: replace(p, ribbon=replace(p.ribbon, height_mm=height_mm)) for n, p in slanted.items()}
    return replace(bank, slanted=_family(cut, ROWS))


def _look(ribbon: Ribbon) -> tuple:
    """What makes two ribbons the same cloth: shape, proportions, colours, width, frame."""
    total = sum(s.width for s in ribbon.stripes)
    per = total if ribbon.shape != "diagonal" else 1.0
    stripes = tuple((_rounded(s.start.lab), _rounded(s.end.lab), round(s.width / per, 3)) for s in ribbon.stripes)
    frame = _rounded(ribbon.frame.lab) if ribbon.frame else None
    return ribbon.shape, stripes, ribbon.angle, round(ribbon.width_mm, 1), frame


@lru_cache(maxsize=1024)
def _rounded(lab: tuple[float, float, float]) -> tuple[float, ...]:
    return tuple(round(value, 1) for value in lab)


def _family(patterns: dict[int, Pattern], rows: int) -> Family:
    """The templates of some of the catalogue's patterns, by their number: every phase, both ways round."""
    numbers, turned = [], []
    covers, colours = [np.zeros((0, rows, COLUMNS, DYES), np.float32)], [np.zeros((0, DYES, 3), np.float32)]
    for number, pattern in patterns.items():
        phases = PHASES if pattern.ribbon.shape == "diagonal" else 1
        shares, dyes = coverage(pattern.ribbon, rows, np.arange(phases) / PHASES)
        for back_to_front in (False,) if pattern.symmetrical else (False, True):
            numbers += [number] * phases
            turned += [back_to_front] * phases
            covers.append(shares[:, :, ::-1] if back_to_front else shares)
            colours += [dyes[None]] * phases
    cover, dyes = np.concatenate(covers), np.concatenate(colours)
    linear = (cover.reshape(len(cover), rows * COLUMNS, DYES) @ dyes).reshape(len(cover), rows, COLUMNS, 3)
    return Family(rows, np.array(numbers, int), np.array(turned, bool), cover, dyes, linear)


def coverage(ribbon: Ribbon, rows: int, phases: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Shares (P, rows, COLUMNS, DYES) of each dye in each cell, and the dyes (DYES, 3) in linear sRGB.

    ``phases`` (P,), 0..1 of the period, are where a diagonal pattern may begin.

    Stripes and bands are integrated exactly over a cell. A shaded stripe counts as a share of its two ends that changes
    evenly across it.
    """
    places: dict[str, int] = {}
    labs = np.zeros((DYES, 3), np.float32)

    def place(colour) -> int:
        if colour.name not in places:
            places[colour.name] = min(len(places), DYES - 1)
            labs[places[colour.name]] = colour.lab
        return places[colour.name]

    edges = np.concatenate([[0.0], np.cumsum([s.width for s in ribbon.stripes])])
    ends = [(place(s.start), place(s.end)) for s in ribbon.stripes]
    if ribbon.shape == "stripes":
        shares = np.repeat(_shares(np.linspace(0.0, edges[-1], COLUMNS + 1), edges, ends)[None], rows, axis=0)
    elif ribbon.shape == "bands":
        seen = edges[-1] * np.linspace(TRIMMED, 1 - TRIMMED, rows + 1)
        shares = np.repeat(_shares(seen, edges, ends)[:, None], COLUMNS, axis=1)
    else:
        shares = _slanted(ribbon, rows, phases, _shares(np.linspace(0.0, edges[-1], PERIOD_CELLS + 1), edges, ends))
    if ribbon.frame:
        shares = _framed(shares, ribbon, place(ribbon.frame))
    linear = np.zeros((DYES, 3), np.float32)
    linear[: len(places)] = np.clip(linear_from_lab(labs[: len(places)]), 0.0, 1.0)
    return np.broadcast_to(shares.astype(np.float32), (len(phases), rows, COLUMNS, DYES)), linear


def _framed(shares: np.ndarray, ribbon: Ribbon, metal: int) -> np.ndarray:
    """The shares with a metal frame over the ribbon's edge; a single row stands for the height within the frame."""
    rows, columns = shares.shape[-3:-1]
    x = np.minimum(np.arange(columns), np.arange(columns)[::-1]) * ribbon.width_mm / columns
    covered = np.clip((FRAME_MM - x) / (ribbon.width_mm / columns), 0.0, 1.0)[None]
    if rows > 1:
        cell = ribbon.height_mm * (1 - 2 * TRIMMED) / rows
        y = ribbon.height_mm * TRIMMED + np.minimum(np.arange(rows), np.arange(rows)[::-1]) * cell
        covered = np.maximum(covered, np.clip((FRAME_MM - y) / cell, 0.0, 1.0)[:, None])
    framed = shares * (1 - covered[..., None])
    framed[..., metal] += covered
    return framed


def _shares(cells: np.ndarray, edges: np.ndarray, ends: list[tuple[int, int]]) -> np.ndarray:
    """Exact shares (N, DYES) of each dye in cells with these N + 1 bounds, of a run of stripes with these edges."""
    low, high = np.maximum(cells[:-1, None], edges[:-1]), np.minimum(cells[1:, None], edges[1:])
    overlap = np.maximum(high - low, 0.0) / np.diff(cells)[:, None]
    along = np.clip((0.5 * (low + high) - edges[:-1]) / np.diff(edges), 0.0, 1.0)
    first, last = (np.eye(DYES)[list(each)] for each in zip(*ends, strict=True))
    return overlap * (1 - along) @ first + overlap * along @ last


def _slanted(ribbon: Ribbon, rows: int, phases: np.ndarray, period: np.ndarray) -> np.ndarray:
    """A pattern repeated across its slope: ``period`` (PERIOD_CELLS, DYES) is one period; (P, rows, COLUMNS, DYES).

    A cell seen across the stripes is a trapezium: the period is averaged over its two widths, then looked up.
    """
    slope = np.deg2rad(ribbon.angle % 180.0)  # a line has no direction; its stripes are listed left to right
    length = sum(s.width for s in ribbon.stripes)
    step_x = ribbon.width_mm / COLUMNS * np.sin(slope)
    step_y = ribbon.height_mm * (1 - 2 * TRIMMED) / rows * np.cos(slope)
    spectrum = np.fft.rfft(period, axis=0)
    turns = np.arange(len(spectrum))[:, None] / length
    spectrum *= np.sinc(turns * step_x) * np.sinc(turns * step_y)
    smooth = np.fft.irfft(spectrum, PERIOD_CELLS, axis=0).astype(np.float32)
    top = ribbon.height_mm * TRIMMED * np.cos(slope)
    across = (np.arange(COLUMNS) + 0.5) * step_x + (top + (np.arange(rows) + 0.5) * step_y)[:, None]
    place = ((across / length + phases[:, None, None]) % 1.0) * PERIOD_CELLS
    return smooth[place.astype(int) % PERIOD_CELLS]


def blurred(cells: np.ndarray, sigma_columns: float) -> np.ndarray:
    """``cells`` (T, rows, COLUMNS, C) blurred along the width by a Gaussian of ``sigma_columns`` columns."""
    count, rows, columns, channels = cells.shape
    if not count:
        return cells
    reach = 2 * int(np.ceil(3 * sigma_columns)) + 1
    flat = np.ascontiguousarray(cells).reshape(count * rows, columns, channels)
    out = cv2.GaussianBlur(flat, (reach, 1), sigmaX=sigma_columns, borderType=cv2.BORDER_REPLICATE)
    return out.reshape(cells.shape)
