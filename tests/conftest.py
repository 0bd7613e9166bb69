"""What holds for every test: drawn cases are the same each run, and notebooks are compared.

A drawn case that fails should fail for whoever changes the code, not for whoever comes next, so
the same cases are drawn each time. To look for new ones, run
`pytest -n 0 --hypothesis-profile=searching` as often as you like, and write what it finds into a
test of its own.
"""

from __future__ import annotations

import pytest
from hypothesis import settings
from nbval.plugin import IPyNbFile

settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("searching", derandomize=False, deadline=None)
settings.load_profile("same")

PICTURE = "image/svg+xml"


class PicturesAside:
    """A picture's last digits may differ between machines; its title and sentence may not."""

    @pytest.hookimpl
    def pytest_collectstart(self, collector: pytest.Collector) -> None:
        if isinstance(collector, IPyNbFile):
            collector.skip_compare += (PICTURE,)


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(PicturesAside())
