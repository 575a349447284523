"""The main job on one page: photo, reading, precedence, report; nothing else."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ribbonbar.bar import Judged, emblem_kind, judge_bar
from ribbonbar.choosing import believed
from ribbonbar.errors import OptionError
from ribbonbar.findings import Finding
from ribbonbar.options import AuditOptions
from ribbonbar.photo.evening import evened
from ribbonbar.photo.finding import Search, bar_from_corners
from ribbonbar.photo.flattening import apply, flatten_beyond, part_of, quad_to_photo
from ribbonbar.photo.model import FoundBar, Picture, Strip
from ribbonbar.photo.opening import open_photo
from ribbonbar.photo.shading import Shading
from ribbonbar.reading.model import Reading
from ribbonbar.reading.read import read_bar
from ribbonbar.reading.templates import Bank, bank_of
from ribbonbar.report.model import Bar, Candidate, Corners, Outcome, Photo, Position, Report, SeenEmblem
from ribbonbar.rows import ReadBar, as_read, with_second_thoughts
from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import read_specification, shipped_specs

BEYOND = 3.5
"""How far the reading looks past the ends of a row as found, in row heights: the width of a ribbon."""


@dataclass(frozen=True)
class Catalogue:
    """A specification made ready for reading; build it once and audit any number of photos with it."""

    specification: Specification
    bank: Bank

    def asked(self, order: str) -> "Catalogue":
        """The catalogue for reading a bar under this order of wear; the same where there is no such order."""
        wear = self.specification.orders.get(order)
        listed = {award for group in wear.groups for award in group.awards} if wear else set()
        return replace(self, bank=self.bank.favouring(listed)) if listed else self

    @classmethod
    def of(cls, specification: Specification) -> "Catalogue":
        """Raises OptionError when no ribbon of the specification can be matched."""
        bank = bank_of(specification)
        if not bank.patterns:
            raise OptionError("the specification has no ribbon that can be matched; give one that has (--spec)")
        return cls(specification, bank)


def load_catalogue(paths: Sequence[Path] = ()) -> Catalogue:
    """The specification files and folders named, or those that ship with the package. Raises SpecError."""
    return Catalogue.of(read_specification(list(paths) or [shipped_specs()]))


def audit_file(path: Path, catalogue: Catalogue, options: AuditOptions = AuditOptions()) -> Report:  # noqa: B008
    """Audit one photograph file. Raises PhotoError when it cannot be used, OptionError when the options do not fit."""
    begun = time.perf_counter()
    picture = open_photo(path, options.max_megapixels)
    opened = (time.perf_counter() - begun) * 1000
    report = audit(picture, catalogue, options)
    timing = {"total": opened + report.timing_ms["total"], "open": opened} | {
        stage: spent for stage, spent in report.timing_ms.items() if stage != "total"
    }
    return replace(report, timing_ms={stage: round(spent, 1) for stage, spent in timing.items()})


def audit(picture: Picture, catalogue: Catalogue, options: AuditOptions = AuditOptions()) -> Report:  # noqa: B008
    """Audit one opened picture: find its bars, read each, judge each. The same picture gives the same report."""
    clock = [time.perf_counter()]
    catalogue = catalogue.asked(options.order_of_wear)
    search = Search(picture)
    found = find(search, options.corners)
    clock.append(time.perf_counter())
    read = read_bars(search, found, catalogue, by_hand=options.corners is not None)
    read = [_read_again(one, _given(options.answers, _prefix(n)), catalogue) for n, one in enumerate(read)]
    clock.append(time.perf_counter())
    judged = [
        judge_bar(one.reading, catalogue.specification, options, _prefix(number), _edges_mm(one, catalogue))
        for number, one in enumerate(read)
    ]
    clock.append(time.perf_counter())
    stages = dict(zip(("find", "read", "judge"), (np.diff(clock) * 1000).tolist(), strict=True))
    return Report(
        photo=Photo(picture.name, picture.width, picture.height, picture.sha256),
        outcome=_worst([one.outcome for one in judged]),
        order_of_wear=judged[0].order_of_wear if judged else "",
        bars=tuple(_bar(one, said, catalogue.specification) for one, said in zip(read, judged, strict=True)),
        findings=tuple(finding for one in judged for finding in one.findings) if judged else _nothing_found(),
        proposed_order=tuple(award for one in judged for award in one.verdict.proposed_order),
        proposed_positions=tuple(position for one in judged for position in one.verdict.proposed_positions),
        to_move=tuple(position for one in judged for position in one.verdict.to_move),
        timing_ms={"total": sum(stages.values())} | stages,
        editions=catalogue.specification.editions,
        work_order=options.work_order.reference if options.work_order else "",
    )


def _worst(outcomes: list[Outcome]) -> Outcome:
    return next((o for o in ("out-of-order", "unconfirmed", "in-order") if o in outcomes), "no-bar")


def find(search: Search, corners: Corners | None) -> tuple[FoundBar, ...]:
    """The bars on a picture: where the user says, else where they are found."""
    return (bar_from_corners(search.picture, np.array(corners)),) if corners else search.bars()


def flat_strips(picture: Picture, found: FoundBar) -> tuple[Strip, ...]:
    """A bar's rows made flat, each with a ribbon's width beyond its ends."""
    rows = evened(found.rows)
    return tuple(
        flatten_beyond(picture, row, BEYOND, [*rows[:number], *rows[number + 1 :]]) for number, row in enumerate(rows)
    )


def read_bars(search: Search, found: tuple[FoundBar, ...], catalogue: Catalogue, by_hand: bool) -> list[ReadBar]:
    """The bars made flat and read, their rows looked at again where the reading asks for it; what reads as no bar is
    left out, unless its place was given by hand."""

    def read(bar: FoundBar, shading: Shading | None = None) -> ReadBar:
        def once(bar: FoundBar) -> ReadBar:
            strips = flat_strips(search.picture, bar)
            strips = tuple(map(shading.taken_out, strips)) if shading else strips
            reading = read_bar(strips, catalogue.bank)
            return ReadBar(bar if by_hand else as_read(bar, strips, reading), strips, reading)

        return with_second_thoughts(once(bar), once)

    return [read(bar) for bar in found] if by_hand else believed(search, found, read)


def _edges_mm(bar: ReadBar, catalogue: Catalogue) -> tuple[tuple[float, float], ...]:
    """Where each row begins and ends along the bar, in millimetres; the longest row's ribbons give the scale."""
    rows = bar.reading.rows
    longest = max(range(len(rows)), key=lambda number: len(rows[number]))
    names = [(reading.candidates[0].award, reading.candidates[0].ribbon) for reading in rows[longest]]
    widths = [
        r.width_mm for award, name in names for r in catalogue.specification.awards[award].ribbons if r.id == name
    ]
    ends = []
    for strip, row in zip(bar.strips, rows, strict=True):
        corners = part_of(strip, row[0].span[0], row[-1].span[1])
        ends.append(np.array([(corners[0] + corners[3]) / 2, (corners[1] + corners[2]) / 2]))
    flat = np.linalg.inv(quad_to_photo(bar.found.corners, 1.0, 1.0))
    along = np.array([apply(flat, each)[:, 0] for each in ends])
    scale = sum(widths) / np.ptp(along[longest])
    return tuple((float(start * scale), float(end * scale)) for start, end in along)


def _prefix(number: int) -> str:
    """What the names of a bar's positions begin with: nothing for the first bar on a picture."""
    return f"{number + 1}/" if number else ""


def _given(answers: dict[str, str], prefix: str) -> dict[tuple[int, int], str]:
    """The answers for the bar of this prefix, by row and place."""
    named = {name.removeprefix(prefix): award for name, award in answers.items() if name.startswith(prefix)}
    return {tuple(map(int, name.split("."))): award for name, award in named.items() if "/" not in name}


def _read_again(bar: ReadBar, given: dict[tuple[int, int], str], catalogue: Catalogue) -> ReadBar:
    """The bar read with what the user has named: its light and widths help with the other ribbons."""
    return replace(bar, reading=read_bar(bar.strips, catalogue.bank, given)) if given else bar


def _bar(bar: ReadBar, judged: Judged, specification: Specification) -> Bar:
    rows = []
    for strip, readings, slots in zip(bar.strips, bar.reading.rows, judged.seen, strict=True):
        rows.append(
            tuple(
                Position(
                    position=slot.position,
                    corners=_points(part_of(strip, *one.span)),
                    status="identified" if slot.position in judged.by_hand else one.status,
                    candidates=_candidates(one, slot.awards[0] if slot.position in judged.by_hand else ""),
                    emblems=tuple(
                        SeenEmblem(emblem_kind(e, slot.awards, specification), e.x, e.y, e.size_mm) for e in one.emblems
                    ),
                    given_by_hand=slot.position in judged.by_hand,
                    seen=tuple(map(tuple, one.seen[::2].astype(float).round(1).tolist())),
                )
                for slot, one in zip(slots, readings, strict=True)
            )
        )
    return Bar(_points(bar.found.corners), tuple(rows))


def _candidates(reading: Reading, by_hand: str) -> tuple[Candidate, ...]:
    if not by_hand:
        return tuple(Candidate(c.award, c.ribbon, c.reversed, c.probability) for c in reading.candidates)
    alike = [c for c in reading.candidates if c.award == by_hand]
    return (Candidate(by_hand, alike[0].ribbon if alike else "", bool(alike and alike[0].reversed), 1.0),)


def _points(corners: np.ndarray) -> Corners:
    return tuple((round(float(x), 1), round(float(y), 1)) for x, y in corners)


def _nothing_found() -> tuple[Finding, ...]:
    message = (
        "No ribbon bar was found on this picture. If there is one, say where it is with "
        '--corners "x,y x,y x,y x,y" (clockwise from top left); '
        "--show-grid writes the picture with coordinates to read them from."
    )
    return (Finding("photo", (), "note", message),)
