"""How long a forest plot of sixty studies takes, from data to picture."""

from __future__ import annotations

import importlib.util
from pathlib import Path

from steelyard.charts import forest_svg

_SOURCE = Path(__file__).parents[1] / "charts" / "invented_forests.py"


def test_sixty_studies_to_svg(benchmark):
    specification = importlib.util.spec_from_file_location("invented_forests", _SOURCE)
    module = importlib.util.module_from_spec(specification)
    specification.loader.exec_module(module)
    data = module.invented_forest(60)
    svg = benchmark.pedantic(lambda: forest_svg(data), rounds=10, warmup_rounds=1)
    assert data.rows["label"].iloc[-1] in svg
