"""The whole of ``ribbonbar audit``: what was asked for is checked, photos are audited, files are written."""

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from ribbonbar.console import Screen, quiet_libraries, say
from ribbonbar.errors import Exit, OptionError, OutputError
from ribbonbar.options import (
    AuditOptions,
    check_corners,
    check_max_megapixels,
    check_positions,
    parse_answers,
    parse_corners,
)
from ribbonbar.output import check_writable, write_whole
from ribbonbar.precedence.names import Names, listed
from ribbonbar.precedence.record import read_record
from ribbonbar.report.as_json import to_json
from ribbonbar.report.model import Report
from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import files_of, shipped_specs

if TYPE_CHECKING:
    from PIL.Image import Image

    from ribbonbar.audit import Catalogue
    from ribbonbar.photo.model import Picture

_STATUS = {"in-order": Exit.SETTLED, "out-of-order": Exit.BROKEN}


@dataclass(frozen=True)
class Request:
    """What was typed after ``ribbonbar audit``, one field an option. ``json`` may be ``"-"``: standard output."""

    photos: Sequence[Path]
    specs: Sequence[Path] = ()
    order: str = ""
    record: Path | None = None
    work_order: Path | None = None
    corners: str = ""
    json: str = ""
    html: Path | None = None
    annotate: Path | None = None
    handover: Path | None = None
    csv: Path | None = None
    answer: Sequence[str] = ()
    answers: Path | None = None
    ask: bool = False
    show_grid: Path | None = None
    debug_folder: Path | None = None
    max_megapixels: float = 60.0
    resume: bool = False
    workers: int | None = None
    force: bool = False

    @property
    def is_many(self) -> bool:
        """True for several photos, a folder, and a run that goes on with an earlier one."""
        return len(self.photos) > 1 or self.resume or any(is_folder(path) for path in self.photos)

    @property
    def json_file(self) -> Path | None:
        return Path(self.json) if self.json and self.json != "-" else None

    @property
    def inputs(self) -> list[Path]:
        """Every file that is read, and so never written."""
        named = [self.record, self.work_order, self.answers]
        return [*self.photos, *files_of(self.spec_paths), *(path for path in named if path)]

    @property
    def spec_paths(self) -> list[Path]:
        return list(self.specs) or [shipped_specs()]


def is_folder(path: Path) -> bool:
    """False too for what cannot be looked at; opening it says why."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def run(request: Request, today: date) -> Exit:
    """Do what was asked for and print what there is to say; ``today`` is written on a handover sheet.

    Raises RibbonbarError, one line, for photos, specifications, records, options and outputs that cannot be used.
    """
    check_max_megapixels(request.max_megapixels)
    try:
        if not request.is_many:
            return _run_one(request, today)
        from ribbonbar.many import run_many

        return run_many(request)
    except KeyboardInterrupt:
        from ribbonbar.batch import InterruptedRunError

        raise InterruptedRunError("stopped") from None


def check_files(request: Request, files: Sequence[Path | None], inputs: Sequence[Path]) -> None:
    """Refuse before the work begins what could not be written after it. Raises OptionError, OutputError."""
    files = [path for path in files if path]
    named = [path.absolute() for path in files]
    twice = next((path for path in named if named.count(path) > 1), None)
    if twice:
        raise OptionError(f"{twice}: is to hold two things; give each its own file")
    for path in files:
        # whether reports may be added to a file that exists, the run of many photos decides itself
        check_writable(path, request.force or (request.is_many and path == request.json_file), inputs)


def options_of(request: Request, specification: Specification) -> AuditOptions:
    """The options with every name looked up and every file read. Raises OptionError and RecordError."""
    names = Names(specification)
    record = read_record(request.record, specification) if request.record else None
    work_order = read_record(request.work_order, specification) if request.work_order else None
    stated = [given.order_of_wear for given in (record, work_order) if given and given.order_of_wear]
    key = names.order(request.order).key if request.order else next(iter(stated), "")
    return AuditOptions(
        order=key if request.order else "",
        record=record,
        work_order=work_order,
        corners=parse_corners(request.corners) if request.corners else None,
        answers=parse_answers(request.answer, request.answers, specification, specification.orders.get(key)),
        max_megapixels=request.max_megapixels,
        debug_folder=request.debug_folder,
    )


def _run_one(request: Request, today: date) -> Exit:
    if request.handover and not request.work_order:
        raise OptionError("--handover is the sheet for a finished bar: give what was ordered with --work-order FILE")
    if request.ask and not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise OptionError("--ask needs a terminal to ask on; without one give --answer POSITION=AWARD")
    if request.corners:
        parse_corners(request.corners)
    pages = [request.html, request.handover, request.csv]
    check_files(request, [request.json_file, *pages, *_pictures(request)], request.inputs)
    with quiet_libraries():
        from ribbonbar.audit import load_catalogue
        from ribbonbar.photo.opening import open_photo

        catalogue = load_catalogue(request.specs)
        options = options_of(request, catalogue.specification)
        begun = perf_counter()
        picture = open_photo(request.photos[0], options.max_megapixels)
        opened = perf_counter() - begun
        if options.corners:
            check_corners(options.corners, picture.width, picture.height)
        report = _audit(picture, opened, catalogue, options)
    if request.ask and report.bars:
        asked = _ask(report, catalogue.specification)
        options = replace(options, answers=options.answers | asked)
        with quiet_libraries():
            report = _audit(picture, opened, catalogue, options)
    with quiet_libraries():
        made = _files(request, report, picture, catalogue.specification, options, today)
        if request.debug_folder:
            _write_stages(request.debug_folder, picture, catalogue, options, request.force)
    for path, data in made:
        write_whole(path, data, request.force, request.inputs)
    if request.json == "-":
        say(f"{to_json(report)}\n")
    else:
        from ribbonbar.report.terminal import render

        screen = Screen.of(sys.stdout)
        say(render(report, catalogue.specification, screen.width, screen.colour))
    return _STATUS.get(report.outcome, Exit.UNCONFIRMED)


def _pictures(request: Request) -> list[Path | None]:
    """The pictures to be written; their names must end in what can be written. The folder of the stages is looked at
    here too."""
    for path, endings in ((request.annotate, (".png", ".jpg", ".jpeg")), (request.show_grid, (".png",))):
        if path and path.suffix.lower() not in endings:
            raise OptionError(f"{path}: this picture cannot be written so; end the name in {listed(endings[:2], 'or')}")
    if request.debug_folder:
        _check_folder(request.debug_folder, request.force)
    return [request.annotate, request.show_grid]


def _check_folder(folder: Path, force: bool) -> None:
    try:
        if folder.exists() and not folder.is_dir():
            raise OutputError(f"{folder}: this is a file; name a folder for the pictures of the stages")
        if folder.exists() and not force and any(folder.iterdir()):
            raise OutputError(f"{folder}: holds files already; choose a new folder or add --force")
    except (OSError, ValueError) as error:
        raise OutputError(f"{folder}: cannot be used ({_why(error)}); choose another folder") from None


def _write_stages(folder: Path, picture: "Picture", catalogue: "Catalogue", options: AuditOptions, force: bool) -> None:
    from ribbonbar.debugging import write_pictures

    try:
        write_pictures(folder, picture, catalogue, options, force)
    except (OSError, ValueError) as error:
        raise OutputError(f"{folder}: cannot be used ({_why(error)}); choose another folder") from None


def _why(error: Exception) -> str:
    return getattr(error, "strerror", None) or "its name is no folder name"


def _audit(picture: "Picture", opened: float, catalogue: "Catalogue", options: AuditOptions) -> Report:
    """``opened`` is how many seconds opening took."""
    from ribbonbar.audit import audit

    report = audit(picture, catalogue, options)
    if report.bars:
        check_positions(options.answers, [p.position for bar in report.bars for row in bar.rows for p in row])
    total = {"total": report.timing_ms["total"] + opened * 1000, "open": opened * 1000}
    return replace(report, timing_ms=report.timing_ms | total)


def _ask(report: Report, specification: Specification) -> dict[str, str]:
    from ribbonbar.asking import ask

    def tell(text: str) -> None:
        say(text, sys.stderr)  # standard output belongs to the report

    try:
        answers = ask(report, specification, Screen.of(sys.stderr), tell, sys.stdin.readline)
    except KeyboardInterrupt:
        tell("\n")
        raise
    if answers:
        again = " ".join(f"--answer {position}={award}" for position, award in answers.items())
        tell(f"\nTo answer the same without being asked: {again}\n\n")
    return answers


def _files(
    request: Request,
    report: Report,
    picture: "Picture",
    specification: Specification,
    options: AuditOptions,
    today: date,
) -> list[tuple[Path, bytes]]:
    """All files are made before the first is written, so that a fault in one leaves none."""
    made: list[tuple[Path, bytes]] = []
    if request.show_grid:
        from ribbonbar.grid import grid_png

        made.append((request.show_grid, grid_png(picture)))
    if request.annotate:
        from ribbonbar.report.picture import annotate

        sheet = annotate(report, picture.pixels, specification, picture.srgb)
        made.append((request.annotate, _encoded(sheet, request.annotate)))
    if request.html or request.handover:
        from ribbonbar.report import html
        from ribbonbar.report.crop import crops_of

        crops = crops_of(report, picture.pixels, picture.srgb)
        if request.html:
            made.append((request.html, html.page(report, crops, specification).encode()))
        if request.handover:
            sheet = html.handover(report, crops, specification, options.work_order, today)
            made.append((request.handover, sheet.encode()))
    if request.csv:
        from ribbonbar.report.as_csv import to_csv

        made.append((request.csv, to_csv([report], specification).encode("utf-8-sig")))
    if request.json_file:
        made.append((request.json_file, f"{to_json(report)}\n".encode()))
    return made


def _encoded(image: "Image", path: Path) -> bytes:
    """A picture file without metadata, PNG or JPEG by its name."""
    if path.suffix.lower() == ".png":
        from ribbonbar.report.picture import to_png

        return to_png(image)
    from ribbonbar.report.crop import jpeg

    return jpeg(image, 90)
