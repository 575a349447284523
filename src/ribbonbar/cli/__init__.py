"""The command line. Each command's module is thin and imports what it needs when it runs, so that help is instant."""

import os
import sys
from contextlib import suppress

import typer

from ribbonbar import __version__
from ribbonbar.cli import audit, explain, plan, spec
from ribbonbar.console import say
from ribbonbar.errors import Exit, OutputError, RibbonbarError

UsageError = (
    typer.BadParameter.__base__
)  # the class behind every "no such option"; the library moved its home between versions

app = typer.Typer(
    name="ribbonbar",
    help="Reads a photographed ribbon bar and checks it against the published order of wear.",
    epilog="A photograph proves no entitlement; the issuing authority's current order decides.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"ribbonbar {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: bool = typer.Option(False, "--version", callback=_print_version, is_eager=True, help="Print the version."),
) -> None:
    pass


audit.register(app)
plan.register(app)
explain.register(app)
app.add_typer(spec.app, name="spec")


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; returns the exit status. Bad input becomes one line on standard error."""
    try:
        status = app(args=arguments, standalone_mode=False)
    except RibbonbarError as error:
        return _fail(str(error), error.exit_status)
    except UsageError as error:
        return _fail(f"{error.format_message()} (see ribbonbar --help)", Exit.UNUSABLE)
    except (KeyboardInterrupt, typer.Abort):
        return _fail("stopped", Exit.INTERRUPTED)
    if status == Exit.INTERRUPTED:  # newer versions of the library below swallow Ctrl-C without a word
        return _fail("stopped", Exit.INTERRUPTED)
    return int(status or 0)


def _fail(line: str, status: int) -> int:
    with suppress(OutputError):  # nowhere is left to say it; the exit status still does
        say(f"ribbonbar: {' '.join(line.split())}\n", sys.stderr)
    return int(status)


def run() -> None:
    """Entry point of the console command."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):  # the products are small: threads would wait on each other
        os.environ.setdefault(name, "1")
    sys.exit(main())
