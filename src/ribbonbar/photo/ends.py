"""Where each row begins and ends, decided for all rows together.

A row's last stripe may have the jacket's colour, and a shadow beside the bar looks like one more stripe. So the ground
is looked at beyond the rows' ends; columns unlike the ground (a shadow of it is not unlike) and with edges above and
below speak for the row, and rows that end nearly together are taken to end together unless they plainly do not.
"""

from dataclasses import replace

import cv2
import numpy as np

from ribbonbar.photo.rectifying import length
from ribbonbar.photo.rows import Bands, RowFit, RowProfile, departure

_TOGETHER = 1.3  # row heights within which ends may belong together
_A_RIBBON = 4.0  # row heights within which another row's end may show that a ribbon of the ground's colour was left out
_OFFSET = 0.6  # row heights by which rows of one bar may begin apart
_HARDLY_WORSE = 0.5  # what may speak against that, in row heights: bare ground a ribbon wide speaks with 4 or 5
_FURTHEST = 8.0  # row heights by which an end may lie beyond where stripes and edges were first seen to end
_LIKE_ABOVE, _UNLIKE_ABOVE = 5.0, 13.0  # departures from what lies right above it at which a place is ground, and none
_PLAY = 0.12  # row heights by which rows of one bar stand beside each other


def settle_ends(bands: Bands, fits: list[RowFit]) -> list[RowFit]:
    """The rows with their left and right edges settled. ``bands`` is the view they were fitted in."""
    features = bands.features
    width = features.shape[1]
    profiles = [bands.profile(round(fit.top), round(fit.bottom)) for fit in fits]
    lefts = _settle_left(features, profiles, fits)
    mirrored = [replace(fit, left=width - fit.right, right=width - fit.left) for fit in fits]
    rights = _settle_left(features[:, ::-1], [profile.mirrored() for profile in profiles], mirrored)
    return [
        replace(fit, left=left, right=width - right) if width - right - left > 2 * fit.height else fit
        for fit, left, right in zip(fits, lefts, rights, strict=True)
    ]


def _settle_left(features: np.ndarray, profiles: list[RowProfile], fits: list[RowFit]) -> list[float]:
    height = float(np.median([profile.height for profile in profiles]))
    outermost = min(fit.left for fit in fits)
    around = _ground_above_and_below(features, fits, outermost, height)
    worth = []
    traces = _traces(features, fits, height)
    shade = _shade(features, fits, height)
    near = _ground_near_rows(features, fits, height)
    for profile, fit, trace, local in zip(profiles, fits, traces, near, strict=True):
        beside, beyond = (
            _median(profile.colours, end - 1.8 * height, end - 0.35 * height) for end in (fit.left, outermost)
        )
        ground = _most_alike([colour for colour in (beside, *around, beyond) if colour is not None])
        if ground is None:
            return [fit.left for fit in fits]
        worth.append(_worth(profile, trace, ground, local, shade, fit.left, fit.right))
    own = [float(np.argmax(values)) for values in worth]
    settled = [_with_the_others(k, own, worth, height) for k in range(len(own))]
    return [_as_far_as_another(end, settled, values, height) for end, values in zip(settled, worth, strict=True)]


def _ground_above_and_below(
    features: np.ndarray, fits: list[RowFit], left: float, height: float
) -> list[np.ndarray | None]:
    """What the bar lies on above and below its left end."""
    top, bottom = min(fit.top for fit in fits), max(fit.bottom for fit in fits)
    columns = features[:, max(round(left - 0.5 * height), 0) : round(left + 1.5 * height)]
    found = []
    for a, b in ((top - 0.9 * height, top - 0.25 * height), (bottom + 0.25 * height, bottom + 0.9 * height)):
        band = columns[max(round(a), 0) : max(round(b), 0)]
        found.append(np.median(band.reshape(-1, 3), axis=0) if band.size else None)
    return found


def _ground_near_rows(features: np.ndarray, fits: list[RowFit], height: float) -> list[list[np.ndarray]]:
    """For each row what lies right above or below it, column by column (W, 3), where no other row does: a lapel or a
    tie may make the ground another one half-way along."""

    def strip(start: float) -> list[np.ndarray]:
        band = features[max(round(start), 0) : max(round(start + 0.65 * height), 0)]
        return [np.median(band, axis=0)] if len(band) >= 2 else []

    near: list[list[np.ndarray]] = [[] for _ in fits]
    near[0] += strip(fits[0].top - 0.9 * height)
    near[-1] += strip(fits[-1].bottom + 0.25 * height)
    return near


def _median(colours: np.ndarray, start: float, end: float) -> np.ndarray | None:
    part = colours[max(round(start), 0) : max(round(end), 0)]
    return np.median(part, axis=0) if len(part) >= 3 else None


def _most_alike(samples: list[np.ndarray]) -> np.ndarray | None:
    """The first sample whose hue most of them share: a lapel, a plate or a ribbon among them is outvoted."""
    if not samples:
        return None
    hues = np.array(samples)[:, 1:]
    apart = np.minimum(np.linalg.norm(hues[:, None] - hues[None], axis=2), 20).sum(axis=1)
    return samples[int(np.flatnonzero(apart <= apart.min() + 3)[0])]


def _traces(features: np.ndarray, fits: list[RowFit], height: float) -> list[np.ndarray]:
    """For each row (W,), 0..1: how visible a line runs along its top or bottom where no other row touches it.

    A ribbon of the ground's very colour still shows its edge as a faint line of shadow or light; averaged along the
    row, even a faint one stands out from the weave.
    """
    smooth = cv2.blur(np.ascontiguousarray(features), (2 * round(0.3 * height) + 1, 1))
    pairs = smooth[1:] + smooth[:-1]
    steps = np.zeros((len(features) + 1, features.shape[1]), np.float32)
    steps[2:-2] = 0.5 * length(pairs[2:] - pairs[:-2])
    floor = 2.0 * float(np.median(steps[2:-2:2, ::3])) + 0.5
    columns = np.arange(features.shape[1])
    traces = []
    for k, fit in enumerate(fits):
        seen = np.zeros(features.shape[1], np.float32)
        for edge, neighbour in ((fit.top, k - 1), (fit.bottom, k + 1)):
            at = round(edge)
            line = np.clip((steps[max(at - 1, 0) : at + 2].max(axis=0) - floor) / 3, 0, 1)
            if 0 <= neighbour < len(fits):
                line[(columns > fits[neighbour].left - 0.3 * height) & (columns < fits[neighbour].right)] = 0
            seen = np.maximum(seen, line)
        traces.append(cv2.erode(seen[None], np.ones((1, 2 * round(0.2 * height) + 1)))[0])
    return traces


def _shade(features: np.ndarray, fits: list[RowFit], height: float) -> np.ndarray:
    """The colour (3,) of the shadow the bar casts, seen along its top or bottom: the darkest line close to either."""
    lines = []
    for fit, start in ((fits[0], fits[0].top - 0.35 * height), (fits[-1], fits[-1].bottom + 0.06 * height)):
        band = features[max(round(start), 0) : max(round(start + 0.3 * height), 0), round(fit.left) : round(fit.right)]
        lines += list(np.median(band, axis=1)) if band.size else []
    return min(lines, key=lambda colour: colour[0], default=np.full(3, np.inf))


def _worth(
    profile: RowProfile,
    trace: np.ndarray,
    ground: np.ndarray,
    near: list[np.ndarray],
    shade: np.ndarray,
    left: float,
    right: float,
) -> np.ndarray:
    """For each column, what speaks for the row beginning there, in row heights; -inf where it cannot. ``ground`` (3,)
    is that at the bar's end, ``near`` (W, 3) those right above and below the row."""
    height = profile.height
    # a glow on the ground is lighter than it, but has no edge above or below
    hue = np.linalg.norm(profile.colours[:, 1:] - ground[1:], axis=1)
    away = np.where(profile.edged > -0.1, departure(profile.colours, ground), hue)
    unlike = np.clip((away - profile.noise) / 4, 0, 1)
    if near:
        local = np.max([departure(profile.colours, each) for each in near], axis=0)
        local = np.clip((local - _LIKE_ABOVE) / (_UNLIKE_ABOVE - _LIKE_ABOVE), 0, 1)
        unlike = np.minimum(unlike, np.maximum(local, trace))
    lit = np.clip((profile.colours[:, 0] - ground[0]) / 2 + 2, 0, 1)  # 0 in the bar's own shadow
    hint = trace * lit
    edged = np.clip(profile.edged, 0.95 * hint - 1.0, 0.6)
    if shade[0] < ground[0] - 3:
        shaded = np.linalg.norm(profile.colours - shade, axis=1) < 5
        unlike, edged = np.where(shaded, 0, unlike), np.where(shaded, np.minimum(edged, 0), edged)
    gain = np.maximum(unlike, 0.6 * hint) - 0.55 + 0.8 * edged
    worth = np.full(len(gain), -np.inf)
    last = int(min(left + 4 * height, right - 1))
    first = int(max(left - _FURTHEST * height, 1))
    worth[first : last + 1] = np.cumsum(gain[last : first - 1 : -1])[::-1] / height
    return worth + 0.08 * profile.stripe


def _with_the_others(k: int, own: list[float], worth: list[np.ndarray], height: float) -> float:
    """Row ``k``'s end, moved to where the rows that end near it end, unless that is plainly worse for it."""
    near = [j for j in range(len(own)) if abs(own[j] - own[k]) < _TOGETHER * height]
    if len(near) < 2:
        return own[k]

    def loss(j: int, column: float) -> float:
        low = max(round(column - _PLAY * height), 0)
        return worth[j][round(own[j])] - float(worth[j][low : round(column + _PLAY * height) + 1].max())

    def together(column: float) -> float:
        # a stripe of the ground's colour hides an end, but nothing feigns a stripe: going outward costs less
        return sum(loss(j, column) * (0.3 if column < own[j] else 1.0) for j in near)

    shared = min((own[j] for j in near), key=together)
    if loss(k, shared) > (0.35 if shared < own[k] else 0.3):
        return own[k]
    low = max(round(shared - _PLAY * height), 0)
    return float(low + int(np.argmax(worth[k][low : round(shared + _PLAY * height) + 1])))


def _as_far_as_another(end: float, settled: list[float], worth: np.ndarray, height: float) -> float:
    """A row's end moved outward by up to a ribbon, to where another row ends or near there, if that is hardly worse."""
    further = sorted(other for other in settled if _TOGETHER * height < end - other < _A_RIBBON * height)
    for play in (_PLAY * height, _OFFSET * height):
        for other in further:
            low = max(round(other - play), 0)
            at = low + int(np.argmax(worth[low : round(other + play) + 1]))
            if worth[round(end)] - worth[at] < _HARDLY_WORSE:
                return float(at)
    return end
