"""Headless Chromium, and what a page must never do."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
from selenium.webdriver.chrome.service import Service  # noqa: E402  (after the skip)

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
PHONE, DESK = (390, 844), (1280, 800)


class Browser:
    """One page in one headless Chromium."""

    def __init__(self, downloads: Path) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = CHROMIUM or ""
        for flag in ("--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(DRIVER))
        self.driver.set_page_load_timeout(60)
        self.downloads = downloads
        self.driver.execute_cdp_cmd("Browser.setDownloadBehavior",
                                    {"behavior": "allow", "downloadPath": str(downloads)})

    def size(self, width: int, height: int, *, dark: bool = False, media: str = "screen") -> None:
        """Show the page as on a screen of a size."""
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600})
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {
            "media": media, "features": [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]})

    def open(self, page: Path, place: str = "") -> None:
        """Open a page at a place, from its file, and forget what was logged before."""
        self.driver.get("about:blank")
        self.driver.get_log("browser")
        self.driver.get_log("performance")
        self.driver.get(page.as_uri() + place)

    def run(self, script: str, *parts: object) -> object:
        """Run a script in the page and return what it returns."""
        return self.driver.execute_script(script, *parts)

    def visible(self, selector: str) -> list[str]:
        """Return the text of what is shown of a selector."""
        found = self.run(
            "return Array.from(document.querySelectorAll(arguments[0])).filter(e => e.checkVisibility())"
            ".map(e => e.textContent.trim())", selector)
        assert isinstance(found, list)
        return [str(text) for text in found]

    def assert_quiet(self, page: Path) -> None:
        """Check that nothing was complained about, and that no request left the file."""
        assert [entry for entry in self.driver.get_log("browser")] == []
        asked = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                asked.append(message["params"]["request"]["url"])
        own = page.as_uri()
        assert [url for url in asked if url.split("#")[0] not in (own, "about:blank")
                and not url.startswith("blob:")] == []

    def download(self, name: str) -> str:
        """Wait for a download and return its text."""
        path = self.downloads / name
        for _ in range(100):
            if path.exists() and path.stat().st_size:
                text = path.read_text("utf-8")
                path.unlink()
                return text
            self.driver.execute_async_script("setTimeout(arguments[0], 50)")
        raise AssertionError(f"no download named {name}: {os.listdir(self.downloads)}")
