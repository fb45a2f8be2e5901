"""The guard asked directly: by its own interface, and at running pages of each mode."""

import asyncio
from pathlib import Path

import httpx
import pytest
import socketio

from cases.casefile.workshop import Workshop
from cases.page.guard import COOKIE, MOST_BYTES, Guard
from cases.page.settings import PageSettings, page_settings
from materials.errors import InputError
from tests.command import Command
from tests.page.running import RunningPage, running_page

OWN = "http://127.0.0.1:8571"


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
    async def ask() -> list[httpx.Response]:
        transport = httpx.ASGITransport(app=Guard(_open_door, settings))
        async with httpx.AsyncClient(transport=transport, base_url=OWN) as client:
            return [await client.request(method, path, **more) for method, path, more in requests]

    return asyncio.run(ask())


def test_a_visitor_who_asks_by_the_pages_own_name_comes_in():
    (found,) = _asked(PageSettings(), ("GET", "/", {}))
    assert (found.status_code, found.text) == (200, "0")
    assert "default-src 'self'" in found.headers["content-security-policy"]
    assert found.headers["x-frame-options"] == "DENY"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "evil.example:8571", "", "[::1"])
def test_another_host_name_is_refused(host: str):
    (found,) = _asked(PageSettings(), ("GET", "/", {"headers": {"host": host}}))
    assert found.status_code == 421


@pytest.mark.parametrize(
    "origin", ["https://evil.example", "null", "http://127.0.0.1:9999", "http://localhost.evil.example"]
)
def test_another_site_may_neither_post_nor_read(origin: str):
    for method in ("POST", "PUT", "DELETE", "GET"):
        (found,) = _asked(PageSettings(), (method, "/x", {"headers": {"origin": origin}}))
        assert found.status_code == 403, method


def test_posting_needs_the_pages_own_origin():
    without, own = _asked(PageSettings(), ("POST", "/x", {}), ("POST", "/x", {"headers": {"origin": OWN}}))
    assert (without.status_code, own.status_code) == (403, 200)


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
    settings = PageSettings(token="a long enough token")
    post = {"headers": {"origin": OWN, "content-type": "application/x-www-form-urlencoded"}}

    async def ask() -> list[httpx.Response]:
        transport = httpx.ASGITransport(app=Guard(_open_door, settings))
        async with httpx.AsyncClient(transport=transport, base_url=OWN) as client:
            return [
                await client.get("/"),
                await client.post("/enter", content="token=another", **post),
                await client.get("/", headers={"cookie": f"{COOKIE}=guessed"}),
                await client.post("/enter", content="token=a+long+enough+token", **post),
                await client.get("/"),
            ]

    closed, wrong, guessed, entered, opened = asyncio.run(ask())
    assert [closed.status_code, wrong.status_code, guessed.status_code] == [401, 401, 401]
    assert "Token of this page" in closed.text
    assert entered.status_code == 303
    cookie = entered.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "token" not in cookie.split(";")[0].split("=")[1].lower()
    assert opened.status_code == 200


def test_a_socket_without_the_token_is_closed():
    sent: list[dict] = []

    async def ask() -> None:
        async def receive() -> dict:
            return {"type": "websocket.connect"}

        async def send(message: dict) -> None:
            sent.append(message)

        headers = [(b"host", b"127.0.0.1:8571"), (b"origin", OWN.encode())]
        scope = {"type": "websocket", "path": "/_nicegui_ws/socket.io/", "headers": headers}
        await Guard(_open_door, PageSettings(token="a long enough token"))(scope, receive, send)

    asyncio.run(ask())
    assert [one["type"] for one in sent] == ["websocket.close"]


def test_a_socket_from_another_site_is_closed():
    sent: list[dict] = []

    async def ask(headers: list[tuple[bytes, bytes]]) -> str:
        async def receive() -> dict:
            return {"type": "websocket.connect"}

        async def send(message: dict) -> None:
            sent.append(message)

        async def accepting(scope, receive, send) -> None:
            await send({"type": "websocket.accept"})

        scope = {"type": "websocket", "path": "/_nicegui_ws/socket.io/", "headers": headers}
        await Guard(accepting, PageSettings())(scope, receive, send)
        return sent[-1]["type"]

    host = (b"host", b"127.0.0.1:8571")
    assert asyncio.run(ask([host])) == "websocket.close"
    assert asyncio.run(ask([host, (b"origin", b"https://evil.example")])) == "websocket.close"
    assert (
        asyncio.run(ask([(b"host", b"evil.example"), (b"origin", b"http://evil.example")]))
        == "websocket.close"
    )
    assert asyncio.run(ask([host, (b"origin", OWN.encode())])) == "websocket.accept"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"host": "192.0.2.7"}, "give --token as well"),
        ({"host": "192.0.2.7", "token": "short"}, "at least 12 characters"),
        ({"host": "0.0.0.0", "token": "a long enough token"}, "every network of this machine at once"),
        ({"host": "::", "token": "a long enough token"}, "every network of this machine at once"),
        ({"bench": True, "school": True}, "exclude one another"),
        ({"school": True, "log": "x.sqlite"}, "keeps no logbook"),
        ({"port": 70000}, "1 to 65535"),
    ],
)
def test_settings_that_open_too_much_are_refused(given: dict, said: str):
    plain = {"host": "127.0.0.1", "port": 8571, "token": None, "log": None, "bench": False, "school": False}
    with pytest.raises(InputError, match=said):
        page_settings(**{**plain, **given}, workshop=Workshop())


def test_the_command_refuses_a_bare_host_with_code_2(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.delenv("NECKPRELOAD_TOKEN", raising=False)
    run = Command(monkeypatch, capsys)("page", "--host", "192.0.2.7")
    assert run.code == 2
    assert "give --token as well" in run.err


@pytest.fixture(scope="module")
def bench_page(tmp_path_factory: pytest.TempPathFactory):
    with running_page(tmp_path_factory.mktemp("bench"), "--bench") as page:
        yield page


@pytest.fixture(scope="module")
def class_page(tmp_path_factory: pytest.TempPathFactory):
    folder = tmp_path_factory.mktemp("class")
    with running_page(folder, "--class") as page:
        yield page, folder


def _status(page: RunningPage, path: str, **more) -> int:
    return httpx.get(page.url + path, timeout=60, **more).status_code


def test_the_bench_has_no_room_where_a_case_is_edited(bench_page: RunningPage):
    assert _status(bench_page, "/") == 200
    for path in ("/neck", "/neck/", "//neck", "/neck/x"):
        assert _status(bench_page, path) in (403, 404), path
    assert "Save as TOML" not in httpx.get(bench_page.url + "/", timeout=60).text


def test_the_bench_shows_no_case_that_was_not_released(bench_page: RunningPage):
    shown = httpx.get(bench_page.url + "/bench", timeout=60).text
    assert "No case is released" in shown
    assert "fourteen-mahogany" not in shown


def test_a_class_has_no_bench_no_trend_and_leaves_nothing(class_page: tuple[RunningPage, Path]):
    page, folder = class_page
    assert _status(page, "/") == 200
    for path in ("/bench", "/trend", "/bench/", "//trend"):
        assert _status(page, path) in (403, 404), path
    left = {path.name for path in folder.rglob("*") if path.is_file()}
    assert left == {"page.txt"}


def test_an_upload_to_an_address_that_was_guessed_finds_nothing(class_page: tuple[RunningPage, Path]):
    page, _ = class_page
    files = {"file": ("../../x.toml", b"name = 1")}
    found = httpx.post(
        f"{page.url}/_nicegui/client/guessed/upload/1", files=files, headers={"origin": page.url}, timeout=60
    )
    assert found.status_code in (404, 405)


def test_a_running_page_refuses_foreign_hosts_origins_and_sockets(class_page: tuple[RunningPage, Path]):
    page, _ = class_page
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
