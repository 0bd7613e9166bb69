"""What holds for every test: cells of notebooks are compared in all but their pictures."""

from __future__ import annotations

import pytest
from nbval.plugin import IPyNbFile

PICTURE = "image/svg+xml"


class PicturesAside:
    """A picture's last digits may differ between machines; its title and sentence may not."""

    @pytest.hookimpl
    def pytest_collectstart(self, collector: pytest.Collector) -> None:
        if isinstance(collector, IPyNbFile):
            collector.skip_compare += (PICTURE,)


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(PicturesAside())
