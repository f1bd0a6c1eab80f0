"""The packet's page in a browser: what is clicked and what is waited for."""

from __future__ import annotations

from helpers.chromium import Browser
from layout import drawing
from layout.records import Plan


def svgs(plan: Plan) -> dict[str, str]:
    """Return the plan's drawings as text."""
    return {name: str(content) for name, content in drawing.files(plan).items() if name.endswith(".svg")}


def click(browser: Browser, selector: str) -> None:
    """Click what a selector names."""
    browser.run("document.querySelector(arguments[0]).scrollIntoView({block: 'center'})", selector)
    browser.driver.find_element("css selector", selector).click()


def wait(browser: Browser, script: str) -> None:
    """Wait until a script is true."""
    for _ in range(500):
        if browser.run(script):
            return
        browser.driver.execute_async_script("setTimeout(arguments[0], 20)")
    raise AssertionError(f"never true: {script}")


def shows(browser: Browser, selector: str, words: list[str]) -> None:
    """Wait until what is shown of a selector is just some words."""
    for _ in range(500):
        if browser.visible(selector) == words:
            return
        browser.driver.execute_async_script("setTimeout(arguments[0], 20)")
    assert browser.visible(selector) == words
