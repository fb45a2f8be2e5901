"""Pictures of the page for the docs, and a film strip of a guitar: python -m tests.page.film."""

import tempfile
from pathlib import Path

from PIL import Image

from tests.page.bench_hands import Hands
from tests.page.running import running_page, workshop_of
from tests.page.visitor import Visitor, visitor

FIGURES = Path(__file__).resolve().parents[2] / "docs" / "figures"
WIDTH, HEIGHT = 390, 844
"""A phone held upright [px]."""
WIDE = (1000, 900)
"""A small screen [px]."""
GAP, EDGE = 12, "#888888"
COLOURS = 96
AT_PITCH = {"Action bass": "2.42", "Action treble": "1.62", "Tongue gap": "0.01", "Relief": "0.2"}


def frame(
    window: Visitor, folder: Path, what: str, *, size: tuple[int, int] = (WIDTH, HEIGHT)
) -> Image.Image:
    """A picture of the window with an element in its middle."""
    window.run(
        f"document.querySelector({what!r}).scrollIntoView({{block: 'center'}});"
        "document.activeElement.blur(); window.painted = false;"
        "requestAnimationFrame(() => requestAnimationFrame(() => { window.painted = true }))"
    )
    window.until("return window.painted", what="the painted page")
    path = folder / "frame.png"
    window.driver.save_screenshot(str(path))
    with Image.open(path) as taken:
        return taken.convert("RGB").crop((0, 0, *size))


def story(hands: Hands, folder: Path) -> list[Image.Image]:
    """One guitar from scan to done, a shim changed dry."""
    window, frames = hands.visitor, []

    def take(step: str) -> None:
        focused = window.run("return document.activeElement.id")
        frames.append(frame(window, folder, f"[data-step={step}] > div:last-child"))
        window.run(f"document.getElementById({focused!r})?.focus()")

    take("scan")
    hands.value("Serial", "00042")
    hands.at("Reading")
    take("read")
    hands.value("Reading", "1.8")
    hands.at("Log ")
    window.shows("of 10 cases")
    take("pair")
    hands.press("Log ")
    hands.at("Kink")
    take("dry")
    hands.value("Kink", "-0.04")
    hands.at("Log the change")
    take("dry")
    hands.press("Log the change")
    hands.at("Kink")
    hands.value("Kink", "-0.08")
    hands.at("Action bass")
    take("string")
    for label, text in AT_PITCH.items():
        hands.value(label, text)
    window.until("return document.querySelector('[data-step=done] .verdict')", what="the verdict")
    take("done")
    return frames


def strip(frames: list[Image.Image]) -> Image.Image:
    """All frames in one row."""
    whole = Image.new("RGB", (len(frames) * (WIDTH + GAP) - GAP, HEIGHT), EDGE)
    for number, one in enumerate(frames):
        whole.paste(one, (number * (WIDTH + GAP), 0))
    return whole


def main() -> None:
    """Write all three pictures."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        options = ("--workshop", str(workshop_of(folder)), "--log", str(folder / "log.sqlite"))
        with running_page(folder, *options) as page, visitor(width=WIDE[0], height=WIDE[1]) as window:
            window.open(page.url + "/neck")
            window.full_answer()
            neck = frame(window, folder, "#offset", size=WIDE)
        with running_page(folder, "--bench", *options) as page:
            with visitor(width=WIDTH, height=HEIGHT) as window:
                hands = Hands(window)
                hands.arrive(page)
                film = strip(story(hands, folder))
            with visitor(width=768, height=1024) as window:
                hands = Hands(window)
                hands.arrive(page)
                hands.pair("00043", "1.8")
                bench = frame(window, folder, "#pair", size=(768, 1024))
    for name, picture in (("page-neck", neck), ("page-bench-film", film), ("page-bench", bench)):
        picture.quantize(COLOURS).save(FIGURES / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
