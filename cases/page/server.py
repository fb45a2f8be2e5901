"""The server: pages of each mode, access control."""

from collections.abc import Callable
from pathlib import Path

from nicegui import Client, app, core, ui
from starlette.middleware.gzip import GZipMiddleware

from cases.page.guard import MOST_BYTES, Guard
from cases.page.memory import PAUSE_S, Tidying, settle
from cases.page.parts.bench import bench_page
from cases.page.parts.frame import FAULT, html, open_places
from cases.page.parts.neck import neck_page
from cases.page.parts.trend import trend_page
from cases.page.room import Room
from cases.page.settings import LOOPBACK
from cases.page.work import Workroom

STYLE, SCRIPT = (Path(__file__).parent / name for name in ("style.css", "script.js"))


def serve(room: Room, answers: Workroom) -> None:
    """Serve the page until it is stopped; ``answers`` may be at work already."""
    settings = room.settings
    benches = Workroom(workers=1, workshop=settings.workshop)
    core.sio.eio.max_http_buffer_size = MOST_BYTES
    app.add_middleware(Guard, settings=settings)
    app.on_page_exception(lambda: html(FAULT))
    app.on_startup(settle)
    app.on_delete(Tidying(Client.instances).left)
    # the library (nicegui 3.18) keeps an empty store for each tab that ever came, for 30 days by default
    app.storage.max_tab_storage_age = PAUSE_S
    app.on_shutdown(answers.close)
    app.on_shutdown(benches.close)
    ui.add_head_html(f"<script>{SCRIPT.read_text(encoding='utf-8')}</script>", shared=True)
    ui.add_css(STYLE, shared=True)
    for path, build in rooms(room, answers, benches).items():
        ui.page(path, title="neckpreload")(build)
    ui.run(
        host=settings.host,
        port=settings.port,
        title="neckpreload",
        language="en-US",
        dark=None,
        show=False,
        reload=False,
        tailwind=False,
        show_welcome_message=False,
        message_history_length=60,
        favicon="🎸",
        access_log=False,
        # on this machine a compressed file takes longer than a plain one
        gzip_middleware_factory=None if settings.host in LOOPBACK else GZipMiddleware,
        ws_per_message_deflate=False,
    )


def rooms(room: Room, answers: Workroom, benches: Workroom) -> dict[str, Callable[[], None]]:
    """Pages of a mode by path; the other pages do not exist in that mode."""
    built = {
        "/neck": lambda: neck_page(room, answers),
        "/bench": lambda: bench_page(room, benches),
        "/trend": lambda: trend_page(room),
    }
    found = {path: built[path] for path in open_places(room)}
    return {"/": next(iter(found.values())), **found}
