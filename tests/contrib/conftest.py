"""Environments with installed wheels, for the tests of plugins that a shop would write."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import installed

if TYPE_CHECKING:
    from installed import Installed


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "installed: builds wheels and installs them into an environment of their own")


@pytest.fixture(scope="session")
def without(tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """loadworthy alone."""
    return installed.bare(tmp_path_factory)


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """loadworthy and the plugins of contrib."""
    return installed.with_contrib(tmp_path_factory)
