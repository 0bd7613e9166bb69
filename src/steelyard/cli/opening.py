"""``steelyard open``."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import click

from steelyard.cli.options import library_option, open_and_tell, status_of

_QUIET = {"disabledExtensions": {"@jupyterlab/apputils-extension:announcements": True}}


@click.command("open")
@library_option
@click.option("--port", type=int, default=8888, show_default=True, help="Port to listen on.")
@click.option("--no-browser", is_flag=True, help="Print the address instead of opening it.")
def open_command(folder: str | None, port: int, no_browser: bool) -> int:
    """Start JupyterLab on the workbook, on this computer only, with a token.

    A library of your own keeps its notebooks in its folder workbook; those that are missing are
    made there, and none is overwritten but the list to start from. Faults in the library are
    told first; it opens all the same.
    """
    from steelyard.notebook.workbook import own_workbook, trust

    library = open_and_tell(folder)
    workbook = own_workbook(library)
    trust(workbook)
    command = [
        *(sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={workbook.resolve()}"),
        *("--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}", "--LabApp.news_url=None"),
        *("--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",),
        "--LabApp.default_url=/lab/tree/00-start-here.ipynb",
    ]
    if no_browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    click.echo(f"library {library.folder}; workbook {workbook}; stop with Ctrl-C", err=True)
    with TemporaryDirectory(prefix="steelyard-") as settings:
        environment = {
            **os.environ,
            "STEELYARD_LIBRARY": str(library.folder.resolve()),
            "JUPYTER_CONFIG_PATH": _without_announcements(Path(settings)),
        }
        # Told to stop by a signal, it takes JupyterLab along instead of leaving it behind.
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(128 + signal.SIGTERM))
        try:
            ended = subprocess.call(command, env=environment)
        except KeyboardInterrupt:
            ended = 0
    return ended or status_of(library)


def _without_announcements(settings: Path) -> str:
    """A search path for settings that starts with: no question about news, none fetched.

    JupyterLab asks even where it is told that there is no address to fetch news from.
    """
    (settings / "labconfig").mkdir()
    page = settings / "labconfig" / "page_config.json"
    page.write_text(json.dumps(_QUIET), encoding="utf-8")
    before = os.environ.get("JUPYTER_CONFIG_PATH")
    return os.pathsep.join(filter(None, (str(settings), before)))
