"""The guard asked directly: by its own interface, and at running pages of each mode."""

import asyncio
import re
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import httpx
import pytest
import socketio

from cases.page.guard import COOKIE, MOST_BYTES, Guard
from cases.page.settings import PageSettings
from cases.page.start import ALLOCATOR, TRIM
from materials.errors import InputError
from tests.command import Command
from tests.page.running import RunningPage, running_page

OWN = "http://127.0.0.1:8571"
TOKEN = "a long enough token"


async def _open_door(scope, receive, send) -> None:
    """What lies behind the guard here: it says how many bytes came through."""
    taken, more = 0, True
    while more:
        message = await receive()
        taken += len(message.get("body", b""))
        more = bool(message.get("more_body"))
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(taken).encode()})


def _asked(settings: PageSettings, *requests: tuple[str, str, dict]) -> list[httpx.Response]:
    """Answers of one guard to requests by the same visitor, who keeps cookies."""

    async def ask() -> list[httpx.Response]:
        transport = httpx.ASGITransport(app=Guard(_open_door, settings))
        async with httpx.AsyncClient(transport=transport, base_url=OWN) as client:
            return [await client.request(method, path, **more) for method, path, more in requests]

    return asyncio.run(ask())


def _socket(settings: PageSettings, *headers: tuple[bytes, bytes]) -> str:
    """The last message to a socket that connects with these headers."""
    sent: list[dict] = []

    async def receive() -> dict:
        return {"type": "websocket.connect"}

    async def send(message: dict) -> None:
        sent.append(message)

    async def accepting(scope, receive, send) -> None:
        await send({"type": "websocket.accept"})

    scope = {"type": "websocket", "path": "/_nicegui_ws/socket.io/", "headers": list(headers)}
    asyncio.run(Guard(accepting, settings)(scope, receive, send))
    assert len(sent) == 1
    return sent[0]["type"]


def test_a_visitor_who_asks_by_the_pages_own_name_comes_in():
    (found,) = _asked(PageSettings(), ("GET", "/", {}))
    assert (found.status_code, found.text) == (200, "0")
    assert "default-src 'self'" in found.headers["content-security-policy"]
    assert found.headers["x-frame-options"] == "DENY"


def test_another_host_name_is_refused():
    for host in ("evil.example", "127.0.0.1.evil.example", "evil.example:8571", "", "[::1"):
        (found,) = _asked(PageSettings(), ("GET", "/", {"headers": {"host": host}}))
        assert found.status_code == 421, host


def test_another_site_may_neither_post_nor_read():
    others = ("https://evil.example", "null", "http://127.0.0.1:9999", "http://localhost.evil.example")
    without, own = _asked(PageSettings(), ("POST", "/x", {}), ("POST", "/x", {"headers": {"origin": OWN}}))
    assert (without.status_code, own.status_code) == (403, 200)
    for origin, method in product(others, ("POST", "PUT", "DELETE", "GET")):
        (found,) = _asked(PageSettings(), (method, "/x", {"headers": {"origin": origin}}))
        assert found.status_code == 403, (origin, method)


def test_a_body_is_limited_told_or_not():
    async def told_nothing():
        for _ in range(8):
            yield b"x" * (MOST_BYTES // 7)

    headers = {"origin": OWN}
    told, untold, small = _asked(
        PageSettings(),
        ("POST", "/x", {"headers": headers, "content": b"x" * (MOST_BYTES + 1)}),
        ("POST", "/x", {"headers": headers, "content": told_nothing()}),
        ("POST", "/x", {"headers": headers, "content": b"x" * MOST_BYTES}),
    )
    assert (told.status_code, untold.status_code, small.status_code) == (413, 413, 200)
    assert small.text == str(MOST_BYTES)


def test_a_token_is_shown_once_and_never_stands_in_the_cookie():
    post = {"headers": {"origin": OWN, "content-type": "application/x-www-form-urlencoded"}}
    closed, wrong, guessed, entered, opened = _asked(
        PageSettings(token=TOKEN),
        ("GET", "/", {}),
        ("POST", "/enter", {"content": "token=another", **post}),
        ("GET", "/", {"headers": {"cookie": f"{COOKIE}=guessed"}}),
        ("POST", "/enter", {"content": "token=a+long+enough+token", **post}),
        ("GET", "/", {}),
    )
    assert [closed.status_code, wrong.status_code, guessed.status_code] == [401, 401, 401]
    assert "Token of this page" in closed.text
    assert entered.status_code == 303
    cookie = entered.headers["set-cookie"]
    assert {"HttpOnly", "SameSite=strict"} <= set(cookie.split("; "))
    assert "token" not in cookie.split(";")[0].split("=")[1].lower()
    assert opened.status_code == 200


def test_a_socket_needs_the_token_the_host_and_the_origin_of_the_page():
    host, origin = (b"host", b"127.0.0.1:8571"), (b"origin", OWN.encode())
    closed, accepted = "websocket.close", "websocket.accept"
    assert _socket(PageSettings(token=TOKEN), host, origin) == closed
    assert _socket(PageSettings(), host) == closed
    assert _socket(PageSettings(), host, (b"origin", b"https://evil.example")) == closed
    foreign = (b"host", b"evil.example"), (b"origin", b"http://evil.example")
    assert _socket(PageSettings(), *foreign) == closed
    assert _socket(PageSettings(), host, origin) == accepted


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"host": "192.0.2.7"}, "give --token as well"),
        ({"host": "192.0.2.7", "token": "short"}, "at least 12 characters"),
        ({"host": "0.0.0.0", "token": TOKEN}, "every network of this machine at once"),
        ({"host": "::", "token": TOKEN}, "every network of this machine at once"),
        ({"host": ""}, "every network of this machine at once"),
        ({"port": 70000}, "1 to 65535"),
    ],
)
def test_settings_that_open_too_much_are_refused(given: dict, said: str):
    with pytest.raises(InputError, match=said):
        PageSettings(**given)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--host", "192.0.2.7"), "give --token as well"),
        (("--bench", "--class"), "exclude one another"),
        (("--class", "--log", "x.sqlite"), "keeps no logbook"),
    ],
)
def test_the_command_refuses_what_opens_too_much_with_code_2(
    options: tuple[str, ...], said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.delenv("NECKPRELOAD_TOKEN", raising=False)
    monkeypatch.setattr("cases.page.start.begin", lambda: None)
    run = Command(monkeypatch, capsys)("page", *options)
    assert (run.code, said in run.err) == (2, True)


def _status(page: RunningPage, path: str, **more) -> int:
    return httpx.get(page.url + path, timeout=60, **more).status_code


def test_the_bench_edits_nothing_and_shows_released_cases_only(tmp_path: Path):
    with running_page(tmp_path, "--bench") as page:
        for path in ("/neck", "/neck/", "//neck", "/neck/x"):
            assert _status(page, path) in (403, 404), path
        for path in ("/", "/bench"):
            shown = httpx.get(page.url + path, timeout=60)
            assert shown.status_code == 200
            assert "No case is released" in shown.text
            assert not re.search("Save as TOML|fourteen-mahogany", shown.text)


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningPage]:
    """A page for a class."""
    with running_page(tmp_path_factory.mktemp("class"), "--class") as page:
        yield page


def test_a_class_has_no_bench_no_trend_and_leaves_nothing(school: RunningPage):
    assert _status(school, "/") == 200
    for path in ("/bench", "/trend", "/bench/", "//trend"):
        assert _status(school, path) in (403, 404), path
    left = {path.name for path in school.output.parent.rglob("*") if path.is_file()}
    assert left == {"page.txt"}
    _refuses_foreign_hosts_origins_and_sockets(school)


@pytest.mark.skipif(TRIM is None, reason="the C library cannot give memory back")
def test_the_server_runs_on_the_allocator_that_gives_memory_back(school: RunningPage):
    variables = Path(f"/proc/{school.process.pid}/environ").read_bytes().split(b"\0")
    assert f"{ALLOCATOR}=malloc".encode() in variables


def test_files_go_out_plain_on_this_machine(school: RunningPage):
    assert "content-encoding" not in httpx.get(school.url, timeout=60).headers


def _refuses_foreign_hosts_origins_and_sockets(page: RunningPage) -> None:
    files = {"file": ("../../x.toml", b"name = 1")}
    guessed = f"{page.url}/_nicegui/client/guessed/upload/1"
    found = httpx.post(guessed, files=files, headers={"origin": page.url}, timeout=60)
    assert found.status_code in (404, 405)
    assert _status(page, "/", headers={"host": "evil.example"}) == 421
    assert _status(page, "/", headers={"origin": "https://evil.example"}) == 403
    foreign = socketio.SimpleClient()
    with pytest.raises(socketio.exceptions.ConnectionError):
        foreign.connect(
            page.url,
            headers={"Origin": "https://evil.example"},
            socketio_path="/_nicegui_ws/socket.io",
            transports=["websocket"],
        )
