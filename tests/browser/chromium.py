"""A headless Chromium, spoken to in its own protocol over a websocket: pages, keys, pictures, and what it asked whom.

What a page shows is drawn on a canvas, so text is read from the bytes that came over the page's websocket.
"""

import asyncio
import base64
import contextlib
import re
import tempfile
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import aiohttp

CONTROL = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07]*\x07|\x1b[@-Z\\-_]")
KEYS = {"Enter": (13, "\r"), "F2": (113, ""), "Escape": (27, ""), "ArrowDown": (40, ""), "Tab": (9, "")}
PATIENCE = 30.0  # seconds for something to appear


class Browser:
    """One page of the browser."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket, self._number = socket, 0
        self._answers: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self._reading = asyncio.create_task(self._read())
        self.session = ""
        self.asked: list[str] = []
        self.said: list[str] = []
        self._painted = b""
        self._loaded, self._news = asyncio.Event(), asyncio.Event()

    async def _read(self) -> None:
        async for message in self._socket:
            told = message.json()
            if "id" in told:
                self._answers.pop(told["id"]).set_result(told)
            else:
                self._note(told["method"], told["params"])

    def _note(self, method: str, params: dict[str, Any]) -> None:
        match method:
            case "Page.frameNavigated":
                self._painted = b""
            case "Page.loadEventFired":
                self._loaded.set()
            case "Network.requestWillBeSent":
                self.asked.append(params["request"]["url"])
            case "Network.webSocketCreated":
                self.asked.append(params["url"])
            case "Network.webSocketFrameReceived" if params["response"]["opcode"] == 2:
                self._painted += base64.b64decode(params["response"]["payloadData"])
                self._news.set()
            case "Log.entryAdded" if params["entry"]["level"] == "error":
                self.said.append(params["entry"]["text"])
            case "Runtime.exceptionThrown":
                self.said.append(params["exceptionDetails"]["text"])

    async def do(self, method: str, **params: Any) -> dict[str, Any]:
        """Give an order and return what came of it."""
        self._number += 1
        answer = self._answers[self._number] = asyncio.get_running_loop().create_future()
        order = {"id": self._number, "method": method, "params": params}
        await self._socket.send_json(order | ({"sessionId": self.session} if self.session else {}))
        told = await asyncio.wait_for(answer, PATIENCE)
        if "error" in told:
            raise RuntimeError(f"{method}: {told['error']['message']}")
        result: dict[str, Any] = told["result"]
        return result

    async def page(self) -> None:
        """Begin with an empty page."""
        target = await self.do("Target.createTarget", url="about:blank")
        attached = await self.do("Target.attachToTarget", targetId=target["targetId"], flatten=True)
        self.session = attached["sessionId"]
        for domain in ("Network", "Page", "Log", "Runtime"):
            await self.do(f"{domain}.enable")

    async def go(self, url: str) -> None:
        await self._load("Page.navigate", url=url)

    async def reload(self) -> None:
        await self._load("Page.reload")

    async def _load(self, method: str, **params: Any) -> None:
        self._loaded.clear()
        await self.do(method, **params)
        await asyncio.wait_for(self._loaded.wait(), PATIENCE)

    async def press(self, *keys: str) -> None:
        """Press keys, by their names or the letters on them; what is painted from now on is looked at anew."""
        self._painted = b""
        for key in keys:
            code, text = KEYS.get(key, (ord(key.upper()[0]), key))
            press = {"key": key, "windowsVirtualKeyCode": code, "code": key}
            await self.do("Input.dispatchKeyEvent", type="keyDown", text=text, **press)
            await self.do("Input.dispatchKeyEvent", type="keyUp", **press)

    async def type(self, text: str) -> None:
        self._painted = b""
        await self.do("Input.insertText", text=text)

    @property
    def painted(self) -> str:
        """What was painted since the last deed, as text."""
        return CONTROL.sub("", self._painted.decode("utf-8", "replace"))

    async def see(self, *words: str) -> str:
        """Wait until words were painted.

        Raises:
            TimeoutError: they were not.
        """
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(PATIENCE):
                while not all(word in self.painted for word in words):
                    self._news.clear()
                    await self._news.wait()
                await asyncio.sleep(0.3)  # what comes with it
                return self.painted
        raise TimeoutError(f"{words} did not appear in:\n{self.painted}")

    async def evaluate(self, script: str) -> Any:
        """What a script in the page comes to."""
        result = await self.do("Runtime.evaluate", expression=script, returnByValue=True)
        return result["result"].get("value")

    async def wait_for(self, script: str) -> None:
        """Wait until a script in the page says true.

        Raises:
            TimeoutError: it never did.
        """
        for _ in range(round(PATIENCE / 0.05)):
            if await self.evaluate(script):
                return
            await asyncio.sleep(0.05)
        raise TimeoutError(script)

    async def picture(self, path: Path) -> None:
        shot = await self.do("Page.captureScreenshot", format="png")
        await asyncio.to_thread(path.write_bytes, base64.b64decode(shot["data"]))

    @property
    def hosts(self) -> set[str]:
        """Everybody that the page asked for anything."""
        return {urlsplit(url).netloc for url in self.asked if not url.startswith(("data:", "about:"))}

    async def close(self) -> None:
        self._reading.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._reading


@contextlib.asynccontextmanager
async def browser(program: str = "chromium", size: tuple[int, int] = (1280, 800)) -> AsyncIterator[Browser]:
    """Start a browser with one empty page, and end it.

    Raises:
        FileNotFoundError: there is no such program.
    """
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        running = await asyncio.create_subprocess_exec(
            program, "--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-port=0", "--no-first-run",
            "--disable-background-networking", "--disable-component-update", "--hide-scrollbars",
            f"--user-data-dir={folder}", f"--window-size={size[0]},{size[1]}", "about:blank",
            stderr=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.DEVNULL,
        )  # fmt: skip
        try:
            assert running.stderr is not None
            async for line in running.stderr:
                if found := re.search(rb"ws://\S+", line):
                    break
            else:
                raise RuntimeError("The browser did not start.")
            async with (
                aiohttp.ClientSession() as client,
                client.ws_connect(found[0].decode(), max_msg_size=0) as socket,
            ):
                page = Browser(socket)
                await page.page()
                yield page
                await page.close()
        finally:
            running.terminate()
            await running.wait()
