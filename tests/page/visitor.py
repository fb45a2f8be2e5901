"""A visitor with a real browser: what a person sees, types, drags."""

import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
PATIENCE_S = 40.0
"""How long to wait for what a busy machine brings late; what is measured is measured apart."""
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
)  # fmt: skip


class Visitor:
    """One browser window."""

    def __init__(self, driver: webdriver.Chrome) -> None:
        self.driver = driver

    def size(self, width: int, height: int) -> None:
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
        )

    def open(self, url: str) -> None:
        self.driver.get(url)

    def run(self, script: str, *given: Any) -> Any:
        return self.driver.execute_script(script, *given)

    def _wait(self, find: Callable[[], Any], what: str) -> Any:
        """The first true value that a search returns."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            if found := find():
                return found
            time.sleep(0.02)
        raise AssertionError(f"{what} did not come; the page shows: {self.text('body')[:1500]}")

    def until(self, script: str, *, what: str) -> Any:
        """Wait until a script returns something true."""
        return self._wait(lambda: self.run(script), what)

    def shows(self, text: str, *, at: str = "body") -> None:
        """Wait until an element contains a text."""
        self._wait(lambda: text in self.text(at), repr(text))

    def text(self, selector: str) -> str:
        return str(self.run("return document.querySelector(arguments[0])?.innerText ?? ''", selector))

    def full_answer(self) -> str:
        """The figure in large type once the page says that it is the full one."""
        self.until(
            "return document.querySelector('.status')?.textContent.includes('Full answer') "
            "&& document.querySelector('#offset')?.textContent",
            what="the full answer",
        )
        return self.text("#offset")

    def labelled(self, label: str):
        """The control with a label, as assistive technology finds it."""
        script = """
        const label = arguments[0];
        const all = [...document.querySelectorAll('[aria-label]')]
          .filter(e => e.getAttribute('aria-label') === label);
        return all.find(e => e.matches('input, textarea')) || all[0];"""
        return self._wait(lambda: self.run(script, label), f"a control labelled {label!r}")

    def press(self, words: str) -> None:
        """Press the button, tab or heading with these words."""
        script = """
        const kinds = 'button, [role=tab], [role=option], .q-expansion-item .q-item, a';
        const all = document.querySelectorAll(kinds);
        const first = e => e.innerText.trim().split('\\n')[0];
        return [...all].find(e => first(e) === arguments[0] && e.offsetParent !== null);"""
        found = self._wait(lambda: self.run(script, words), f"something to press that says {words!r}")
        self.run("arguments[0].scrollIntoView({block: 'center'})", found)
        found.click()

    def unfold(self, words: str) -> None:
        """Press a folded heading and wait until all below it is there."""
        self.press(words)
        self.until(
            "const item = [...document.querySelectorAll('.q-expansion-item')]"
            f".find(one => one.innerText.trim().startsWith({words!r}));"
            "const inside = item?.querySelector('.q-expansion-item__content');"
            "return inside?.offsetHeight && !inside.style.height",
            what=f"what is below {words!r}",
        )

    def choose(self, label: str, value: str) -> None:
        """Choose from a list by its label."""
        control = self.labelled(label)
        self.run(
            "arguments[0].scrollIntoView({block: 'center'}); arguments[0].closest('label').click()", control
        )
        self.press(value)
        self.until("return !document.querySelector('.q-menu')", what="the end of the list")

    def type(self, label: str, text: str, *, enter: bool = False) -> None:
        control = self.labelled(label)
        self.run("arguments[0].scrollIntoView({block: 'center'})", control)
        control.send_keys(Keys.CONTROL, "a")
        control.send_keys(Keys.DELETE)
        control.send_keys(text)
        if enter:
            control.send_keys(Keys.ENTER)

    def slide(self, label: str, key: str, *, times: int = 1) -> None:
        """Move a slider by its keys."""
        control = self.labelled(label)
        for _ in range(times):
            control.send_keys(key)

    def drop(self, path: Path) -> None:
        """Give a file to the upload."""
        self.driver.find_element(By.CSS_SELECTOR, "input[type=file]").send_keys(str(path))

    def complaints(self) -> list[str]:
        """What the browser's console holds against the page."""
        return [one["message"] for one in self.driver.get_log("browser") if one["level"] == "SEVERE"]


def serious(one: Visitor) -> list[tuple[str, list[str]]]:
    """Serious findings of axe-core on what is shown: rules of WCAG 2 A and AA, contrast among them."""
    import axe_core_python

    script = Path(axe_core_python.__file__).parent / "axe.min.js"
    one.run(script.read_text(encoding="utf-8"))
    one.driver.set_script_timeout(120)
    found = one.driver.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run(document, {runOnly: {type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa']}})"
        ".then(done, error => done({error: String(error)}))"
    )
    assert len(found.get("passes", ())) > 10, found.get("error")
    return [
        (rule["id"], [node["html"][:160] for node in rule["nodes"][:4]])
        for rule in found["violations"]
        if rule["impact"] in ("serious", "critical")
    ]


@contextmanager
def visitor(*, width: int = 1366, height: int = 768) -> Iterator[Visitor]:
    """A browser with an empty profile, closed at the end."""
    with tempfile.TemporaryDirectory() as profile:
        options = webdriver.ChromeOptions()
        options.binary_location = str(CHROMIUM)
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        driver = webdriver.Chrome(options=options, service=Service(DRIVER))
        try:
            made = Visitor(driver)
            made.size(width, height)
            yield made
        finally:
            driver.quit()
