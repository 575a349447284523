"""The engine against a plain enumeration of every reading of a bar and every arrangement of its ribbons."""

from datetime import date, timedelta
from itertools import combinations, permutations, product

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from ribbonbar.errors import SpecError
from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.model import Held, Record, Slot
from ribbonbar.spec.model import Award, Group, Interval, OrderOfWear, Rule, Specification

NAMES = tuple(f"x/{letter}" for letter in "abcdefg")
DAY = date(1950, 1, 1)


def days():
    return st.integers(0, 6).map(lambda n: DAY + timedelta(n))


@st.composite
def intervals(draw):
    start, end = sorted((draw(days()), draw(days())))
    return Interval(draw(st.sampled_from((start, None))), draw(st.sampled_from((end, end, None))))


@st.composite
def specifications(draw):
    names = NAMES[: draw(st.integers(2, len(NAMES)))]
    elsewhere = draw(st.sets(st.sampled_from(names), max_size=1)) if draw(st.integers(0, 4)) == 0 else set()
    awards = {n: Award(n, n, earned=draw(intervals()), worn_elsewhere="right breast" * (n in elsewhere)) for n in names}
    listed = draw(st.permutations(names))
    absent = draw(st.integers(0, 1)) if draw(st.integers(0, 4)) == 0 else 0
    listed = listed[: len(listed) - absent]
    cuts = sorted(draw(st.sets(st.integers(1, max(1, len(listed) - 1)), max_size=2)))
    pieces = [listed[a:b] for a, b in zip([0, *cuts], [*cuts, len(listed)], strict=True)]
    sequences = st.sampled_from(("by-date", "by-date", "listed", "by-award-date"))
    groups = tuple(Group(f"g{i}", f"G{i}", draw(sequences), tuple(piece)) for i, piece in enumerate(pieces))
    order = OrderOfWear("x/o", "Order", groups, second_ribbon=draw(st.booleans()))
    kinds = st.sampled_from(("listed-within", "listed-within", "not-together", "needs"))
    several = st.lists(st.sampled_from(names), min_size=2, max_size=4, unique=True)
    rules = tuple(
        Rule(draw(kinds), tuple(draw(several)), f"rule {i}") for i in range(draw(st.sampled_from((0, 0, 1, 2, 3))))
    )
    return Specification(awards=awards, orders={"x/o": order}, rules=rules)


@st.composite
def cases(draw):
    specification = draw(specifications())
    names = sorted(specification.awards)
    held = tuple(Held(n, draw(days())) for n in names if draw(st.integers(0, 2)) == 0)
    sharp = draw(st.booleans())
    most = 7 if sharp else 5
    several = st.lists(st.sampled_from(names), min_size=1, max_size=3, unique=True)
    one = st.sampled_from(names).map(lambda name: [name])
    chosen = draw(st.permutations(names))
    slots, readings = [], 1
    for i in range(draw(st.integers(1, most))):
        candidates = [chosen[i]] if sharp and i < len(chosen) and draw(st.integers(0, 5)) else draw(one)
        if not sharp and draw(st.booleans()) and readings <= 12:
            candidates = draw(several)
        if draw(st.integers(0, 9)) == 0:
            candidates = []
        readings *= max(1, len(candidates))
        slots.append(Slot(f"1.{i + 1}", tuple(candidates)))
    return specification, Record(held=held) if held else None, tuple(slots)


class Plain:
    """The same questions, answered by trying everything."""

    def __init__(self, specification, record, slots):
        self.specification, self.order = specification, specification.orders["x/o"]
        self.dates = {held.award: held.date for held in record.held} if record else {}
        self.slots = slots
        self.named = [i for i, slot in enumerate(slots) if slot.awards]
        self.readings = [
            dict(zip(self.named, choice, strict=True)) for choice in product(*(slots[i].awards for i in self.named))
        ]
        self.candidates = sorted({award for slot in slots for award in slot.awards})
        self.links = {(a, b) for a in self.candidates for b in self.candidates if self.link(a, b)}
        together = {(a, b) for a, b in self.links if self.leads(b, a, self.links)}
        self.links -= {(a, b) for a, b in together if not self.fixed(a, b)}
        self.disputed = {frozenset(pair) for pair in together if not self.fixed(*pair)}

    def group(self, award):
        return next((i for i, g in enumerate(self.order.groups) if award in g.awards), None)

    def range(self, award):
        sequence = self.order.groups[self.group(award)].sequence
        earned = self.specification.awards[award].earned
        start = earned.start or date.min
        end = (earned.end if sequence == "by-date" else None) or date.max
        day = self.dates.get(award)
        if day is None:
            return start, end
        return (day, day) if start <= day <= end else (min(day, start), max(day, end))

    def fixed(self, a, b):
        steps = set()
        for rule in self.specification.rules:
            if rule.kind == "listed-within":
                steps |= {(x, y) for x, y in combinations(rule.awards, 2) if self.group(x) == self.group(y) is not None}
        return self.leads(a, b, steps)

    @staticmethod
    def leads(a, b, links):
        seen, todo = set(), [a]
        while todo:
            for x, y in links:
                if x == todo[-1] and y not in seen:
                    seen.add(y)
                    todo.insert(0, y)
            todo.pop()
        return b in seen

    def link(self, a, b):
        """Whether a must stand before b by one rule alone."""
        ga, gb = self.group(a), self.group(b)
        if a == b or ga is None or gb is None:
            return False
        if ga != gb:
            return ga < gb
        group = self.order.groups[ga]
        if group.sequence == "listed":
            return group.awards.index(a) < group.awards.index(b)
        if self.fixed(a, b) or self.fixed(b, a):
            return self.fixed(a, b)
        return self.range(a)[1] < self.range(b)[0]

    def before(self, reading):
        """Pairs of slots of which the first must stand before the second."""
        there = set(reading.values())
        links = {(a, b) for a, b in self.links if a in there and b in there}
        return {(i, j) for i, j in permutations(reading, 2) if self.leads(reading[i], reading[j], links)}

    def misplaced(self, reading):
        return {(i, j) for j, i in self.before(reading) if i < j}

    def duplicates(self, reading):
        if self.order.second_ribbon:
            return set()
        return {(i, j) for i, j in combinations(sorted(reading), 2) if reading[i] == reading[j]}

    def breaks(self, rule, reading):
        there = set(reading.values())
        if rule.kind == "not-together":
            return len(there & set(rule.awards)) > 1
        if rule.kind != "needs" or any(self.elsewhere(award) for award in rule.awards):
            return False
        return rule.awards[0] in there and not there & set(rule.awards[1:])

    def elsewhere(self, award):
        return bool(self.specification.awards[award].worn_elsewhere)

    @property
    def other_bar(self):
        return bool(self.candidates) and all(map(self.elsewhere, self.candidates))

    def out_of_this_bar(self, reading):
        return set() if self.other_bar else {i for i, award in reading.items() if self.elsewhere(award)}

    def permitted(self, reading):
        unsure = len(self.named) < len(self.slots)
        rules = [r for r in self.specification.rules if not (unsure and r.kind == "needs")]
        return not (
            self.misplaced(reading)
            or self.duplicates(reading)
            or self.out_of_this_bar(reading)
            or any(self.breaks(rule, reading) for rule in rules)
        )

    def fewest_moves(self, reading):
        """Over all arrangements that the order permits, the fewest ribbons that lose their sequence with the rest."""
        before, slots = self.before(reading), sorted(reading)
        best = len(slots)
        for arrangement in permutations(slots):
            place = {slot: n for n, slot in enumerate(arrangement)}
            if all(place[i] < place[j] for i, j in before):
                best = min(best, len(slots) - longest_increasing(arrangement))
        return best


def longest_increasing(sequence):
    lengths = []
    for i, item in enumerate(sequence):
        lengths.append(1 + max((lengths[j] for j in range(i) if sequence[j] < item), default=0))
    return max(lengths, default=0)


def judged(case):
    specification, record, slots = case
    try:
        verdict = judge((slots,), specification, specification.orders["x/o"], record)
    except SpecError as error:
        assert "circle" in str(error)
        assume(False)
    return verdict, Plain(specification, record, slots)


SETTINGS = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


@SETTINGS
@given(cases())
def test_out_of_order_only_when_every_reading_is_broken(case):
    """A bar is out of order exactly when each of its readings breaks the order or a rule."""
    verdict, plain = judged(case)
    assert verdict.violated == (bool(plain.named) and not any(map(plain.permitted, plain.readings)))
    assert verdict.violated == any(f.severity == "error" for f in verdict.findings)


@SETTINGS
@given(cases())
def test_fewest_ribbons_move(case):
    """No arrangement that any reading permits moves fewer ribbons than are named, and moving those suffices."""
    verdict, plain = judged(case)
    fewest = min((plain.fewest_moves(reading) for reading in plain.readings), default=0)
    assert verdict.proven_minimal
    assert len(verdict.to_move) == fewest
    positions = [slot.position for slot in plain.slots]
    assert sorted(verdict.proposed_positions) == sorted(positions)
    staying = [p for p in positions if p not in verdict.to_move]
    assert [p for p in verdict.proposed_positions if p in staying] == staying
    place = {positions.index(p): n for n, p in enumerate(verdict.proposed_positions)}
    shown = {positions.index(p): a for p, a in zip(verdict.proposed_positions, verdict.proposed_order, strict=True)}
    assert all((shown[i] == "unidentified") == (i not in plain.named) for i in range(len(positions)))
    reading = {i: shown[i] for i in plain.named}
    assert reading in plain.readings
    assert all(place[i] < place[j] for i, j in plain.before(reading))


@SETTINGS
@given(cases())
def test_misplaced_ribbons_are_errors_only_in_every_reading(case):
    """An out-of-place error names a ribbon that is wrong in every reading; some reading being wrong is never silent."""
    verdict, plain = judged(case)
    positions = [slot.position for slot in plain.slots]
    found = [f for f in verdict.findings if f.kind == "out-of-place" and "worn elsewhere" not in f.because]
    for finding in found:
        if finding.severity == "error" and not finding.message.startswith("However"):
            i = positions.index(finding.positions[0])
            assert all(any(i in pair for pair in plain.misplaced(reading)) for reading in plain.readings)
        if finding.severity == "error" and "sequence or a rule" not in finding.message:
            assert all(plain.misplaced(reading) for reading in plain.readings)
    sequence = [f for f in found if "sequence or a rule" not in f.message]
    assert bool(sequence) == any(plain.misplaced(reading) for reading in plain.readings)
    if plain.named and all(plain.misplaced(reading) for reading in plain.readings):
        assert any(f.severity == "error" for f in sequence)


@SETTINGS
@given(cases())
def test_rules_are_errors_exactly_in_every_reading(case):
    """A broken rule is an error when every reading breaks it, a warning when some do, and silent when none does."""
    verdict, plain = judged(case)
    unsure = len(plain.named) < len(plain.slots)
    for rule in plain.specification.rules:
        if rule.kind == "listed-within":
            continue
        broken = [plain.breaks(rule, reading) for reading in plain.readings]
        expected = set()
        if any(broken):
            sure = all(broken) and not (rule.kind == "needs" and unsure)
            expected = {"error" if sure else "warning"}
        assert {f.severity for f in verdict.findings if f.because == rule.because} == expected


@SETTINGS
@given(cases())
def test_duplicates_and_ribbons_worn_elsewhere(case):
    """A second ribbon of one award is an error when certain, a warning when possible; so is one worn elsewhere."""
    verdict, plain = judged(case)
    positions = [slot.position for slot in plain.slots]
    for kind, pairs_of in (("duplicate", plain.duplicates), ("elsewhere", plain.out_of_this_bar)):
        found = [f for f in verdict.findings if f.kind == kind or (kind in f.because and f.kind == "out-of-place")]
        always = set.intersection(*(pairs_of(reading) for reading in plain.readings)) if plain.named else set()
        ever = set.union(*(pairs_of(reading) for reading in plain.readings)) if plain.named else set()
        slots_of = (lambda pairs: {i for pair in pairs for i in pair}) if kind == "duplicate" else set
        told = {s: {positions.index(p) for f in found if f.severity == s for p in f.positions} for s in SEVERITIES}
        assert told["error"] == slots_of(always)
        assert told["error"] | told["warning"] == slots_of(ever)
        assert not told["note"]


SEVERITIES = ("error", "warning", "note")


@SETTINGS
@given(cases())
def test_settled_only_when_nothing_is_left_open(case):
    """Settled: every ribbon has one name and a place, and each pair is ordered or may stand either way round."""
    verdict, plain = judged(case)
    single = bool(plain.slots) and all(len(slot.awards) == 1 for slot in plain.slots)
    settled = single and all(plain.group(slot.awards[0]) is not None for slot in plain.slots)
    if settled:
        (reading,) = plain.readings
        before = plain.before(reading)
        for i, j in combinations(reading, 2):
            if reading[i] == reading[j] or (i, j) in before or (j, i) in before:
                continue
            (a, b), (c, d) = plain.range(reading[i]), plain.range(reading[j])
            settled &= a == b == c == d and frozenset((reading[i], reading[j])) not in plain.disputed
    assert verdict.settled == settled


@SETTINGS
@given(cases())
def test_one_assignment_is_told_when_only_one_award_fits(case):
    """The note names exactly the ambiguous ribbons that are one and the same award in every permitted reading."""
    verdict, plain = judged(case)
    permitted = [reading for reading in plain.readings if plain.permitted(reading)] if plain.named else []
    only = set()
    for i in plain.named:
        if permitted and len(plain.slots[i].awards) > 1 and len({reading[i] for reading in permitted}) == 1:
            only.add(plain.slots[i].position)
    notes = [f for f in verdict.findings if f.kind == "one-assignment"]
    assert {p for f in notes for p in f.positions} == only
    assert all(f.severity == "note" for f in notes)
