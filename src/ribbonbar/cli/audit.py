"""``ribbonbar audit``."""

from pathlib import Path
from typing import Annotated

import typer

File = Path | None


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command()(audit)


def _option(metavar: str, help: str):
    return typer.Option(metavar=metavar, help=help)


def audit(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO...", help="Photographs, or folders of them.")],
    spec: Annotated[
        list[Path] | None,
        _option("PATH", "Specification file or folder; may be repeated. Default: those shipped."),
    ] = None,
    order: Annotated[str, _option("ID", "The order of wear; else the one that lists most of the ribbons.")] = "",
    record: Annotated[File, _option("FILE", "The wearer's record: its dates settle the sequence.")] = None,
    work_order: Annotated[File, _option("FILE", "What a finished bar was ordered to carry.")] = None,
    corners: Annotated[
        str, _option('"x,y x,y x,y x,y"', "Where the bar is: its corners, clockwise from top left, in pixels.")
    ] = "",
    json: Annotated[str, _option("FILE|-", "Write the report as JSON, a line a photo; - prints it.")] = "",
    html: Annotated[File, _option("FILE", "Write a page to read; of several photos, an overview.")] = None,
    annotate: Annotated[File, _option("FILE", "Write a picture: the bar as seen and as it should be.")] = None,
    handover: Annotated[File, _option("FILE", "Write the sheet that goes with a finished bar (--work-order).")] = None,
    csv: Annotated[File, _option("FILE", "Write a table for a spreadsheet, a line a ribbon.")] = None,
    answer: Annotated[
        list[str] | None,
        _option("POSITION=AWARD", "Say by hand what a position holds, as in 1.3=AWARD; may be repeated."),
    ] = None,
    answers: Annotated[File, _option("FILE", "Such answers from a file (TOML, table [answers]).")] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask about the ribbons that are in doubt.")] = False,
    show_grid: Annotated[File, _option("FILE", "Write the photo with coordinates to read corners from.")] = None,
    debug_folder: Annotated[File, _option("DIR", "Write pictures of every stage, to see what went wrong.")] = None,
    max_megapixels: Annotated[float, _option("N", "Refuse larger pictures.")] = 60.0,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with the file that --json names.")] = False,
    workers: Annotated[
        int | None, typer.Option(metavar="N", min=1, max=256, help="Processes for many photos. Default: all cores.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files that are already there.")] = False,
) -> int:
    """Read the ribbon bar on a photograph and check it against the order of wear.

    Exit status: 0 in order, 1 out of order, 3 not confirmed or no bar found, 2 unusable input; of several photos the
    worst, in the order 2, 1, 3, 0.
    """
    from datetime import date

    from ribbonbar.job import Request, run

    request = Request(
        photos=photos,
        specs=spec or (),
        order=order,
        record=record,
        work_order=work_order,
        corners=corners,
        json=json,
        html=html,
        annotate=annotate,
        handover=handover,
        csv=csv,
        answer=answer or (),
        answers=answers,
        ask=ask,
        show_grid=show_grid,
        debug_folder=debug_folder,
        max_megapixels=max_megapixels,
        resume=resume,
        workers=workers,
        force=force,
    )
    return run(request, date.today())
