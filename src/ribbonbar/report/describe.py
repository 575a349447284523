"""Ribbons in words: what one looks like, and what tells two apart. Computed from their stripes."""

from ribbonbar.report.text import counted, listed
from ribbonbar.spec.model import Colour, Ribbon, Stripe

_SAME_SHARE = 0.01  # of the ribbon's width: a smaller difference of a stripe is no difference of pattern
_TELLING_RATIO = 1.25  # a person sees one stripe to be wider than another from about here; our own figure
_SAME_DYE = 1.0  # CIE L*a*b* distance below which two entries are one dye

ORDINALS = ("", "", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def in_words(ribbon: Ribbon, reversed: bool = False) -> str:
    """``navy edges, narrow white, sky blue centre``; left to right as a viewer sees it where it is not symmetrical."""
    if ribbon.shape == "unmatched":
        return f"no drawing: {ribbon.unmatched}"
    stripes = _turned(ribbon) if reversed else ribbon.stripes
    frame = f", in a metal frame of {_name(ribbon.frame)}" if ribbon.frame else ""
    if ribbon.shape == "bands":
        return f"horizontal bands, top to bottom: {listed([_words(s, stripes) for s in stripes], 'and')}{frame}"
    if ribbon.shape == "diagonal":
        angle = (180 - ribbon.angle if reversed else ribbon.angle) % 180
        way = "rising to the right" if angle < 90 else "falling to the right"
        return f"diagonal stripes of {listed([_words(s, stripes) for s in stripes])}, {way}{frame}"
    if len(stripes) == 1:
        plain = "" if stripes[0].start == stripes[0].end else ", left to right"
        return f"plain {_dye(stripes[0])}{plain}{frame}"
    if ribbon.symmetrical and len(stripes) % 2 and len(stripes) <= 9:
        half = stripes[: len(stripes) // 2 + 1]
        parts = [f"{_words(half[0], stripes)} edges", *(_words(s, stripes) for s in half[1:-1])]
        return f"{', '.join(parts)}, {_words(half[-1], stripes)} centre{frame}"
    return f"left to right: {', '.join(_words(s, stripes) for s in stripes)}{frame}"


def differences(a: Ribbon, b: Ribbon, a_reversed: bool = False, b_reversed: bool = False) -> tuple[str, str] | None:
    """What to look at to tell two ribbons apart: the same feature as it is on each. None where they look the same."""
    if "unmatched" in (a.shape, b.shape):
        return None if a == b else (in_words(a), in_words(b))
    if a.shape != b.shape:
        return _KINDS[a.shape], _KINDS[b.shape]
    ours, theirs = (_turned(r) if turned else r.stripes for r, turned in ((a, a_reversed), (b, b_reversed)))
    if a.shape == "diagonal" and abs(_slope(a, a_reversed) - _slope(b, b_reversed)) > 1:
        return _slope_words(a, a_reversed), _slope_words(b, b_reversed)
    return (
        _other_colours(ours, theirs)
        or (_other_stripes(ours, theirs) if len(ours) == len(theirs) else _other_count(ours, theirs))
        or _other_size(a, b)
    )


_KINDS = {"stripes": "upright stripes", "bands": "horizontal bands", "diagonal": "diagonal stripes"}


def _other_colours(ours: tuple[Stripe, ...], theirs: tuple[Stripe, ...]) -> tuple[str, str] | None:
    """Different numbers of stripes: a colour that only one of them has is what the eye goes to first."""
    if len(ours) == len(theirs):
        return None
    only_a, only_b = _only(ours, theirs), _only(theirs, ours)
    if not only_a and not only_b:
        return None
    return (
        f"has {listed(only_a)}" if only_a else f"no {listed(only_b, 'or')}",
        f"has {listed(only_b)}" if only_b else f"no {listed(only_a, 'or')}",
    )


def _only(ours: tuple[Stripe, ...], theirs: tuple[Stripe, ...]) -> list[str]:
    others = [c for s in theirs for c in (s.start, s.end)]
    mine = [c for s in ours for c in (s.start, s.end)]
    return list(dict.fromkeys(_name(c) for c in mine if not any(_same(c, o) for o in others)))


def _other_stripes(ours: tuple[Stripe, ...], theirs: tuple[Stripe, ...]) -> tuple[str, str] | None:
    """Stripe by stripe: other colours, else other widths; the widest that differ first, at most two."""
    mirrored = _mirrored(ours) and _mirrored(theirs)
    count = len(ours)
    places = range((count + 1) // 2 if mirrored else count)
    width_a, width_b = (sum(s.width for s in stripes) for stripes in (ours, theirs))
    colour = [i for i in places if not (_same(ours[i].start, theirs[i].start) and _same(ours[i].end, theirs[i].end))]
    colour.sort(key=lambda i: -ours[i].width / width_a - theirs[i].width / width_b)
    if colour:
        pairs = [(_place(i, count, mirrored), *_two_dyes(ours[i], theirs[i])) for i in sorted(colour[:2])]
        return ", ".join(f"{p} {a}" for p, a, _ in pairs), ", ".join(f"{p} {b}" for p, _, b in pairs)
    shares = [(i, ours[i].width / width_a, theirs[i].width / width_b) for i in places]
    wide = max(shares, key=lambda share: max(share[1:]) / min(share[1:]), default=None)
    if wide is None or abs(wide[1] - wide[2]) < _SAME_SHARE:
        return None
    i, a, b = wide
    more = "much " if max(a, b) / min(a, b) > 2 else "" if max(a, b) / min(a, b) > _TELLING_RATIO else "a little "
    what = f"{_place(i, count, mirrored)} ({_dye(ours[i])}) {more}"
    how = ("wider", "narrower") if a > b else ("narrower", "wider")
    return f"{what}{how[0]}", f"{what}{how[1]}"


def _other_count(ours: tuple[Stripe, ...], theirs: tuple[Stripe, ...]) -> tuple[str, str]:
    a, b = (f"{counted(len(s), 'stripe')} ({', '.join(_dye(each) for each in s[:9])})" for s in (ours, theirs))
    return a, b


def _other_size(a: Ribbon, b: Ribbon) -> tuple[str, str] | None:
    if a.width_mm != b.width_mm:
        return f"{a.width_mm:g} mm wide", f"{b.width_mm:g} mm wide"
    if a.frame != b.frame:
        return tuple(f"in a metal frame of {_name(r.frame)}" if r.frame else "without a frame" for r in (a, b))
    return None


def _place(i: int, count: int, mirrored: bool) -> str:
    """Where a stripe stands, in words."""
    if count == 1:
        return "the whole ribbon"
    if not mirrored:
        return "left edge" if i == 0 else "right edge" if i == count - 1 else f"stripe {i + 1} from the left"
    if i == 0:
        return "edges"
    if 2 * i == count - 1:
        return "centre"
    ordinal = ORDINALS[i + 1] if i + 1 < len(ORDINALS) else f"{i + 1}th"
    return f"{ordinal} stripe from each edge"


def _words(stripe: Stripe, stripes: tuple[Stripe, ...]) -> str:
    """A stripe's colour, with its width where it is far from the others' mean."""
    mean = sum(s.width for s in stripes) / len(stripes)
    size = "narrow " if stripe.width < 0.6 * mean else "broad " if stripe.width > 1.8 * mean else ""
    return size + _dye(stripe)


def _dye(stripe: Stripe) -> str:
    if stripe.start == stripe.end:
        return _name(stripe.start)
    return f"{_name(stripe.start)} shading to {_name(stripe.end)}"


def _two_dyes(a: Stripe, b: Stripe) -> tuple[str, str]:
    """The colours of two stripes; two dyes of one name by which is darker."""
    if _dye(a) != _dye(b):
        return _dye(a), _dye(b)
    darker = a.start.lab[0] + a.end.lab[0] < b.start.lab[0] + b.end.lab[0]
    return (f"darker {_dye(a)}", f"paler {_dye(b)}") if darker else (f"paler {_dye(a)}", f"darker {_dye(b)}")


def _name(colour: Colour) -> str:
    return colour.name.replace("-", " ").replace("_", " ")


def _same(a: Colour, b: Colour) -> bool:
    return sum((x - y) ** 2 for x, y in zip(a.lab, b.lab, strict=True)) < _SAME_DYE**2


def _mirrored(stripes: tuple[Stripe, ...]) -> bool:
    return stripes == tuple(Stripe(s.end, s.start, s.width) for s in reversed(stripes))


def _turned(ribbon: Ribbon) -> tuple[Stripe, ...]:
    if ribbon.shape == "bands":
        return ribbon.stripes
    return tuple(Stripe(s.end, s.start, s.width) for s in reversed(ribbon.stripes))


def _slope(ribbon: Ribbon, reversed: bool) -> float:
    return (180 - ribbon.angle if reversed else ribbon.angle) % 180


def _slope_words(ribbon: Ribbon, reversed: bool) -> str:
    slope = _slope(ribbon, reversed)
    return f"stripes {'rising' if slope < 90 else 'falling'} to the right at {min(slope, 180 - slope):g}°"
