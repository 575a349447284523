"""Text from strangers' files, made harmless to show; and how much room it takes."""

import unicodedata

_JOINERS = "\u200c\u200d"  # two format characters that some scripts need inside a word
_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_MARKS_IN_A_ROW = 2  # no script needs more marks over one letter; more of them paint over the lines above


def safe_text(text: object, limit: int = 400) -> str:
    """``text`` on one line, with nothing in it that a terminal or a page would obey instead of show.

    Control and escape characters, direction overrides, line separators and unpaired surrogates become ``�``; runs of
    white space become one space; more than ``limit`` characters end in an ellipsis. Characters are sorted by their
    general category (Unicode Standard, section 4.5).
    """
    text = str(text)
    shown, marks = [], 0
    for character in text[: 2 * limit]:
        category = unicodedata.category(character)
        marks = marks + 1 if category in ("Mn", "Me") else 0
        if character.isspace():
            shown.append(" ")
        elif category in _HIDDEN and character not in _JOINERS:
            shown.append("\ufffd")
        elif marks <= _MARKS_IN_A_ROW:
            shown.append(character)
    line = " ".join("".join(shown).split())
    return line if len(line) <= limit and len(text) <= 2 * limit else line[: limit - 1].rstrip() + "…"


def columns(text: str) -> int:
    """How many columns of a terminal ``text`` takes (Unicode Standard Annex 11: wide characters take two)."""
    return sum(
        0 if unicodedata.category(c) in ("Mn", "Me", "Cf") else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def pad(text: str, width: int) -> str:
    """``text`` filled with spaces to ``width`` columns, or cut to it with an ellipsis."""
    if columns(text) > width:
        text = _cut(text, width - 1) + "…"
    return text + " " * (width - columns(text))


def wrap(text: str, width: int) -> list[str]:
    """``text`` in lines of at most ``width`` columns, broken at spaces; a longer word is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        if line and columns(line) + 1 + columns(word) <= width:
            line = f"{line} {word}"
            continue
        if line:
            lines.append(line)
        while columns(word) > width:
            head = _cut(word, width) or word[0]
            lines.append(head)
            word = word[len(head) :]
        line = word
    return [*lines, line] if line or not lines else lines


def _cut(text: str, width: int) -> str:
    """As much of the beginning of ``text`` as ``width`` columns hold."""
    used = 0
    for i, character in enumerate(text):
        used += columns(character)
        if used > width:
            return text[:i]
    return text


def listed(words: list[str], last: str = "and") -> str:
    """``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}" if words else ""


def counted(number: int, one: str, many: str = "") -> str:
    """``1 ribbon``, ``3 ribbons``; ``many`` where the plural is not formed with an s."""
    return f"{number} {one if number == 1 else many or one + 's'}"
