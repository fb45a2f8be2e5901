"""A person at the bench's page with a keyboard or a scanner: never a mouse, and every key counted."""

from collections.abc import Callable
from dataclasses import dataclass

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.page.running import RunningPage
from tests.page.visitor import Visitor

FOCUSED = "(document.activeElement.getAttribute('aria-label') || document.activeElement.innerText || '')"


@dataclass
class Hands:
    """Types into whatever has the focus; ``keys`` counts all keys but those of a value."""

    visitor: Visitor
    keys: int = 0

    def arrive(self, page: RunningPage, *, path: str = "/bench") -> None:
        """Open the bench in a tab that keeps nothing."""
        self.visitor.open(page.url + "/trend")
        self.visitor.run("sessionStorage.clear()")
        self.visitor.open(page.url + path)
        self.visitor.shows("Ready.")
        self.at("Serial")

    def at(self, label: str) -> None:
        """Wait until the focus is on the field or button that begins with a label."""
        self.visitor.until(f"return {FOCUSED}.startsWith({label!r})", what=f"the focus on {label!r}")

    def key(self, key: str) -> None:
        """Press one key that is no part of a value."""
        self.keys += 1
        ActionChains(self.visitor.driver).send_keys(key).perform()

    def value(self, label: str, text: str) -> None:
        """Type a value into the field that must have the focus already, and press Enter."""
        self.at(label)
        ActionChains(self.visitor.driver).send_keys(text).perform()
        self.key(Keys.ENTER)

    def press(self, label: str) -> None:
        """Press Enter on the button that must have the focus already."""
        self.at(label)
        self.key(Keys.ENTER)

    def pair(self, serial: str, reading: str) -> None:
        """From the scan to the pair with its chance."""
        self.value("Serial", serial)
        self.value("Reading", reading)
        self.at("Log ")
        self.visitor.shows("of 10 cases")

    def check_dry(self, kink: Callable[[], str]) -> None:
        """The reading of the bolted joint, known once the pair is in the log."""
        self.at("Kink")
        self.value("Kink", kink())

    def measure(self, values: Callable[[], dict[str, str]]) -> None:
        """All measurements at pitch, in the order of the fields."""
        self.at("Action bass")
        for label, text in values().items():
            self.value(label, text)
