"""How much a stack of rows looks like a ribbon bar rather than text, a flag, checked cloth or a shelf of books.

A bar has many stripes, each running from edge to edge of its row, and many hues; it ends, on all four sides, on a
ground without stripes; and little of it has the colour of that ground. Each of these is a number here, and a logistic
regression weighs them. It was fitted on simulated bars against other places in the same pictures, generated flags,
checked and striped cloth and pages of text.
"""

import numpy as np

from ribbonbar.photo.rows import RIBBON_ASPECT, Bands, RowFit, RowProfile, change_along, stripe_edges, unlike_ground

_WEIGHTS = {
    "constant": -27.6,
    "stripes": 2.93,  # log(1 + stripe edges a ribbon)
    "crowded": -2.02,  # stripe edges a row height beyond the 2.4 that ribbons show: letters
    "even": 7.94,  # share of columns constant from top to bottom
    "above": -2.09,  # stripes going on beyond the bar, on the better and on the worse side, against those within
    "below": -2.45,
    "holes": -7.46,  # share of columns that change at neither top nor bottom
    "hues": 2.18,  # log(1 + spread of hue and chroma)
    "ends": 0.92,  # how clear the rows' ends are
    "fit": 1.87,  # log(1 + score of the fit, a row)
    "size": -4.76,  # log ribbons outside 2.7 .. 18
    "unlike": 4.2,  # share of columns unlike what lies beside the row
    "beside": 0.8,  # stripes beside the rows, a row height
}


def confidence(found: dict[str, float]) -> float:
    """What `evidence` found, weighed: 0..1."""
    return float(1 / (1 + np.exp(-sum(_WEIGHTS[name] * value for name, value in found.items()))))


def evidence(bands: Bands, fits: list[RowFit], score: float) -> dict[str, float]:
    """What speaks for and against a bar; the names are those of the weights.

    ``bands`` is the view the rows were fitted in, ``score`` that of the fit.
    """
    profiles = [bands.profile(round(fit.top), round(fit.bottom)) for fit in fits]
    height = float(np.median([fit.height for fit in fits]))
    spans = [slice(round(fit.left), round(fit.right)) for fit in fits]
    length = sum(fit.width for fit in fits)
    ribbons = length / height / RIBBON_ASPECT
    stripes = sum(_inner_stripes(profile, fit) for profile, fit in zip(profiles, fits, strict=True))
    colours = np.concatenate([profile.colours[span] for profile, span in zip(profiles, spans, strict=True)])
    spread = np.percentile(colours, 90, axis=0) - np.percentile(colours, 10, axis=0)
    within = sum(_strength(profile.stripe[span]) for profile, span in zip(profiles, spans, strict=True)) / len(fits)
    around = sorted(
        _strength_across(bands.features, fit, start, start + 0.65 * height, profile.noise) / (within + 1)
        for fit, start, profile in (
            (fits[0], fits[0].top - 0.8 * height, profiles[0]),
            (fits[-1], fits[-1].bottom + 0.15 * height, profiles[-1]),
        )
    )
    even, holes, unlike, beside = (
        sum(values) / length
        for values in zip(
            *(
                (
                    float(profile.even[span].sum()),
                    float((profile.edged[span] < -0.7).sum()),
                    unlike_ground(profile, fit.left, fit.right) * fit.width,
                    _stripes_beside(profile, fit) * length / len(fits),
                )
                for fit, profile, span in zip(fits, profiles, spans, strict=True)
            ),
            strict=True,
        )
    )
    return {
        "constant": 1.0,
        "stripes": min(float(np.log1p(stripes / ribbons)), 2.2),
        "crowded": max(stripes * height / length - 2.4, 0.0),
        "even": even,
        "above": min(around[0], 1.0) ** 0.5,
        "below": min(around[1], 1.5) ** 0.5,
        "holes": min(holes, 0.2),
        "hues": min(float(np.log1p(np.hypot(spread[1], spread[2]))), 4.3),
        "ends": _clear_ends(profiles, fits),
        "fit": float(np.log1p(max(score, 0.0) / len(fits))),
        "size": float(max(np.log(ribbons) - 2.9, 0) + max(1.0 - np.log(ribbons), 0)),
        "unlike": unlike,
        "beside": min(beside, 2.0),
    }


def _inner_stripes(profile: RowProfile, fit: RowFit) -> int:
    at = stripe_edges(profile.stripe)
    return int(((at > fit.left + 0.1 * fit.height) & (at < fit.right - 0.1 * fit.height)).sum())


def _strength(stripe: np.ndarray) -> float:
    """Stripe edges, each counted by its strength."""
    return float(stripe[stripe_edges(stripe)].sum())


def _strength_across(features: np.ndarray, fit: RowFit, top: float, bottom: float, noise: float) -> float:
    """Strength of stripe edges in a band above or below the bar, the strongest left out: a bar may lie across the edge
    of a lapel or of a tie."""
    a, b = max(round(top), 0), min(round(bottom), len(features))
    if b - a < 2:
        return 0.0
    stripe = change_along(features[a:b].mean(axis=0), noise)[round(fit.left) : round(fit.right)]
    return _strength(stripe) - float(stripe[stripe_edges(stripe)].max(initial=0.0))


def _stripes_beside(profile: RowProfile, fit: RowFit) -> float:
    """Stripe edges a row height beyond the row's ends, up to two heights away."""
    height = profile.height
    left = profile.stripe[max(round(fit.left - 2 * height), 0) : max(round(fit.left - 0.3 * height), 0)]
    right = profile.stripe[round(fit.right + 0.3 * height) : round(fit.right + 2 * height)]
    return float(len(stripe_edges(left)) + len(stripe_edges(right))) * height / max(len(left) + len(right), 1)


def _clear_ends(profiles: list[RowProfile], fits: list[RowFit]) -> float:
    """How clearly the rows' ends are edges, mean of 0..1."""
    clear = []
    for fit, profile in zip(fits, profiles, strict=True):
        for end in (round(fit.left), round(fit.right)):
            clear.append(float(profile.stripe[max(end - 2, 0) : end + 3].max(initial=0)))
    return float(np.mean(clear))
