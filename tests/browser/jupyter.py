"""JupyterLab on a copy of the library, and a browser that may not leave this computer."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import psutil
from playwright.sync_api import Page, TimeoutError, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
WAIT_MS = 90_000
TRIES = 3
TOKEN = "only-for-this-test"
_QUIET = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
_READY = """() => {
  const context = window.jupyterapp?.shell?.currentWidget?.sessionContext;
  return context && context.isReady && context.session?.kernel?.status === 'idle';
}"""


def chromium() -> str:
    """The browser to use; empty where there is none."""
    return shutil.which("chromium") or shutil.which("chromium-browser") or ""


@dataclass
class Lab:
    """A running JupyterLab.

    Attributes
    ----------
    address : str
    library : Path
        A copy that tests may write to.
    log : Path
    pid : int
        Of the server.
    """

    address: str
    library: Path
    log: Path
    pid: int

    def notebook(self, name: str) -> str:
        return f"{self.address}/lab/tree/{name}?token={TOKEN}"

    def kernels(self) -> list[str]:
        """Ids of the kernels that run."""
        return [kernel["id"] for kernel in self._ask("GET", "/api/kernels")]

    def kill_kernels(self) -> None:
        """End every kernel as a crash does, with nothing saved."""
        killed = 0
        for child in psutil.Process(self.pid).children(recursive=True):
            if "ipykernel_launcher" in " ".join(child.cmdline()):
                child.kill()
                killed += 1
        assert killed, "no kernel was running"

    def _ask(self, method: str, path: str):
        request = urllib.request.Request(
            f"{self.address}{path}",
            method=method,
            headers={"Authorization": f"token {TOKEN}"},
        )
        with urllib.request.urlopen(request, timeout=30) as answer:
            text = answer.read()
        return json.loads(text) if text else None


@contextmanager
def running_lab(folder: Path) -> Iterator[Lab]:
    """JupyterLab as ``steelyard open`` starts it, on copies of library and workbook."""
    library, workbook = folder / "evidence", folder / "workbook"
    shutil.copytree(ROOT / "evidence", library, ignore=shutil.ignore_patterns(".*"))
    workbook.mkdir()
    shutil.copy(ROOT / "workbook" / "01-enter-a-study.ipynb", workbook)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    own = {
        name: str(folder / "jupyter" / name.lower())
        for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR")
    }
    command = [
        *(sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={workbook}"),
        *("--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}", "--ServerApp.port_retries=0"),
        *(f"--IdentityProvider.token={TOKEN}", "--no-browser", "--allow-root"),
        *("--LabApp.news_url=None", "--LabApp.expose_app_in_browser=True"),
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]
    log = folder / "lab.log"
    with open(log, "wb") as stream:
        process = subprocess.Popen(
            command,
            env={**os.environ, **own, "STEELYARD_LIBRARY": str(library)},
            stdout=stream,
            stderr=subprocess.STDOUT,
        )
    try:
        lab = Lab(f"http://127.0.0.1:{port}", library, log, process.pid)
        _wait_for(lab, process)
        yield lab
    finally:
        process.terminate()
        try:
            process.wait(30)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(30)


def _wait_for(lab: Lab, process: subprocess.Popen) -> None:
    give_up = time.monotonic() + WAIT_MS / 1000
    while True:
        try:
            lab.kernels()
            return
        except OSError:
            said = lab.log.read_text(encoding="utf-8", errors="replace")
            assert process.poll() is None and time.monotonic() < give_up, said
            time.sleep(0.2)


@dataclass
class Browser:
    """A page, and every request it made that was not for this computer."""

    page: Page
    strangers: list[str] = field(default_factory=list)

    def run_first_cell(self, address: str, *, shows: str = ".sy-entry") -> None:
        """Open a notebook and run its cell as a person does, with Shift and Enter.

        `shows` is a selector of what then is there to see.
        """
        page = self.page
        page.goto(address, wait_until="domcontentloaded")
        page.wait_for_selector(".jp-Notebook .jp-CodeCell", timeout=WAIT_MS)
        page.wait_for_function(_READY, timeout=WAIT_MS)
        for _ in range(TRIES):
            page.locator(".jp-CodeCell .cm-content").first.focus()
            page.keyboard.press("Shift+Enter")
            try:
                page.wait_for_selector(shows, timeout=WAIT_MS // TRIES)
                return
            except TimeoutError:  # JupyterLab, still loading, took the keyboard: press again
                continue
        raise AssertionError(f"the cell showed no {shows}; the page says: {self._seen()}")

    def _seen(self) -> str:
        """What the page shows, and which element has the keyboard."""
        return self.page.evaluate(
            """() => document.body.innerText.slice(0, 3000)
              + ' | keyboard: ' + (document.activeElement?.className ?? 'none')"""
        )


@contextmanager
def browsing() -> Iterator[Browser]:
    """Headless Chromium that is refused anything but this computer."""
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=chromium(), args=list(_QUIET))
        page = browser.new_page(viewport={"width": 1400, "height": 1000})
        page.set_default_timeout(WAIT_MS)
        seen = Browser(page)

        def allow_own(route) -> None:
            host = urlsplit(route.request.url).hostname
            if host in ("127.0.0.1", None):
                route.continue_()
            else:
                seen.strangers.append(route.request.url)
                route.abort()

        page.context.route("**/*", allow_own)
        try:
            yield seen
        finally:
            browser.close()
