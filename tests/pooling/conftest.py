"""The shipped library, opened once."""

import pytest

from steelyard import open_library


@pytest.fixture(scope="session")
def shipped():
    return open_library()
