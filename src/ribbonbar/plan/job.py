"""The whole of planning: files in, bars planned, files out."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ribbonbar.errors import Exit, OptionError
from ribbonbar.output import check_writable, write_whole
from ribbonbar.plan.as_json import to_json
from ribbonbar.plan.bar import PlannedBar, plan_bar
from ribbonbar.plan.cutting import CuttingList, cutting_list, to_csv
from ribbonbar.plan.cutting import to_text as cutting_text
from ribbonbar.plan.text import to_text
from ribbonbar.precedence.record import read_record
from ribbonbar.spec.reader import files_of, read_specification, shipped_specs

_WORST_FIRST = (Exit.BROKEN, Exit.UNCONFIRMED, Exit.SETTLED)


@dataclass(frozen=True)
class Wanted:
    """What the user asked for. ``json`` may be ``"-"``: standard output, and nothing else there."""

    json: str = ""
    svg: Path | None = None
    png: Path | None = None
    pdf: Path | None = None
    cutting: Path | None = None
    turn_under_mm: float = 10.0
    force: bool = False

    @property
    def files(self) -> list[Path]:
        """Every file to be written."""
        json_file = Path(self.json) if self.json and self.json != "-" else None
        return [path for path in (json_file, self.svg, self.png, self.pdf, self.cutting) if path]


@dataclass(frozen=True)
class PlanJob:
    """Bars planned from their records. ``inputs`` are the files read, which no output may replace."""

    bars: tuple[PlannedBar, ...]
    cutting: CuttingList
    inputs: tuple[Path, ...]

    @property
    def exit_status(self) -> Exit:
        """The worst of the bars: 1, 3, 0."""
        statuses = {bar.exit_status for bar in self.bars}
        return next(status for status in _WORST_FIRST if status in statuses)


def plan_bars(
    records: Sequence[Path], specs: Sequence[Path], order: str, per_row: int | None, wanted: Wanted
) -> PlanJob:
    """Plan a bar for each record; the specifications that ship with the package where none are given.

    Everything that could keep the files wanted from being written is found first. Raises RecordError, SpecError,
    OptionError and OutputError, one line each.
    """
    specs = list(specs) or [shipped_specs()]
    inputs = (*records, *files_of(specs))
    _check_files(wanted, inputs)
    specification = read_specification(specs)
    bars = tuple(plan_bar(read_record(path, specification), specification, order, per_row) for path in records)
    return PlanJob(bars, cutting_list(bars, wanted.turn_under_mm), inputs)


def _check_files(wanted: Wanted, inputs: Sequence[Path]) -> None:
    named = [path.absolute() for path in wanted.files]
    twice = next((path for path in named if named.count(path) > 1), None)
    if twice:
        raise OptionError(f"{twice}: is to hold two things; give each its own file")
    for path in wanted.files:
        check_writable(path, wanted.force, inputs)


def write_plans(job: PlanJob, wanted: Wanted) -> str:
    """Write the files wanted, each whole or not at all, and return what standard output is to say."""
    several = len(job.bars) > 1
    as_json = "\n".join(to_json(bar, None if several else 1) for bar in job.bars)
    for path, data in _drawings(job, wanted):
        write_whole(path, data, wanted.force, job.inputs)
    if wanted.cutting:
        data = to_csv(job.cutting).encode("utf-8-sig")  # the mark tells spreadsheets that it is UTF-8
        write_whole(wanted.cutting, data, wanted.force, job.inputs)
    if wanted.json == "-":
        return as_json
    if wanted.json:
        write_whole(Path(wanted.json), f"{as_json}\n".encode(), wanted.force, job.inputs)
    return "\n\n".join((*map(to_text, job.bars), cutting_text(job.cutting)))


def _drawings(job: PlanJob, wanted: Wanted) -> list[tuple[Path, bytes]]:
    """All drawings are made before the first is written, so that a fault in one leaves none."""
    if not (wanted.svg or wanted.png or wanted.pdf):
        return []
    from ribbonbar.plan.drawing import to_pdf, to_png, to_svg
    from ribbonbar.plan.layout import sheet

    tall = sheet(job.bars, job.cutting)
    made = []
    if wanted.svg:
        made.append((wanted.svg, to_svg(tall).encode()))
    if wanted.png:
        made.append((wanted.png, to_png(tall)))
    if wanted.pdf:
        made.append((wanted.pdf, to_pdf(sheet(job.bars, job.cutting, paged=True))))
    return made
