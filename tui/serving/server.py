"""The web server: one page, the files it needs, and the websocket on which a tab and its process speak."""

import asyncio
import re
import signal
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import suppress
from importlib.resources import files
from importlib.resources.abc import Traversable

from aiohttp import web

from inventory.errors import BadInput
from tui.serving.guard import Guard
from tui.serving.sessions import LONGEST_MESSAGE, LOOK, SIZES, Program, Sessions

NAME = re.compile(r"[0-9a-f]{32}")  # of a tab's process; its page draws it at random
PAGES, TOOLKIT = files("tui.serving") / "pages", files("textual_serve") / "static"
STATIC: dict[str, tuple[Traversable, str]] = {
    "stock.css": (PAGES / "stock.css", "text/css"),
    "stock.js": (PAGES / "stock.js", "text/javascript"),
    "xterm.css": (TOOLKIT / "css" / "xterm.css", "text/css"),
    "textual.js": (TOOLKIT / "js" / "textual.js", "text/javascript"),
    "font.ttf": (TOOLKIT / "fonts" / "RobotoMono-VariableFont_wght.ttf", "font/ttf"),
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; font-src 'self'; img-src 'self' data:; "
    "connect-src 'self' ws://{host} wss://{host}; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


def application(program: Program, guard: Guard, *, keep: float | None = None) -> web.Application:
    """The server's application.

    Args:
        program: what is run for each tab.
        guard: who may look.
        keep: seconds that a process waits for its tab to come back; None is the usual.
    """
    sessions = Sessions(program) if keep is None else Sessions(program, keep)
    site = _Site(guard, sessions)
    app = web.Application(middlewares=[site.guarded], client_max_size=4096)
    app.add_routes(
        [
            web.get("/", site.page),
            web.post("/", site.enter),
            web.get("/ws/{name}", site.socket),
            web.get("/static/{name}", site.static),
        ]
    )
    app.cleanup_ctx.append(site.look_after)
    return app


class _Site:
    """What is answered to whom."""

    def __init__(self, guard: Guard, sessions: Sessions) -> None:
        self._guard, self._sessions = guard, sessions

    @web.middleware
    async def guarded(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Check by which name we are called; forbid the page all that it does not need."""
        try:
            self._guard.check_name(request)
            response = await handler(request)
        except web.HTTPException as stop:
            response = stop
        if not response.prepared:
            response.headers.update(_headers(request.host))
        if isinstance(response, web.HTTPException):
            raise response
        return response

    async def page(self, request: web.Request) -> web.Response:
        if request.query_string:  # the toolkit's script takes orders from there
            raise web.HTTPFound("/")
        return _html("stock.html" if self._guard.knows(request) else "token.html")

    async def enter(self, request: web.Request) -> web.Response:
        """Take the token from the form."""
        self._guard.check_origin(request)
        given = (await request.post()).get("token", "")
        response = web.HTTPSeeOther("/")
        encrypted = request.headers.get("X-Forwarded-Proto") == "https"
        if isinstance(given, str) and await self._guard.enter(given, response, encrypted=encrypted):
            return response
        return _html("wrong.html", status=403)

    async def socket(self, request: web.Request) -> web.WebSocketResponse:
        self._guard.check_origin(request)
        if not self._guard.knows(request):
            raise web.HTTPForbidden(text="Give the access token first.\n")
        name = request.match_info["name"]
        if not NAME.fullmatch(name):
            raise web.HTTPNotFound
        socket = web.WebSocketResponse(timeout=1.0, heartbeat=15, max_msg_size=LONGEST_MESSAGE)
        await socket.prepare(request)
        await self._sessions.attend(name, socket, _number(request, "width", 80), _number(request, "height", 24))
        return socket

    async def static(self, request: web.Request) -> web.Response:
        known = STATIC.get(request.match_info["name"])
        if known is None:
            raise web.HTTPNotFound
        file, kind = known
        return web.Response(body=await asyncio.to_thread(file.read_bytes), content_type=kind)

    async def look_after(self, _: web.Application) -> AsyncIterator[None]:
        """End processes that nobody comes back to, and all of them with the server."""
        looking = asyncio.create_task(self._look())
        yield
        looking.cancel()
        with suppress(asyncio.CancelledError):
            await looking
        await self._sessions.end()

    async def _look(self) -> None:
        while True:
            await asyncio.sleep(LOOK)
            await self._sessions.clear()


def _headers(host: str) -> dict[str, str]:
    """What a browser is told about every answer; without a referrer it would not say where a form comes from."""
    return {
        "Content-Security-Policy": POLICY.format(host=host if re.fullmatch(r"[\w.:\[\]-]+", host) else "invalid"),
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        "Referrer-Policy": "same-origin",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Cache-Control": "no-store",
        "Server": "impression-stock",
    }


def _html(name: str, status: int = 200) -> web.Response:
    return web.Response(text=(PAGES / name).read_text("utf-8"), content_type="text/html", status=status)


def _number(request: web.Request, name: str, usual: int) -> int:
    text = request.query.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 5 and int(text) in SIZES else usual


def serve(app: web.Application, host: str, port: int, ready: Callable[[int], object]) -> None:
    """Serve until the person stops it.

    Args:
        app: the application.
        host: the address to listen to.
        port: the port; 0 takes any that is free.
        ready: called with the port once it listens.

    Raises:
        BadInput: the address or port can't be had.
    """
    with suppress(KeyboardInterrupt):
        asyncio.run(_serve(app, host, port, ready))


async def _serve(app: web.Application, host: str, port: int, ready: Callable[[int], object]) -> None:
    runner = web.AppRunner(app, access_log=None, shutdown_timeout=2)
    await runner.setup()
    try:
        site = web.TCPSite(runner, host, port)
        try:
            await site.start()
        except OSError as error:
            raise BadInput(f"serve: {host} port {port} can't be had: {error.strerror}.", "Name another port.") from None
        ready(runner.addresses[0][1])
        await _stopped()
    finally:
        await runner.cleanup()


async def _stopped() -> None:
    """Wait for the person or the system to stop the server."""
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        with suppress(NotImplementedError):  # Windows: an interrupt ends the loop instead
            loop.add_signal_handler(number, stop.set)
    await stop.wait()
