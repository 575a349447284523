"""``ribbonbar explain``."""

from pathlib import Path
from typing import Annotated

import typer

from ribbonbar.errors import Exit

Name = Annotated[str, typer.Argument(metavar="AWARD", help="An award's id, or its name or abbreviation.")]


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command()(explain)


def explain(
    first: Name,
    second: Name,
    spec: Annotated[
        list[Path] | None,
        typer.Option(metavar="PATH", help="A specification file or folder; may be repeated."),
    ] = None,
    order: Annotated[str, typer.Option(metavar="ID", help="The order of wear; else the one that lists both.")] = "",
    record: Annotated[Path | None, typer.Option(metavar="FILE", help="The wearer's record (dates).")] = None,
    json: Annotated[Path | None, typer.Option(metavar="FILE|-", help="Write the answer as JSON; - prints it.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is already there.")] = False,
) -> int:
    """Say which of two awards goes first and why, or on what it depends."""
    from ribbonbar.console import say
    from ribbonbar.output import write_whole
    from ribbonbar.precedence.explain import as_json, as_text, explain_named
    from ribbonbar.precedence.record import read_record
    from ribbonbar.spec.reader import files_of, read_specification, shipped_specs

    paths = spec or [shipped_specs()]
    specification = read_specification(paths)
    held = read_record(record, specification) if record else None
    answer = explain_named(first, second, specification, order, held)
    if json == Path("-"):
        say(as_json(answer))
        return Exit.SETTLED
    if json:
        inputs = [*files_of(paths), *([record] if record else [])]
        write_whole(json, as_json(answer).encode(), force, inputs)
    say(as_text(answer, specification))
    return Exit.SETTLED
