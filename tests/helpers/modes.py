"""The page's screens for one piece, and the marks that are touched there."""

from __future__ import annotations

import time

import pytest

from helpers.chromium import PHONE, Browser

LYING, WIDE = (844, 390), (1400, 900)
SIZES = {"upright": PHONE, "lying": LYING, "desk": WIDE}
ALL = pytest.mark.parametrize("size", SIZES.values(), ids=list(SIZES))
UPRIGHT_FIRST = pytest.mark.parametrize("size", [
    pytest.param(size, id=name, marks=() if name == "upright" else pytest.mark.slow) for name, size in SIZES.items()])
"""The default tests hold the phone upright, the slow ones every other way."""


def touch(browser: Browser, selector: str) -> None:
    """Touch the middle of what a selector names, which must soon be on the screen and on top."""
    until = time.monotonic() + 5
    while True:
        place = browser.run("""
            const one = document.querySelector(arguments[0]);
            if (!one) { return null; }
            const b = one.getBoundingClientRect(), x = b.x + b.width / 2, y = b.y + b.height / 2;
            const top = document.elementFromPoint(x, y);
            return top && (top === one || one.contains(top)) ? [x, y] : null;""", selector)
        if place is not None:
            break
        assert time.monotonic() < until, f"{selector} cannot be touched"
        time.sleep(0.05)
    for kind, points in (("touchStart", [{"x": place[0], "y": place[1]}]), ("touchEnd", [])):  # type: ignore[index]
        browser.driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def touch_until(browser: Browser, selector: str, script: str, *words: object) -> None:
    """Touch until a script is true; a browser busy with other work may lose a touch."""
    for _ in range(5):
        touch(browser, selector)
        until = time.monotonic() + 3
        while time.monotonic() < until:
            if browser.run(script, *words):
                return
    raise AssertionError(f"touching {selector} never made true: {script}")
