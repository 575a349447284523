"""``ribbonbar spec``: checking, drawing and measuring specification files."""

import typer

app = typer.Typer(help="Check, draw and study specification files.", rich_markup_mode=None)
