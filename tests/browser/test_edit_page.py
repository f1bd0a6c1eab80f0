"""The page for entering walls, as an estimator at a desk and a foreman with a phone use it: only typing and clicking."""

from __future__ import annotations

import http.client
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from chromium import PHONE, Browser
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

from layout.job import read_job, read_job_text

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
SIZES = pytest.mark.parametrize("size", [PHONE, (1400, 900)], ids=["phone", "desk"])

HOUSE = """\
job: {name: Ash Row 7}
units: in
sheet:
  width: 36
  rolls:
    - {length: 66'-8", price: 205}
rules: {side_lap: 3}
runs:
  - name: A
    closed: true
    faces:
      - {name: South, length: 40'-0", top: 8'-0", footing: 0, ledge: 6, footing_depth: 12}
      - name: East
        length: 28'
        top: 8'-0"
        footing: 0
        ledge: 6
        footing_depth: 12
        openings:
          - {tag: W1, kind: window, left: 10'-0", sill: 5'-2", width: 3'-0", height: 2'-0"}
        sleeves:
          - {tag: P1, at: 22'-3", elevation: 2'-6", diameter: 4}
      - {name: North, length: 16', top: 8'-0", footing: 0, ledge: 6, footing_depth: 12, corner: inside}
      - {name: Porch, length: 8'-6", top: 8'-0", footing: 0, ledge: 6, footing_depth: 12}
      - {name: North 2, length: 24', top: 8'-0", footing: 0, ledge: 6, footing_depth: 12}
      - {name: West, length: 36'-6", top: 8'-0", footing: 0, ledge: 6, footing_depth: 12}
"""


class Served:
    """lapwright edit, running on a file."""

    def __init__(self, job: Path, *more: str) -> None:
        self.job = job
        self.process = subprocess.Popen(
            [sys.executable, str(ROOT / "cli.py"), "edit", str(job), "--no-browser", *more], cwd=job.parent,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:(\d+)/([\w-]+)/", self.process.stdout.readline())
        assert found, self.process.communicate(timeout=10)
        self.address, self.port, self.token = found[0], int(found[1]), found[2]

    def end(self) -> None:
        self.process.send_signal(signal.SIGINT)
        out, err = self.process.communicate(timeout=20)
        assert (self.process.returncode, err) == (0, "")


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[..., Served]]:
    running: list[Served] = []

    def start(job: Path) -> Served:
        running.append(Served(job))
        return running[-1]

    yield start
    for served in running:
        if served.process.poll() is None:
            served.end()


class Hand:
    """Types and clicks, and waits for what a person would wait for; it puts nothing into the page."""

    def __init__(self, browser: Browser) -> None:
        self.driver = browser.driver

    def until(self, what: Callable[[], Any], words: str, seconds: float = 30) -> Any:
        end = time.monotonic() + seconds
        last: Exception | None = None
        while time.monotonic() < end:
            try:
                found = what()
                if found:
                    return found
            except Exception as error:  # a field may be gone while it is looked at
                last = error
            time.sleep(0.05)
        raise AssertionError(f"never: {words} ({last})")

    def see(self, selector: str) -> WebElement:
        return self.until(lambda: next(
            each for each in self.driver.find_elements(By.CSS_SELECTOR, selector) if each.is_displayed()), selector)

    def click(self, selector: str) -> None:
        def press() -> bool:
            self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", self.see(selector))
            self.see(selector).click()
            return True

        self.until(press, f"a click on {selector}")

    def type(self, path: str, words: str) -> None:
        self.click(f'[id="f:{path}"]')
        self.at(path)
        self.chord(Keys.CONTROL, "a")
        self.keys(words, Keys.TAB)

    def at(self, path: str) -> None:
        self.until(lambda: self.driver.switch_to.active_element.get_attribute("id") == f"f:{path}", f"cursor in {path}")

    def keys(self, *keys: str) -> None:
        """Press keys, wherever the cursor is."""
        ActionChains(self.driver).send_keys(*keys).perform()

    def chord(self, held: str, key: str) -> None:
        ActionChains(self.driver).key_down(held).send_keys(key).key_up(held).perform()

    def saved(self) -> None:
        self.until(lambda: self.driver.find_element(By.ID, "saved").text == "saved", "saved")

    def says(self, selector: str, words: str, seconds: float = 30) -> None:
        self.until(lambda: words in self.driver.find_element(By.CSS_SELECTOR, selector).text, f"{selector}: {words}", seconds)


def open_page(browser: Browser, served: Served, size: tuple[int, int]) -> Hand:
    browser.size(*size)
    browser.driver.get("about:blank")
    browser.driver.get_log("browser")
    browser.driver.get(served.address)
    hand = Hand(browser)
    hand.see("[role=tab]")
    return hand


def quiet(browser: Browser) -> None:
    assert browser.driver.get_log("browser") == []


def open_face(hand: Hand, face: int) -> None:
    if hand.driver.find_element(By.CSS_SELECTOR, f'[data-face="0/{face}"] .more').get_attribute("aria-expanded") == "false":
        hand.click(f'[data-face="0/{face}"] .more')


def enter_house(hand: Hand, *, phone: bool) -> None:
    """Enter the house of six faces into a page opened on nothing."""
    faces = "runs.0.faces"
    hand.at("job.name")
    hand.keys("Ash Row 7", Keys.TAB)
    hand.click("#tab-sheet")
    hand.click('[data-add="sheet.rolls"]')
    hand.at("sheet.rolls.0.length")
    hand.keys("66'-8\"", Keys.TAB, "205", Keys.TAB)
    hand.click("#tab-rules")
    hand.type("rules.side_lap", "3")
    hand.click("#tab-walls")
    hand.click(f'[data-add="{faces}"]')
    hand.at(f"{faces}.0.length")
    hand.keys("40'-0\"", Keys.TAB)
    if phone:
        open_face(hand, 0)
    for key, words in (("top", "8'-0\""), ("footing", "0"), ("ledge", "6"), ("footing_depth", "12")):
        hand.type(f"{faces}.0.{key}", words)
    if phone:
        open_face(hand, 0)
    hand.saved()
    hand.click(f'[id="f:{faces}.0.length"]')
    hand.keys(Keys.ENTER)
    for number, words in enumerate(("28'", "16'", "8'-6\"", "24'", "36'-6\""), start=1):
        hand.at(f"{faces}.{number}.length")
        hand.keys(words)
        if number == 2:
            hand.saved()
            hand.keys(Keys.TAB)
            hand.at(f"{faces}.2.corner")
            hand.keys("i")
            hand.saved()
            hand.click(f'[id="f:{faces}.2.length"]')
        if number < 5:
            hand.keys(Keys.ENTER)
    hand.keys(Keys.TAB)
    hand.type(f"{faces}.3.name", "Porch")
    hand.type(f"{faces}.4.name", "North 2")
    hand.type(f"{faces}.5.name", "West")
    open_face(hand, 1)
    hand.click(f'[data-add="{faces}.1.openings"]')
    hand.at(f"{faces}.1.openings.0.left")
    for key, words in (("left", "10'-0\""), ("sill", "5'-2\""), ("width", "3'-0\""), ("height", "2'-0\"")):
        hand.type(f"{faces}.1.openings.0.{key}", words)
    hand.click(f'[data-add="{faces}.1.sleeves"]')
    hand.at(f"{faces}.1.sleeves.0.at")
    for key, words in (("at", "22'-3\""), ("elevation", "2'-6\""), ("diameter", "4")):
        hand.type(f"{faces}.1.sleeves.0.{key}", words)
    hand.saved()


@SIZES
def test_a_house_entered_from_nothing_is_the_job_in_yaml(
    browser: Browser, serve: Callable[..., Served], tmp_path: Path, size: tuple[int, int],
) -> None:
    served = serve(tmp_path / "house.yaml")
    hand = open_page(browser, served, size)
    enter_house(hand, phone=size == PHONE)
    hand.says("#figures", "waste")
    assert read_job(served.job) == read_job_text(HOUSE, "house.yaml")
    hand.click("#make-plan")
    hand.says("#panel-packet", "The packet is written.", 120)
    packet = tmp_path / "house-packet"
    assert (packet / "plan.json").is_file()
    assert read_job(packet / "job.yaml") == read_job_text(HOUSE, "house.yaml")
    link = hand.see("#panel-packet a.main")
    assert link.get_attribute("href") == served.address + "packet/packet.html"
    assert sorted(os.listdir(tmp_path)) == ["house-packet", "house.yaml"]
    quiet(browser)
