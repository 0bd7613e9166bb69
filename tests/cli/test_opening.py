"""``steelyard open`` starts JupyterLab on this computer, and takes it along when it ends."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path

import psutil

ROOT = Path(__file__).resolve().parents[2]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def test_ending_the_command_ends_jupyterlab(tmp_path):
    library, port = tmp_path / "evidence", free_port()
    shutil.copytree(ROOT / "evidence", library, ignore=shutil.ignore_patterns(".*"))
    kept = {"HOME": str(tmp_path), "JUPYTER_DATA_DIR": str(tmp_path / "data")}
    command = [
        *(sys.executable, "-m", "steelyard", "open", "--no-browser"),
        *("--library", str(library), "--port", str(port)),
    ]
    process = subprocess.Popen(
        command,
        env={**os.environ, **kept},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        give_up = time.monotonic() + 90
        while not listens(port):
            assert process.poll() is None and time.monotonic() < give_up
            time.sleep(0.2)
        assert (library / "workbook" / "00-start-here.ipynb").exists()
        started = psutil.Process(process.pid).children(recursive=True)
        assert started
        process.terminate()
        process.wait(30)
        psutil.wait_procs(started, timeout=30)
        assert not any(child.is_running() for child in started)
        assert not listens(port)
    finally:
        process.kill()
