"""Dividing the rows of one bar into ribbons, and finding the bar's light: the two are estimated in turns."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ribbonbar.reading.evidence import Leeway, Rays, affine_evidence, rays_of, scatter_cost
from ribbonbar.reading.light import NEUTRAL, Light, fit_light
from ribbonbar.reading.observe import (
    LUMA,
    OUTERMOST,
    SAMPLES_PER_MM,
    Outlines,
    RowView,
    Softness,
    by_channel,
    coarser,
    cut,
    edge_rows,
    outline,
    root,
    side_by_side,
)
from ribbonbar.reading.segment import Division, Spans, divisions, width_classes
from ribbonbar.reading.templates import Bank, blurred, cut_to

WIDTH_TOLERANCE = 0.03
"""Of the logarithm of a ribbon's width against its neighbours': a millimetre on 32."""
CAMERA_BLUR = 1.0
"""Photo pixels (standard deviation): lens, demosaicing and compression of an ordinary phone."""
HUE_BLUR, LEAST_FURTHER = 1.5, 0.3
"""Photo pixels by which hue is blurred further (demosaicing, JPEG's 4:2:0; 1.2 to 1.8 on rendered photographs), where
no edge shows it, and columns below which that is not worth the while."""
SOFTEST = 4.0
"""Columns (standard deviation): beyond that no stripe is told from the next."""
UNLIT = Leeway(gain=0.30, offset=0.12, noise=0.06)
LIT = Leeway(gain=0.12, offset=0.05, noise=0.045)
"""The quick comparison's leeway before and after the bar's light is known."""
TURNS, STEADY = 4, 0.01
"""Rounds of light and ribbons, at most; the ribbons named change in fewer than one bar in a hundred after the third.
And cube-root light by which a round must change the colours for another to be worth the while: a fifth of what dyes
depart by."""
TRUSTED, TRUSTED_SCALE, LEAST_TRUST = -80.0, 15.0, 0.05
"""Quick log evidence at which a ribbon's say in the light is halved, how fast it falls, and the least that is left."""
CANDIDATES = 3
"""Ribbons of each segment that take part in finding the light."""
SCALE_TOLERANCE, FAR_OFF = 0.05, 3.0
"""Of the logarithm of one row's scale against the bar's, and the standard deviations from which it is all the same."""
UNKNOWN = -250.0
"""Quick log evidence below which it does not matter how unlike the catalogue a ribbon is."""
NOT_GIVEN = -1e6
"""Log evidence of a ribbon that the user has ruled out."""
AT_A_TIME = 64
"""Templates blurred at a time: what is handled stays in the processor's cache."""
DIVISIONS = 8
"""Divisions of a row that are looked at again once the light is known."""


Given = Mapping[tuple[int, int], str]
"""Awards named by the user: (row, place), counted from 1, to the award's key."""


@dataclass(frozen=True)
class Loom:
    """The catalogue's templates as this photograph blurs them, cube-root light without the bar's light.

    ``vertical`` (Tv, COLUMNS, 3) has all upright ones. For the quick comparison at half the columns:
    ``half`` (3, Tv, COLUMNS / 2) and ``edges`` (3, Ts, COLUMNS), the outermost rows in pairs, the upper beside the
    lower. Templates are numbered vertical first; ``pattern``, ``reversed``, ``width_class`` and ``stripes`` (T,), how
    many there are, describe each.
    ``classes`` are the width classes in mm.
    """

    bank: Bank
    blur: float
    hue_blur: float
    vertical: np.ndarray
    half: np.ndarray
    edges: np.ndarray
    pattern: np.ndarray
    reversed: np.ndarray
    width_class: np.ndarray
    stripes: np.ndarray
    classes: np.ndarray

    def slanted(self, numbers: np.ndarray) -> np.ndarray:
        """Some of the slanted templates, counted from the first of them: (N, ROWS, COLUMNS, 3)."""
        return _photographed(self.bank.slanted.linear[numbers], self.blur, self.hue_blur)


@dataclass(frozen=True)
class Quick:
    """Templates ready for the quick comparison, vertical ones first: the loom's, or some of them; ``width_class`` and
    ``stripes`` (T,) as in the loom."""

    upright: Rays
    slanted: Rays
    width_class: np.ndarray
    stripes: np.ndarray

    def pick(self, numbers: np.ndarray) -> "Quick":
        """Some of the templates; ``numbers`` are in rising order."""
        count = len(self.upright)
        upright, slanted = numbers[numbers < count], numbers[numbers >= count] - count
        return Quick(
            self.upright.pick(upright), self.slanted.pick(slanted), self.width_class[numbers], self.stripes[numbers]
        )

    def best_of_class(self, evidence: np.ndarray, classes: int) -> np.ndarray:
        """The best (S, classes) of the templates' ``evidence`` (S, T) among each width class."""
        best = np.full((len(evidence), classes), -np.inf)
        for c in range(classes):
            own = np.flatnonzero(self.width_class == c)
            if len(own):
                best[:, c] = evidence.take(own, axis=1).max(1)
        return best


@dataclass(frozen=True)
class Shone:
    """The templates under a bar's light, made once for many comparisons."""

    loom: Loom
    light: Light
    quick: Quick


def shine_on(loom: Loom, light: Light, leeway: Leeway = LIT) -> Shone:
    """The loom's templates as the camera would see them under this light."""
    return Shone(loom, light, quick_of(loom, light, leeway))


def quick_of(loom: Loom, light: Light, leeway: Leeway = LIT, by: int = 1) -> Quick:
    """The loom's templates under this light ready for the quick comparison, ``by`` columns averaged into one."""
    upright, slanted = (light.shine_by_channel(each) for each in (loom.half, loom.edges))
    if by > 1:
        upright, slanted = coarser(upright, by), coarser(slanted, by)
    return Quick(rays_of(upright, leeway), rays_of(slanted, leeway), loom.width_class, loom.stripes)


@dataclass(frozen=True)
class DecodedRow:
    """One row divided: ``evidence`` (n, T) is the quick log evidence of every template for each of its ribbons;
    ``best`` are the likeliest divisions, this one first."""

    division: Division
    evidence: np.ndarray
    best: tuple[Division, ...]


def set_up(bank: Bank, photo_pixels_per_mm: float, softness: Softness = Softness()) -> Loom:  # noqa: B008
    """Templates blurred for a photograph this fine, of which edges are seen to be so soft."""
    pixel = SAMPLES_PER_MM / max(photo_pixels_per_mm, 0.2)
    blur = max(0.5, CAMERA_BLUR * pixel, min(softness.lightness, SOFTEST))
    hue_blur = float(np.hypot(blur, HUE_BLUR * pixel))
    if softness.hue:
        hue_blur = min(max(softness.hue, blur), SOFTEST + blur)
    vertical = _photographed(bank.vertical.linear, blur, hue_blur)[:, 0]
    classes, of_pattern = width_classes(np.array([p.width_mm for p in bank.patterns]))
    pattern = np.concatenate([bank.vertical.pattern, bank.slanted.pattern])
    return Loom(
        bank,
        blur,
        hue_blur,
        vertical,
        coarser(by_channel(vertical), 2),
        _edges(bank, blur, hue_blur),
        pattern,
        np.concatenate([bank.vertical.reversed, bank.slanted.reversed]),
        of_pattern[pattern],
        np.array([len(p.ribbon.stripes) for p in bank.patterns])[pattern],
        classes,
    )


def cut_anew(loom: Loom, height_mm: float) -> Loom:
    """The templates of a bar whose ribbons are seen this tall: its diagonals are other ones."""
    bank = cut_to(loom.bank, height_mm)
    return replace(loom, bank=bank, edges=_edges(bank, loom.blur, loom.hue_blur))


def _photographed(linear: np.ndarray, blur: float, hue_blur: float) -> np.ndarray:
    """Cells (T, rows, COLUMNS, 3) of linear light as a camera shows them, cube-root light: their lightness blurred by
    ``blur`` columns (standard deviation), their hue by ``hue_blur``."""
    sharp = root(blurred(linear, blur))
    further = np.sqrt(max(hue_blur**2 - blur**2, 0.0))
    if further < LEAST_FURTHER:
        return sharp
    soft = blurred(sharp, further)
    return soft + ((sharp - soft) @ LUMA)[..., None]


def _edges(bank: Bank, blur: float, hue_blur: float) -> np.ndarray:
    """What the quick comparison looks at (3, Ts, COLUMNS) of a bank's slanted templates."""

    def seen(linear: np.ndarray) -> np.ndarray:
        edges = edge_rows(_photographed(linear[:, OUTERMOST], blur, hue_blur))
        return side_by_side(coarser(by_channel(edges).swapaxes(1, 2), 2))

    parts = np.array_split(bank.slanted.linear, len(bank.slanted) // AT_A_TIME + 1)
    return np.concatenate([seen(part) for part in parts], axis=1)


def unlit(loom: Loom) -> Shone:
    """The templates under the usual light, with the leeway that it needs."""
    return shine_on(loom, NEUTRAL, UNLIT)


def divided(views: list[RowView], shone: Shone) -> list[DecodedRow]:
    """The rows of a bar divided into ribbons, seen under this light."""
    loom = shone.loom
    choices = [divisions(view.start, view.end, SAMPLES_PER_MM, loom.classes) for view in views]
    return _agreed([_divide(_offered(*each), shone) for each in zip(views, choices, strict=True)], loom)


def decode(views: list[RowView], shone: Shone, given: Given) -> tuple[Shone, list[DecodedRow]]:
    """The templates under the bar's light, and its rows divided into ribbons; ``shone`` are the templates `unlit`."""
    return settled(divided(views, shone), views, shone, given, TURNS)


def settled(
    rows: list[DecodedRow], views: list[RowView], shone: Shone, given: Given, turns: int
) -> tuple[Shone, list[DecodedRow]]:
    """Rows divided under one light, light and ribbons found in so many turns more, or until the light stays."""
    offered = [_offered(view, list(row.best)) for view, row in zip(views, rows, strict=True)]
    for _ in range(turns):
        before, shone = shone.light, relit(holding_to(given, rows, shone.loom), views, shone)
        rows = _agreed([_divide(each, shone) for each in offered], shone.loom)
        if shone.light.apart(before) < STEADY:
            break
    return shone, rows


def holding_to(given: Given, rows: list[DecodedRow], loom: Loom) -> list[DecodedRow]:
    """The rows, no other award's templates left where the user has named one."""
    held = []
    for number, row in enumerate(rows, 1):
        evidence = row.evidence
        for place in range(1, len(evidence) + 1):
            award = given.get((number, place))
            own = [any(name == award for name, _ in loom.bank.patterns[p].names) for p in loom.pattern] if award else []
            if any(own):
                evidence = evidence.copy()
                evidence[place - 1, ~np.array(own)] = NOT_GIVEN
        held.append(replace(row, evidence=evidence))
    return held


@dataclass(frozen=True)
class _Offered:
    """A row's possible divisions, the ``spans`` they are made of and how those are ``seen``, in whatever light."""

    choices: list[Division]
    spans: Spans
    seen: Outlines


@dataclass(frozen=True)
class _Divided:
    """A row's possible divisions: ``scores`` of each, the ``spans`` they are made of and the quick evidence (S, T) of
    those."""

    choices: list[Division]
    scores: np.ndarray
    spans: Spans
    evidence: np.ndarray


def _agreed(rows: list[_Divided], loom: Loom) -> list[DecodedRow]:
    """One division for each row, so that all ribbons of the bar are of one scale.

    The scale is the one under which the rows together are likeliest: a row that could be three wide or four narrow
    ribbons is settled by its neighbours.
    """
    widths = loom.classes.tolist()
    scales = [
        np.log([(one.edges[-1] - one.edges[0]) / sum(widths[c] for c in one.classes) for one in row.choices])
        for row in rows
    ]
    offered = np.concatenate(scales)
    agreed = [
        row.scores[None] - 0.5 * np.minimum(np.abs(scale[None] - offered[:, None]) / SCALE_TOLERANCE, FAR_OFF) ** 2
        for row, scale in zip(rows, scales, strict=True)
    ]
    bar = int(np.argmax(sum(each.max(1) for each in agreed)))
    decoded = []
    for row, scores in zip(rows, agreed, strict=True):
        ranked = np.argsort(-scores[bar], kind="stable")[:DIVISIONS]
        best = tuple(row.choices[i] for i in ranked)
        decoded.append(DecodedRow(best[0], row.evidence[row.spans.members(ranked[0])], best))
    return decoded


def quick_evidence(seen: Outlines, templates: Quick) -> np.ndarray:
    """Log evidence (S, T) of every template for every segment, gain and offset of each channel free within a prior."""
    parts = []
    if len(templates.upright):
        parts.append(affine_evidence(seen.profile, templates.upright))
        parts[0] -= scatter_cost(seen.scatter, templates.upright.leeway.noise)[:, None]
    if len(templates.slanted):
        parts.append(affine_evidence(seen.edges, templates.slanted))
    return np.concatenate(parts, axis=1)


def seen_under(shone: Shone, row: DecodedRow, view: RowView) -> DecodedRow:
    """The row, divided as it is, with the quick evidence under this light."""
    edges = row.division.edges
    return replace(row, evidence=quick_evidence(outline(view, edges[:-1], edges[1:]), shone.quick))


def explained(evidence: np.ndarray, widths: np.ndarray, loom: Loom) -> np.ndarray:
    """What ribbons of these ``widths`` (S,) in columns say by their quick ``evidence`` (S, T), each by its share of a
    nominal width; how unlike the catalogue a stranger is does not matter."""
    return np.maximum(evidence.max(1), UNKNOWN) * widths / (SAMPLES_PER_MM * loom.classes[0])


def likeliest(evidence: np.ndarray, count: int) -> np.ndarray:
    """Numbers (S, count) of the templates of highest ``evidence`` (S, T), best first; fewer where there are fewer."""
    count = min(count, evidence.shape[1])
    best = np.argpartition(-evidence, count - 1, axis=1)[:, :count]
    order = np.argsort(-np.take_along_axis(evidence, best, axis=1), axis=1)
    return np.take_along_axis(best, order, axis=1)


def _offered(view: RowView, choices: list[Division]) -> _Offered:
    spans = Spans.of([choice.edges for choice in choices])
    return _Offered(choices, spans, outline(view, spans.starts, spans.ends))


def _divide(row: _Offered, shone: Shone) -> _Divided:
    """How likely each of some divisions of a row is under this light."""
    loom, choices, spans = shone.loom, row.choices, row.spans
    evidence = quick_evidence(row.seen, shone.quick)
    misfit = 0.5 * (np.log(loom.classes[:, None] / loom.classes[None]) / WIDTH_TOLERANCE) ** 2
    by_class = shone.quick.best_of_class(evidence, len(loom.classes))
    best = np.maximum((by_class[:, None] - misfit[None]).max(-1), UNKNOWN)
    share = (spans.ends - spans.starts) / (SAMPLES_PER_MM * loom.classes[0])
    classes = np.concatenate([choice.classes for choice in choices])
    scores = [choice.log_prior for choice in choices] + spans.totals((best * share[:, None])[spans.ribbon, classes])
    return _Divided(choices, scores, spans, evidence)


def relit(rows: list[DecodedRow], views: list[RowView], shone: Shone) -> Shone:
    """The templates under the light that best carries the likeliest of them to what was seen, each ribbon's own
    brightness set aside."""
    loom, light = shone.loom, shone.light
    expected, seen, weight, clipped = [], [], [], []
    for row, view in zip(rows, views, strict=True):
        segments = cut(view, row.division.edges[:-1], row.division.edges[1:])
        profiles, clips = segments.profile, segments.seen_clipped
        for number, order in enumerate(likeliest(row.evidence, CANDIDATES)):
            trust = 1.0 / (1.0 + np.exp((TRUSTED - row.evidence[number][order[0]]) / TRUSTED_SCALE))
            share = np.exp(0.5 * (row.evidence[number][order] - row.evidence[number][order[0]]))
            for template, part in zip(order, share / share.sum(), strict=True):
                if part < 0.05:
                    continue
                if template < len(loom.vertical):
                    x, y, c = loom.vertical[template], profiles[number], clips[number]
                    x, y, c = x[3:-3:4], y[3:-3:4], c[3:-3:4]
                else:
                    x = loom.slanted(np.array([template - len(loom.vertical)]))[0, ::3, 3:-3:8].reshape(-1, 3)
                    y = segments.cells[number, ::3, 3:-3:8].reshape(-1, 3)
                    c = segments.clipped[number, ::3, 3:-3:8].reshape(-1, 3)
                shone = light.shine(x)
                brightness = np.clip((shone * y).sum() / max(float((shone * shone).sum()), 1e-6), 0.6, 1.5) ** 0.5
                expected.append(x)
                seen.append(y / brightness)
                clipped.append(c > 0.3)
                weight.append(np.full(len(x), max(trust, LEAST_TRUST) * part * 5.0 / len(x)))
    return shine_on(loom, fit_light(*(np.concatenate(part) for part in (expected, seen, weight, clipped))))
