"""The report of speed is made only when it is asked for: ``pytest tests/speed -m speed``."""

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the report out of a plain run."""
    if not config.option.markexpr:
        left_out = [item for item in items if item.get_closest_marker("speed")]
        items[:] = [item for item in items if item not in left_out]
        config.hook.pytest_deselected(items=left_out)
