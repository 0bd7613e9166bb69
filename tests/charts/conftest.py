"""Invented weighings and readings for the drawing tests, as fixtures."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from steelyard import open_library

_SOURCE = Path(__file__).with_name("invented_forests.py")
_SPEC = importlib.util.spec_from_file_location("invented_forests", _SOURCE)
_MODULE = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_MODULE)


@pytest.fixture
def invented_forest():
    return _MODULE.invented_forest


@pytest.fixture
def invented_reading():
    return _MODULE.invented_reading


@pytest.fixture(scope="session")
def shipped():
    return open_library()
