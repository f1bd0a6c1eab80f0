"""One headless Chromium for all browser tests, and the accessibility checker's script."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from helpers.chromium import CHROMIUM, DRIVER, Browser


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    if not CHROMIUM or not DRIVER:
        pytest.skip("chromium and chromedriver are not installed (Debian: chromium, chromium-driver)")
    one = Browser(tmp_path_factory.mktemp("downloads"))
    yield one
    one.driver.quit()


@pytest.fixture(scope="session")
def axe() -> str:
    """The accessibility checker's script; its place is in AXE_CORE."""
    place = os.environ.get("AXE_CORE", "")
    if not place or not Path(place).is_file():
        pytest.skip("axe-core is not installed (npm install axe-core, and AXE_CORE naming its axe.min.js)")
    return Path(place).read_text("utf-8")


@pytest.fixture
def forget(browser: Browser) -> Callable[[Path], None]:
    """Return what empties the browser's store of a page."""
    def empty(page: Path) -> None:
        browser.driver.get(page.as_uri())
        browser.run("localStorage.clear()")

    return empty
