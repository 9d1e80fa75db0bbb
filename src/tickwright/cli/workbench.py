"""`tickwright workbench`: a local page to design, watch and decide."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Annotated

import typer

from tickwright.errors import UsageError


def command(
    target: Annotated[
        Path, typer.Argument(metavar="[PLAN|FOLDER]", help="What to open; the folder you are in if not given.")
    ] = Path(),
    port: Annotated[
        int | None, typer.Option("--port", metavar="N", help="The port; the first free one from 8137 if not given.")
    ] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Open no browser: only say the address.")] = False,
) -> None:
    """Open the workbench: a page, for this machine alone, to lay a circuit, press it, watch it and judge it."""
    if port is not None and not 1 <= port <= 65535:
        raise UsageError(f"There is no port {port}: use 1024 to 65535.")
    if not target.exists() and not (target.suffix == ".toml" and target.parent.is_dir()):
        raise UsageError(f'There is no file or folder "{target}": give a plan (a new one ends in .toml) or a folder.')
    import_module("tickwright.workbench").serve(target, port, not no_browser)  # a leaf is started, not built upon
