"""``steelyard open``."""

from __future__ import annotations

import os
import subprocess
import sys

import click

from steelyard.cli.options import library_option


@click.command("open")
@library_option
@click.option("--port", type=int, default=8888, show_default=True, help="Port to listen on.")
@click.option("--no-browser", is_flag=True, help="Print the address instead of opening it.")
def open_command(folder: str | None, port: int, no_browser: bool) -> int:
    """Start JupyterLab on the workbook, on this computer only, with a token."""
    from steelyard.library import open_library, shipped_workbook

    library = open_library(folder)
    workbook = shipped_workbook()
    command = [
        *(sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={workbook}"),
        *("--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}", "--LabApp.news_url=None"),
        *("--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",),
        "--LabApp.default_url=/lab/tree/00-start-here.ipynb",
    ]
    if no_browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    environment = {**os.environ, "STEELYARD_LIBRARY": str(library.folder.resolve())}
    click.echo(f"library {library.folder}; workbook {workbook}; stop with Ctrl-C", err=True)
    return subprocess.call(command, env=environment)
