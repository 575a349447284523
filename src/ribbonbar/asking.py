"""Asking about the ribbons in doubt, one after the other: what each may be, drawn and in words."""

from collections.abc import Callable

from ribbonbar.console import Screen
from ribbonbar.errors import OptionError
from ribbonbar.precedence.names import Names
from ribbonbar.report.describe import in_words
from ribbonbar.report.layout import pattern, positions
from ribbonbar.report.model import Candidate, Position, Report
from ribbonbar.report.terminal import swatch
from ribbonbar.report.text import safe_text, wrap
from ribbonbar.report.words import name, percent
from ribbonbar.spec.model import Colour, Ribbon, Specification, Stripe

Say = Callable[[str], None]
Listen = Callable[[], str]
_DRAWN = 16  # columns a ribbon is drawn with


def ask(report: Report, specification: Specification, screen: Screen, say: Say, listen: Listen) -> dict[str, str]:
    """What a person says the doubtful positions hold: position to award key; what was skipped is left out.

    ``say`` is given text to show; ``listen`` gives back one line, with its line end, and ``""`` when there is no more
    to come, which ends the asking.
    """
    doubtful = [p for p in positions(report) if p.status != "identified" and not p.given_by_hand]
    if not doubtful:
        say("Nothing to ask: no ribbon on this bar is in doubt.\n")
    answers: dict[str, str] = {}
    for number, position in enumerate(doubtful, 1):
        say("".join(f"{line}\n" for line in _question(position, number, len(doubtful), specification, screen)))
        answer = _answer(position, specification, say, listen)
        if answer is None:
            break
        if answer:
            answers[position.position] = answer
    return answers


def _question(position: Position, number: int, of: int, specification: Specification, screen: Screen) -> list[str]:
    choices = _choices(position)
    nearest = "nearest is this" if len(choices) == 1 else "nearest are these"
    may_be = "may be one of these" if position.status == "ambiguous" else f"is not recognised; {nearest}"
    lines = ["", f"Ribbon {position.position} ({number} of {of} in doubt) {may_be}:"]
    if screen.colour and position.seen:
        lines.append(f"   seen  {swatch(_as_seen(position), _DRAWN)}")
    for place, choice in enumerate(choices, 1):
        known = pattern(specification.awards.get(choice.award), choice.ribbon)
        drawn = f"{swatch(known, _DRAWN, choice.reversed)}  " if screen.colour and known else ""
        chance = f" ({percent(choice.probability)})" if position.status == "ambiguous" else ""
        lines.append(f"{place:>7}  {drawn}{safe_text(name(choice.award, specification))}{chance}")
        told = safe_text(in_words(known, choice.reversed)) if known else ""
        lines += [f"         {line}" for line in wrap(told, screen.width - 9)] if told else []
    return lines


def _choices(position: Position) -> tuple[Candidate, ...]:
    """Each award once, the likeliest first."""
    return tuple({candidate.award: candidate for candidate in reversed(position.candidates)}.values())[::-1]


def _as_seen(position: Position) -> Ribbon:
    colours = [Colour("", lab, "derived") for lab in position.seen]
    return Ribbon("seen", "stripes", tuple(Stripe(c, c, 1.0) for c in colours), 32.0, 10.0)


def _answer(position: Position, specification: Specification, say: Say, listen: Listen) -> str | None:
    """An award's key, ``""`` for none, None when nobody answers any more. Asks again until it is understood."""
    choices = _choices(position)
    numbers = {0: "Type", 1: "1 or", 2: "1, 2 or"}.get(len(choices), f"1 to {len(choices)} or")
    names = Names(specification)
    while True:
        say(f"  {numbers} an award's name; Enter leaves it open: ")
        line = listen()
        if not line:
            say("\n")
            return None
        text = line.strip()
        if not text:
            return ""
        if text.isascii() and text.isdigit():
            if 1 <= int(text[:6]) <= len(choices):
                return choices[int(text) - 1].award
            say(f"  There is no {safe_text(text, 12)}.\n")
            continue
        try:
            return names.award(text)
        except OptionError as error:
            say(f"  {safe_text(error)}\n")
