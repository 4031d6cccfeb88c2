"""One process of the application for each browser tab, kept for a while when the tab is gone.

A page that is loaded again, or a connection that breaks, finds its process where it was: what was typed is still there.
The tab names its process by a number that it drew itself and tells nobody else. Where the same number comes twice (a
tab was doubled), the newest connection has the screen.
"""

import asyncio
import json
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

from aiohttp import WSMsgType, web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

KEEP = 600.0  # seconds that a process waits for its tab
LOOK = 15.0  # seconds between looks at who has been gone too long
MOST = 20  # processes at a time
PATIENCE = 10.0  # seconds for a process to end by itself
LONGEST_MESSAGE = 1 << 20
SIZES = range(10, 1000)  # columns and lines that a terminal may have
FULL, TAKEN_OVER = 4001, 4002

# what the toolkit switches on in a terminal when it starts, for a page that comes later
AGAIN = b"\x1b[?1049h\x1b[?1000h\x1b[?1003h\x1b[?1015h\x1b[?1006h\x1b[?25l\x1b[?2004h"


@dataclass(frozen=True, slots=True)
class Program:
    """What is run for each tab: a command line for the shell, and what its environment has besides ours.

    Nothing secret stands on the command line, which everybody on a machine can read.
    """

    command: str
    environment: Mapping[str, str]
    without: Sequence[str] = ()


class Process(AppService):
    """The toolkit's keeper of one process, with our environment; says when the process is gone, whatever ended it."""

    def __init__(self, program: Program, session: "Session") -> None:
        super().__init__(
            program.command,
            write_bytes=session.show,
            write_str=session.say,
            close=session.hang_up,
            download_manager=DownloadManager(),
        )
        self._program = program

    def _build_environment(self, width: int = 80, height: int = 24) -> dict[str, str]:
        environment = super()._build_environment(width, height) | dict(self._program.environment)
        return {name: value for name, value in environment.items() if name not in self._program.without}

    async def run(self) -> None:
        """Pass on what the process shows, until it ends."""
        try:
            await super().run()
        finally:
            await self.remote_close()
            if self._process is not None:
                await self._process.wait()

    async def end(self) -> None:
        """Ask the process to end; where it does not, end it."""
        with suppress(TimeoutError, ConnectionError):
            await asyncio.wait_for(self.stop(), PATIENCE)
        if self._process is not None and self._process.returncode is None:
            self._process.kill()
            await self._process.wait()


class Session:
    """A process and the tab that looks at it, if there is one."""

    def __init__(self, program: Program) -> None:
        self.process = Process(program, self)
        self.left_at = 0.0
        self.over = False
        self._socket: web.WebSocketResponse | None = None
        self._started = False

    async def attend(self, socket: web.WebSocketResponse, width: int, height: int) -> None:
        """Let a tab look and type until it goes or the process ends."""
        before, self._socket = self._socket, socket
        if before is not None:
            await before.close(code=TAKEN_OVER, message=b"opened in another tab")
        if self._started:
            await self._paint_again(width, height)
        else:
            self._started = True
            await self.process.start(width, height)
        try:
            await self._listen(socket)
        finally:
            if self._socket is socket:
                self._socket, self.left_at = None, time.monotonic()

    async def _paint_again(self, width: int, height: int) -> None:
        """Make the process draw everything: it does so when its terminal gets another size."""
        await self.show(AGAIN)
        await self.process.set_terminal_size(width, height - 1)
        await self.process.set_terminal_size(width, height)

    async def _listen(self, socket: web.WebSocketResponse) -> None:
        async for message in socket:
            if message.type is not WSMsgType.TEXT:
                continue
            kind, given = _read(message.data)
            match kind:
                case "stdin" if isinstance(given, str):
                    await self.process.send_bytes(given.encode("utf-8", "replace"))
                case "resize" if isinstance(given, dict) and (size := _size(given)) is not None:
                    await self.process.set_terminal_size(*size)
                case "ping":
                    await self.say(json.dumps(["pong", given]))
                case "focus":
                    await self.process.focus()
                case "blur":
                    await self.process.blur()

    async def show(self, data: bytes) -> None:
        """Send what the process draws; lost where nobody looks, and drawn again for who comes later."""
        if self._socket is not None:
            with suppress(ConnectionError, RuntimeError):
                await self._socket.send_bytes(data)

    async def say(self, text: str) -> None:
        if self._socket is not None:
            with suppress(ConnectionError, RuntimeError):
                await self._socket.send_str(text)

    async def hang_up(self) -> None:
        """The process has ended, or is about to: nobody comes back to it."""
        self.over = True
        if self._socket is not None:
            await self._socket.close()

    def gone_for(self, now: float) -> float:
        """Seconds since the tab went; 0 while it looks."""
        return 0.0 if self._socket is not None else now - self.left_at


class Sessions:
    """All processes, by the number of their tab."""

    def __init__(self, program: Program, keep: float = KEEP) -> None:
        self._program, self._keep = program, keep
        self._all: dict[str, Session] = {}

    async def attend(self, name: str, socket: web.WebSocketResponse, width: int, height: int) -> None:
        """Let a tab go on with its process, or begin one; where there are too many it is told so."""
        await self.clear()
        session = self._all.get(name)
        if session is None:
            if len(self._all) >= MOST:
                await socket.close(code=FULL, message=b"too many are open")
                return
            session = self._all[name] = Session(self._program)
        await session.attend(socket, width, height)

    async def clear(self) -> None:
        """Forget the processes that ended, and end those whose tab is gone too long."""
        now = time.monotonic()
        for name, session in list(self._all.items()):
            if session.over:
                del self._all[name]
            elif session.gone_for(now) > self._keep and session.left_at:
                del self._all[name]
                await session.process.end()

    async def end(self) -> None:
        """End all."""
        sessions = list(self._all.values())
        self._all.clear()
        await asyncio.gather(*(session.process.end() for session in sessions))


def _read(text: str) -> tuple[str, object]:
    """What kind of message it is, and what it holds; an empty kind where it can't be read."""
    try:
        kind, *given = json.loads(text)
    except (ValueError, TypeError):
        return "", None
    return (kind, given[0] if given else None) if isinstance(kind, str) else ("", None)


def _size(given: dict[str, object]) -> tuple[int, int] | None:
    width, height = given.get("width"), given.get("height")
    if isinstance(width, int) and isinstance(height, int) and width in SIZES and height in SIZES:
        return width, height
    return None
