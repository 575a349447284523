"""``ribbonbar spec``: checking, drawing and measuring specification files."""

import typer

app = typer.Typer(help="Check, draw and study specification files.", no_args_is_help=True, rich_markup_mode=None)
