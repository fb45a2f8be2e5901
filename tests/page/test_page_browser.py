"""The page in a real browser, as a person uses it; figures are the command's to the last digit shown."""

import json
from pathlib import Path

import pytest

from cases import load, preload
from cases.casefile.case import Case

pytestmark = pytest.mark.browser
pytest.importorskip("axe_core_python")

from selenium.webdriver.common.keys import Keys  # noqa: E402

from tests.page.running import RunningPage, running_page, workshop_of  # noqa: E402
from tests.page.visitor import CHROMIUM, DRIVER, Visitor, serious, visitor  # noqa: E402

if CHROMIUM is None or DRIVER is None:
    pytest.skip("no chromium or no chromedriver on this machine", allow_module_level=True)

SIZES = ((768, 1024), (1366, 768))


def said(case: Case) -> str:
    """The angle of a case in large type, from the command's own answer."""
    return f"{preload(case, effects=False).offset_deg:+z.2f}°"


def workshop(folder: Path) -> list[str]:
    """The options that serve a workshop with one released case."""
    return ["--workshop", str(workshop_of(folder)), "--log", str(folder / "log.sqlite")]


@pytest.fixture(scope="module")
def open_page(tmp_path_factory: pytest.TempPathFactory):
    folder = tmp_path_factory.mktemp("open")
    with running_page(folder, *workshop(folder)) as page:
        yield page


@pytest.fixture(scope="module")
def window():
    with visitor() as one:
        yield one


@pytest.fixture
def guest(window: Visitor, open_page: RunningPage):
    """A visitor on a fresh tab of the open page, with the first answer there."""
    fresh(window, open_page)
    yield window
    assert window.complaints() == []


def fresh(one: Visitor, page: RunningPage, path: str = "/neck") -> None:
    one.open(page.url + "/trend")  # keeps nothing, unlike the others, which might keep their input again
    one.run("sessionStorage.clear()")
    one.open(page.url + path)
    if path == "/neck":
        one.full_answer()


def expect_full(one: Visitor, figure: str) -> None:
    one.until(
        f"return document.querySelector('#offset')?.textContent === {json.dumps(figure)} "
        "&& document.querySelector('.status').textContent.includes('Full answer')",
        what=f"the full answer {figure}",
    )


def test_it_opens_with_the_default_instruments_answer_and_nothing_from_elsewhere(
    guest: Visitor, open_page: RunningPage
):
    assert guest.text("#offset") == said(load("fourteen-mahogany"))
    loaded = guest.run("return performance.getEntriesByType('resource').map(one => one.name)")
    assert len(loaded) > 5
    assert [url for url in loaded if not url.startswith((open_page.url, "data:", "blob:"))] == []
    assert guest.labelled("Instrument").get_attribute("value") == "fourteen-mahogany"


def test_another_set_of_strings_gives_the_commands_figure_and_stays_through_a_reload(guest: Visitor):
    before = guest.text("#offset")
    after = said(load("fourteen-mahogany").with_values({"strings.set": "acoustic-medium"}))
    assert after != before
    guest.choose("Strings", "acoustic-medium")
    expect_full(guest, after)
    guest.driver.refresh()
    expect_full(guest, after)


def test_a_changed_heel_shows_about_first_and_then_the_commands_figure(guest: Visitor):
    guest.run(
        "window.seen = []; new MutationObserver(() => {"
        "const now = document.querySelector('.figure.about b')?.textContent; if (now) window.seen.push(now)})"
        ".observe(document.body, {subtree: true, childList: true, characterData: true})"
    )
    guest.press("Heel")
    guest.type("height [mm]", "84.5")
    full = said(load("fourteen-mahogany").with_values({"heel.height_mm": 84.5}))
    expect_full(guest, full)
    about = guest.run("return window.seen.at(-1) ?? ''")
    if about:  # a full answer may overtake its preview
        assert float(about.rstrip("°")) == pytest.approx(float(full.rstrip("°")), abs=0.011)


def test_sliders_bend_the_neck_by_the_keyboard_alone_and_back_is_the_answer(guest: Visitor):
    at_pitch = guest.run("return document.querySelector('svg.neck .neck').getAttribute('d')")
    kink = guest.text(".readout dd")
    guest.slide("Strings, slack to pitch", Keys.HOME)
    guest.shows("strings off", at=".readout")
    assert guest.run("return document.querySelector('svg.neck .string')") is None
    assert guest.run("return document.querySelector('svg.neck .neck').getAttribute('d')") != at_pitch
    guest.press("Back to the answer")
    guest.until(
        f"return document.querySelector('.readout dd').textContent === {json.dumps(kink)}", what="the answer"
    )
    assert guest.run("return document.querySelector('svg.neck .neck').getAttribute('d')") == at_pitch
    at = "document.querySelector('[aria-label=\"Lower shim\"]').value"
    guest.until(f"return Math.abs(parseFloat({at}) + 0.115) < 0.02", what="the slider at the answer")
    guest.slide("Lower shim", Keys.ARROW_LEFT, times=8)
    guest.until(
        f"return document.querySelector('.readout dd').textContent !== {json.dumps(kink)}",
        what="another kink",
    )
    assert float(guest.text(".readout dd").rstrip("°")) < -0.02


def test_two_instruments_stand_side_by_side(guest: Visitor):
    first = guest.text("#offset").rstrip("°")
    guest.press("Compare two")
    guest.press("Hold this one as B")
    guest.until("return document.querySelector('table.compare')", what="the table")
    guest.choose("Strings", "acoustic-medium")
    second = said(load("fourteen-mahogany").with_values({"strings.set": "acoustic-medium"})).rstrip("°")
    expect_full(guest, second + "°")
    row = guest.until(
        f"const row = document.querySelector('table.compare tbody tr').innerText;"
        f"return row.includes({json.dumps(second)}) && row", what="both offsets",
    )  # fmt: skip
    assert row.split("\t")[1:3] == [second, first]


def test_what_is_wrong_is_said_and_stays_through_a_reload(guest: Visitor):
    guest.press("Heel")
    guest.type("height [mm]", "high up")
    guest.shows("heel.height_mm", at=".problems")
    guest.shows("10 to 150 mm", at=".q-field--error")
    guest.driver.refresh()
    guest.shows("high up", at=".problems")
    guest.press("Heel")
    guest.until(
        "return [...document.querySelectorAll('input')].some(one => one.value === 'high up')",
        what="what was typed",
    )
    assert guest.complaints() == []
    guest.press("Undo all changes")
    expect_full(guest, said(load("fourteen-mahogany")))


def test_a_file_is_dropped_and_a_broken_one_says_the_commands_sentence(guest: Visitor, tmp_path: Path):
    case = load("twelve-cedar-parlour")
    good, bad = tmp_path / "good.toml", tmp_path / "bad.toml"
    good.write_text(case.to_toml())
    bad.write_text(case.to_toml().replace("scale_mm = ", "scale_mn = "))
    guest.drop(bad)
    guest.shows("scale_mn", at=".problems")
    with pytest.raises(Exception, match="scale_mn") as caught:
        load(bad)
    for sentence in caught.value.problems:
        assert sentence in guest.text(".problems")
    guest.drop(good)
    expect_full(guest, said(case))
    assert guest.text(".problems") == ""


def test_two_browsers_do_not_disturb_each_other(guest: Visitor, open_page: RunningPage):
    mine = said(load("fourteen-mahogany").with_values({"strings.set": "acoustic-medium"}))
    guest.choose("Strings", "acoustic-medium")
    with visitor() as other:
        other.open(open_page.url + "/neck")
        assert other.full_answer() == said(load("fourteen-mahogany"))
        other.slide("Strings, slack to pitch", Keys.HOME)
        other.shows("strings off", at=".readout")
        expect_full(guest, mine)
        assert "strings off" not in guest.text(".readout")
        assert other.text("#offset") == said(load("fourteen-mahogany"))


@pytest.mark.parametrize("path", ["/neck", "/bench", "/trend"])
@pytest.mark.parametrize("look", ["light", "dark"])
def test_no_serious_finding_of_accessibility(window: Visitor, open_page: RunningPage, path: str, look: str):
    """axe-core from its packaged file: rules of WCAG 2 A and AA, contrast among them."""
    fresh(window, open_page, path)
    window.choose("Light or dark", look)
    if path == "/neck":
        window.press("Heel")
        window.labelled("height [mm]")
    window.until(f"return document.body.classList.contains('body--{look}')", what=look)
    assert serious(window) == []


@pytest.mark.parametrize("path", ["/neck", "/bench", "/trend"])
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_everything_fits_and_is_large_enough_to_touch(
    window: Visitor, open_page: RunningPage, path: str, width: int, height: int
):
    window.size(width, height)
    fresh(window, open_page, path)
    assert window.run("return document.documentElement.scrollWidth") <= width
    small = window.run(
        "const all = document.querySelectorAll("
        "'button, a, [role=tab], input.range, label.q-field, summary');"
        "return [...all].filter(e => e.offsetParent).map(e => [e, e.getBoundingClientRect()])"
        ".filter(([, r]) => r.width && (r.height < 43.5 || r.width < 43.5))"
        ".map(([e, r]) => `${e.innerText || e.ariaLabel || e.className} ${r.width}x${r.height}`)"
    )
    assert small == []
    window.size(*SIZES[1])
