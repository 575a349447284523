"""``ribbonbar plan``."""

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command(name="plan")(plan)


def plan(
    records: Annotated[list[Path], typer.Argument(metavar="RECORD...", help="Records or work orders (.toml).")],
    spec: Annotated[
        list[Path] | None,
        typer.Option(metavar="PATH", help="Specification file or folder; may be repeated. Default: those shipped."),
    ] = None,
    order: Annotated[str, typer.Option(metavar="ID", help="The order of wear to plan by.")] = "",
    json: Annotated[str, typer.Option(metavar="FILE|-", help="Write the plan as JSON; - is standard output.")] = "",
    svg: Annotated[Path | None, typer.Option(metavar="FILE", help="Draw the bar to scale as SVG.")] = None,
    png: Annotated[Path | None, typer.Option(metavar="FILE", help="Draw the bar to scale as PNG, 300 dpi.")] = None,
    pdf: Annotated[Path | None, typer.Option(metavar="FILE", help="Draw it for printing at 100 %, as PDF.")] = None,
    cutting: Annotated[Path | None, typer.Option(metavar="FILE", help="Write the cutting list as CSV.")] = None,
    turn_under: Annotated[
        float,
        typer.Option(metavar="MM", help="Ribbon turned under at top and at bottom, each (common practice, no source)."),
    ] = 10.0,
    per_row: Annotated[int | None, typer.Option(metavar="N", help="Ribbons in a full row, if not the order's.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files that are already there.")] = False,
) -> int:
    """Plan a bar: the right sequence and why, what is still open, a drawing to scale, a cutting list.

    Exit status: 0 settled, 3 something is open, 1 a rule is broken by what is held, 2 unusable input.
    """
    from ribbonbar.console import say
    from ribbonbar.plan.job import Wanted, plan_bars, write_plans

    wanted = Wanted(json, svg, png, pdf, cutting, turn_under, force)
    job = plan_bars(records, spec or (), order, per_row, wanted)
    say(f"{write_plans(job, wanted)}\n")
    return job.exit_status
