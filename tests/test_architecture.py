"""The flow goes one way: a module imports only from its left."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "src" / "steelyard"
ORDER = [
    *("records", "reporting", "effects", "pooling", "judging", "charts", "explaining"),
    *("library", "notebook", "cli"),
]
ANYONE_MAY = {"errors", "show"}
FILES = sorted(PACKAGE.rglob("*.py"))


def home(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    """First-level modules of the package that a file imports, at any depth of its code."""
    found = set()
    package = ("steelyard", *path.relative_to(PACKAGE).parent.parts)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) - node.level + 1]) if node.level else ""
            whole = ".".join(filter(None, (base, node.module)))
            names = [whole, *(f"{whole}.{alias.name}" for alias in node.names)]
        for name in names:
            parts = name.split(".")
            if parts[0] == "steelyard" and len(parts) > 1 and parts[1] in {*ORDER, *ANYONE_MAY}:
                found.add(parts[1])
    return found


def test_there_is_something_to_check():
    assert len(FILES) > 40


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_imports_only_from_its_left(path):
    own = home(path)
    if own in ("__init__", "__main__"):
        return
    if own in ANYONE_MAY:
        allowed = ANYONE_MAY
    else:
        assert own in ORDER, f"{own} has no place in the flow"
        allowed = {*ORDER[: ORDER.index(own) + 1], *ANYONE_MAY}
    assert imported(path) <= allowed


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_file_is_overgrown(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def test_help_imports_nothing_heavy():
    code = (
        "import sys; from click.testing import CliRunner; from steelyard.cli.root import steelyard;"
        "assert CliRunner().invoke(steelyard, ['--help']).exit_code == 0;"
        "heavy = {'pandas', 'numpy', 'scipy', 'altair', 'pydantic'} & set(sys.modules);"
        "assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_opening_a_library_loads_no_optimiser():
    code = (
        "import sys; import steelyard.library;"
        "heavy = {'scipy.optimize', 'scipy.linalg', 'scipy.integrate'} & set(sys.modules);"
        "assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
