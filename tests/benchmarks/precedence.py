"""How fast a bar is judged, in milliseconds and as a ratio to plainly sorting the same ribbons by date.

Run with ``python -m tests.benchmarks.precedence``; exits with 1 when the bar of 60 ribbons takes longer than its limit.
"""

import random
import sys
import time
from datetime import date, timedelta

from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.model import Rows, Slot
from ribbonbar.spec.model import Award, Group, Interval, OrderOfWear, Specification

LIMIT_MS = 50.0
RIBBONS = 60
FIRST_DAY = date(1900, 1, 1)


def awards(number: int, longest: int, seed: int = 1) -> dict[str, Award]:
    """Campaign medals with qualifying periods of up to ``longest`` days, begun on random days of a century."""
    chance = random.Random(seed)
    found = {}
    for i in range(number):
        start = FIRST_DAY + timedelta(chance.randrange(36500))
        end = start + timedelta(chance.randrange(longest))
        found[f"x/m{i}"] = Award(f"x/m{i}", f"Medal {i}", earned=Interval(start, end))
    return found


def specification(of: dict[str, Award]) -> Specification:
    group = Group("campaign", "Campaign medals", "by-date", tuple(of))
    return Specification(awards=of, orders={"x/o": OrderOfWear("x/o", "Order of wear", (group,))})


def bar(of: dict[str, Award], candidates: int = 1, seed: int = 2) -> Rows:
    """All the awards in a random sequence, in rows of four; every third ribbon ambiguous if ``candidates`` > 1."""
    chance = random.Random(seed)
    keys = chance.sample(list(of), len(of))
    slots = []
    for i, key in enumerate(keys):
        more = chance.sample(keys, candidates - 1) if candidates > 1 and i % 3 == 0 else []
        slots.append(Slot(f"{i // 4 + 1}.{i % 4 + 1}", (key, *(other for other in more if other != key))))
    return tuple(tuple(slots[i : i + 4]) for i in range(0, len(slots), 4))


def right_bar(of: dict[str, Award]) -> Rows:
    """All the awards in the sequence of their first days, so that nothing is proved wrong."""
    keys = sorted(of, key=lambda key: of[key].earned.start)
    return tuple((Slot(f"{i + 1}.1", (key,)),) for i, key in enumerate(keys))


def milliseconds(run, times: int = 7) -> float:
    """The median of several runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        taken.append((time.perf_counter() - start) * 1000)
    return sorted(taken)[times // 2]


def main() -> int:
    short, long = awards(RIBBONS, 700), awards(RIBBONS, 9000)
    cases = {
        "60 by date, short periods, shuffled": (short, bar(short)),
        "60 by date, long periods, shuffled": (long, bar(long)),
        "60 by date, long periods, in order": (long, right_bar(long)),
        "60 by date, every third one of three": (long, bar(long, candidates=3)),
    }
    slow = False
    for name, (of, rows) in cases.items():
        known = specification(of)
        order = known.orders["x/o"]
        keys = [slot.awards[0] for row in rows for slot in row]
        taken = milliseconds(lambda: judge(rows, known, order))  # noqa: B023 - used at once
        plain = milliseconds(lambda: sorted(keys, key=lambda key: of[key].earned.start))  # noqa: B023 - used at once
        ambiguous = any(len(slot.awards) > 1 for row in rows for slot in row)
        limit = None if ambiguous else LIMIT_MS
        slow |= limit is not None and taken > limit
        told = f"limit {limit:.0f} ms" if limit else "no limit"
        print(f"{name:40} {taken:8.2f} ms ({told}), {taken / plain:8.0f} times a plain sort")
    return int(slow)


if __name__ == "__main__":
    sys.exit(main())
