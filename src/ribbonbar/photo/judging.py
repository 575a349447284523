"""How much a stack of rows looks like a ribbon bar rather than text, a flag, checked cloth or a shelf of books.

A bar has many stripes, each running from edge to edge of its row, of more than two colours; it ends, on all four sides,
on a ground without stripes; and little of it has the colour of that ground. Each of these is a number here.
"""

import numpy as np

from ribbonbar.photo.rows import RIBBON_ASPECT, unlike_ground, RowFit, change_along, row_profile, stripe_edges


def evidence(features: np.ndarray, fits: list[RowFit]) -> np.ndarray:
    """What speaks for and against a bar, in the view (H, W, 3) its rows were fitted in; see the names at the top."""
    profiles = [row_profile(features, fit) for fit in fits]
    height = float(np.median([fit.height for fit in fits]))
    length = sum(fit.width for fit in fits)
    inside, even, colours, holes = [], [], [], []
    for fit, profile in zip(fits, profiles, strict=True):
        a, b = round(fit.left), round(fit.right)
        inside.append(
            (
                (stripe_edges(profile.stripe) > a + 0.1 * height) & (stripe_edges(profile.stripe) < b - 0.1 * height)
            ).sum()
        )
        even.append(profile.even[a:b].sum())
        colours.append(profile.colours[a:b])
        holes.append((profile.edged[a:b] < -0.7).sum())
    stripes = float(sum(inside))
    seen = np.concatenate(colours)
    spread = np.percentile(seen, 90, axis=0) - np.percentile(seen, 10, axis=0)
    around = [
        _stripes_across(features, fits[0], fits[0].top - 0.8 * height, fits[0].top - 0.15 * height, profiles[0].noise),
        _stripes_across(
            features, fits[-1], fits[-1].bottom + 0.15 * height, fits[-1].bottom + 0.8 * height, profiles[-1].noise
        ),
    ]
    per_row = stripes / len(fits)
    beside = np.mean([_stripes_beside(fit, profile, height) for fit, profile in zip(fits, profiles, strict=True)])
    ribbons = length / height / RIBBON_ASPECT
    return np.array(
        [
            np.log1p(stripes / ribbons),
            stripes * height / length,
            sum(even) / length,
            float(np.mean([fit.edged for fit in fits])),
            min(around) / (per_row + 1),
            max(around) / (per_row + 1),
            beside,
            sum(holes) / length,
            np.log1p(float(np.hypot(spread[1], spread[2]))),
            np.log1p(float(spread[0])),
            np.log(ribbons),
            float(len(fits)),
            _outer_edges(profiles, fits, features),
            float(
                np.average(
                    [unlike_ground(p, f.left, f.right) for p, f in zip(profiles, fits, strict=True)],
                    weights=[f.width for f in fits],
                )
            ),
            float(min(min(fit.left for fit in fits), features.shape[1] - max(fit.right for fit in fits)) / height),
        ]
    )


def _stripes_across(features: np.ndarray, fit: RowFit, top: float, bottom: float, noise: float) -> float:
    """Stripe edges in a band above or below the bar."""
    a, b = max(round(top), 0), min(round(bottom), len(features))
    if b - a < 2:
        return 0.0
    strip = change_along(features[a:b].mean(axis=0), noise)[round(fit.left) : round(fit.right)]
    return float(len(stripe_edges(strip)))


def _stripes_beside(fit: RowFit, profile, height: float) -> float:
    """Stripe edges per row height beyond the row's ends, up to two heights away."""
    left = profile.stripe[max(round(fit.left - 2 * height), 0) : max(round(fit.left - 0.3 * height), 0)]
    right = profile.stripe[round(fit.right + 0.3 * height) : round(fit.right + 2 * height)]
    return float(len(stripe_edges(left)) + len(stripe_edges(right))) * height / max(len(left) + len(right), 1)


def _outer_edges(profiles, fits: list[RowFit], features: np.ndarray) -> float:
    """Mean over the rows of how clearly both ends are edges."""
    clear = []
    for fit, profile in zip(fits, profiles, strict=True):
        for end in (fit.left, fit.right):
            a = round(end)
            clear.append(float(profile.stripe[max(a - 2, 0) : a + 3].max(initial=0)))
    return float(np.mean(clear))
