"""``ribbonbar spec``: checking, drawing and measuring specification files."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from ribbonbar.errors import Exit

app = typer.Typer(help="Check, draw and study specification files.", rich_markup_mode=None)


Paths = Annotated[list[Path], typer.Argument(metavar="PATH...", help="Specification files, or folders of them.")]


@app.command()
def check(paths: Paths) -> int:
    """Print every fault of the files: where it is, what is wrong, how to mend it."""
    from ribbonbar.console import say
    from ribbonbar.spec.reader import check as find_faults

    faults = find_faults(paths)
    say("".join(f"{fault}\n" for fault in faults))
    say(f"{len(faults)} fault{'' if len(faults) == 1 else 's'}\n")
    return Exit.BROKEN if faults else Exit.SETTLED


@app.command()
def draw(
    what: Annotated[
        str, typer.Argument(metavar="PATH|AWARD", help="A specification file or folder, or an award's id.")
    ],
    output: Annotated[Path, typer.Option("-o", "--output", metavar="FILE", help="The picture to write (PNG).")],
    spec: Annotated[list[Path] | None, typer.Option(metavar="PATH", help="Where to look an award up.")] = None,
    order: Annotated[str, typer.Option(metavar="ID", help="Draw only this order of wear.")] = "",
    force: Annotated[bool, typer.Option("--force", help="Write over a picture that is already there.")] = False,
) -> int:
    """Draw a labelled chart of the ribbons as woven."""
    from ribbonbar.output import check_writable, write_whole
    from ribbonbar.spec.chart import draw_chart, png
    from ribbonbar.spec.reader import files_of, shipped_specs

    paths = spec or [shipped_specs()]
    inputs = files_of([Path(what), *paths])
    check_writable(output, force, inputs)
    write_whole(output, png(draw_chart(what, paths, order)), force, inputs)
    return Exit.SETTLED


@app.command()
def coverage(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[PATH...]", help="Default: the files that ship with the package."),
    ] = None,
) -> int:
    """How much of each order of wear is known, how certainly, and what is missing."""
    from ribbonbar.console import say
    from ribbonbar.spec.coverage import coverage as measure
    from ribbonbar.spec.reader import read_specification, shipped_specs

    for one in measure(read_specification(paths or [shipped_specs()])):
        say("".join(f"{line}\n" for line in one.lines()))
    return Exit.SETTLED


@app.command()
def lookalikes(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[PATH...]", help="Default: the files that ship with the package."),
    ] = None,
    order: Annotated[str, typer.Option(metavar="ID", help="Compare only the awards of this order of wear.")] = "",
    json: Annotated[str, typer.Option(metavar="FILE|-", help="Write the answer as JSON; - prints it.")] = "",
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is already there.")] = False,
) -> int:
    """Ribbons that several awards share, and pairs that a good photograph hardly tells apart, with what differs."""
    from ribbonbar.alike import alike, as_json, as_text
    from ribbonbar.console import say
    from ribbonbar.output import check_writable, write_whole
    from ribbonbar.spec.reader import files_of, shipped_specs

    paths = paths or [shipped_specs()]
    if json == "-":
        say(as_json(alike(paths, order)))
        return Exit.SETTLED
    inputs = files_of(paths)
    if json:
        check_writable(Path(json), force, inputs)
    found = alike(paths, order)
    if json:
        write_whole(Path(json), as_json(found).encode(), force, inputs)
    say(as_text(found))
    return Exit.SETTLED


@app.command("from-photo")
def from_photo(
    photo: Annotated[Path, typer.Argument(metavar="PHOTO", help="A photograph of a bar with the ribbon on it.")],
    corners: Annotated[
        str,
        typer.Option(
            metavar='"x,y x,y x,y x,y"', help="Where the bar is: its corners, clockwise from top left, in pixels."
        ),
    ] = "",
    position: Annotated[
        list[str] | None,
        typer.Option(metavar="ROW.PLACE", help="Which ribbon, as in 1.3; may be repeated. Default: the unknown ones."),
    ] = None,
    whole_bar: Annotated[bool, typer.Option("--all", help="Draft every ribbon of the bar.")] = False,
    spec: Annotated[
        list[Path] | None,
        typer.Option(metavar="PATH", help="Files with the ribbons beside it; may be repeated. Default: those shipped."),
    ] = None,
    height_mm: Annotated[float, typer.Option(metavar="MM", help="How tall the ribbons stand on the bar.")] = 10.0,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="FILE", help="Write a whole specification file.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is already there.")] = False,
) -> int:
    """Measure a ribbon that is in no specification and draft its award: stripes in mm, colours as L*a*b*.

    Exit status: 0 drafted, 3 some of the ribbons asked for cannot be, 2 unusable input.
    """
    from ribbonbar.console import say
    from ribbonbar.draft_text import as_award, as_file, summary
    from ribbonbar.drafting import draft_from_file
    from ribbonbar.output import check_writable, write_whole
    from ribbonbar.spec.reader import files_of, shipped_specs

    inputs = [photo, *files_of(spec or [shipped_specs()])]
    if output:
        check_writable(output, force, inputs)
    drafts = draft_from_file(photo, spec or (), corners, position or (), whole_bar, height_mm)
    if output:
        write_whole(output, as_file(drafts).encode(), force, inputs)
    else:
        say(as_award(drafts))
    for line in summary(drafts):
        say(f"{line}\n", sys.stdout if output else sys.stderr)
    return Exit.UNCONFIRMED if drafts.refused else Exit.SETTLED
