"""The screens in a browser: who may look, what the page asks for, and a process that waits for its tab."""

import asyncio
import json
import os
import re
import shlex
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from aiohttp import ClientWebSocketResponse, WSServerHandshakeError, web
from aiohttp.test_utils import TestClient, TestServer

from inventory import settings
from tests.little_practice import TODAY
from tests.tui.commands import run, stocked
from tui.commands import base
from tui.serving import guard, server
from tui.serving.guard import COOKIE, Guard, host_of, is_loopback
from tui.serving.sessions import Program

Client = TestClient[web.Request, web.Application]
TOKEN = "a token for tests only"  # noqa: S105
PATIENCE = 60.0  # seconds, for a busy machine
ONE, OTHER = "1" * 32, "2" * 32
# a program that speaks as the toolkit does to its keeper: it shows what it is told, and its number
STAND_IN = """
import json, os, sys, time
def show(text):
    data = text.encode()
    sys.stdout.buffer.write(b"D" + len(data).to_bytes(4, "big") + data)
    sys.stdout.buffer.flush()
sys.stdout.buffer.write(b"__GANGLION__\\n")
show(f"begun {os.getpid()} {os.environ.get('IMPRESSION_STOCK_TOKEN', 'no token')}")
while head := sys.stdin.buffer.read(5):
    told = sys.stdin.buffer.read(int.from_bytes(head[1:], "big")).decode()
    show(f"{os.getpid()} {told}")
    if '"quit"' in told or told == "q":
        end = b'{"type": "exit"}'
        sys.stdout.buffer.write(b"M" + len(end).to_bytes(4, "big") + end)
        sys.stdout.buffer.flush()
        time.sleep(0.5)  # closing a practice takes a moment
        break
"""
STANDS_IN = Program(shlex.join([sys.executable, "-c", STAND_IN]), {}, (settings.TOKEN,))


@asynccontextmanager
async def served(asked: Guard | None = None, program: Program = STANDS_IN, keep: float = 60) -> AsyncIterator[Client]:
    async with TestClient(TestServer(server.application(program, asked or Guard(), keep=keep))) as client:
        yield client


@asynccontextmanager
async def tab(client: Client, name: str = ONE) -> AsyncIterator[ClientWebSocketResponse]:
    origin = f"http://{client.host}:{client.port}"
    async with client.ws_connect(f"/ws/{name}?width=80&height=24", headers={"Origin": origin}) as socket:
        yield socket


async def shown(socket: ClientWebSocketResponse, words: str) -> str:
    """Wait until the program shows something that matches."""
    said = ""
    async with asyncio.timeout(PATIENCE):
        while not (found := re.search(words, said)):
            said += (await socket.receive_bytes()).decode(errors="replace")
    return found[0]


async def test_the_page_asks_no_other_host_for_anything() -> None:
    async with served() as client:
        answer = await client.get("/")
        page = await answer.text()
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        wanted = re.findall(r'(?:src|href)="([^"]+)"', page)
        assert {"static/textual.js", "static/stock.js", "static/xterm.css"} <= set(wanted)
        for name in wanted:
            assert name == "data:," or (await client.get(f"/{name}")).status == 200, name
        css = await (await client.get("/static/stock.css")).text()
        script = await (await client.get("/static/stock.js")).text()
        assert not re.search(r"https?://[a-z]", page + css + script)
        assert "Beyond this machine encryption is the job of a reverse proxy" in page
        assert (await client.get("/static/..%2f..%2fpyproject.toml")).status == 404
        assert (await client.get("/?ping=http://example.com", allow_redirects=False)).headers["Location"] == "/"


async def test_a_page_of_another_name_or_of_another_site_is_turned_away() -> None:
    async with served() as client:
        assert (await client.get("/", headers={"Host": "stock.example"})).status == 403
        for origin in ({"Origin": "http://stock.example"}, {}):
            with pytest.raises(WSServerHandshakeError, match="403"):
                await client.ws_connect(f"/ws/{ONE}", headers=origin)
    async with served(Guard(TOKEN, elsewhere=True)) as client:
        assert (await client.get("/", headers={"Host": "stock.example"})).status == 200


async def test_without_the_token_there_is_neither_page_nor_websocket(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "WRONG_WAITS", 0.0)
    async with served(Guard(TOKEN, elsewhere=True)) as client:
        origin = {"Origin": f"http://{client.host}:{client.port}"}
        assert "terminal" not in await (await client.get("/")).text()
        with pytest.raises(WSServerHandshakeError, match="403"):
            await client.ws_connect(f"/ws/{ONE}", headers=origin)
        wrong = await client.post("/", data={"token": "another"}, headers=origin)
        assert wrong.status == 403
        assert "That is not the access token." in await wrong.text()
        assert (await client.post("/", data={"token": TOKEN}, headers={"Origin": "http://stock.example"})).status == 403
        entered = await client.post("/", data={"token": TOKEN}, headers=origin, allow_redirects=False)
        cookie = entered.cookies[COOKIE]
        assert (cookie["httponly"], cookie["samesite"], TOKEN in cookie.value) == (True, "Strict", False)
        assert "terminal" in await (await client.get("/")).text()
        async with tab(client) as socket:
            await shown(socket, "begun")


async def test_wrong_tokens_are_answered_one_after_the_other_and_slowly(monkeypatch: pytest.MonkeyPatch) -> None:
    waits: list[float] = []

    async def wait(seconds: float) -> None:
        waits.append(seconds)

    monkeypatch.setattr(asyncio, "sleep", wait)
    asked = Guard(TOKEN)
    assert not await asked.enter("wrong", web.Response(), encrypted=False)
    response = web.Response()
    assert await asked.enter(f" {TOKEN}\n", response, encrypted=True)
    assert response.cookies[COOKIE]["secure"]
    assert waits == [guard.WRONG_WAITS]


async def test_a_tab_that_comes_back_finds_its_process_and_another_tab_has_its_own() -> None:
    async with served() as client:
        async with tab(client) as socket:
            number = await shown(socket, r"begun \d+ no token")
            await socket.send_str(json.dumps(["stdin", "half a form"]))
            await shown(socket, "half a form")
        async with tab(client) as again, tab(client, OTHER) as other:
            process = number.split()[1]
            await shown(again, rf'{process} .*"height": 23')  # another size for a moment: everything is drawn anew
            await shown(again, rf'{process} .*"height": 24')
            assert process not in await shown(other, r"begun \d+")


async def test_the_newest_of_two_tabs_with_one_number_has_the_screen() -> None:
    async with served() as client, tab(client) as first:
        await shown(first, "begun")
        async with tab(client) as second:
            async with asyncio.timeout(PATIENCE):
                while not first.closed:
                    await first.receive()
            await second.send_str(json.dumps(["stdin", "here"]))
            await shown(second, "here")


async def test_a_process_that_ended_or_waited_too_long_is_not_come_back_to() -> None:
    async with served(keep=0.0) as client:
        async with tab(client) as socket:
            begun = await shown(socket, r"begun \d+")
        async with tab(client) as socket:
            second = await shown(socket, r"begun \d+")
            assert second != begun
            await socket.send_str(json.dumps(["stdin", "q"]))
            async with asyncio.timeout(PATIENCE):
                while not socket.closed:
                    await socket.receive()
        async with tab(client) as socket:  # the ended one is still about to go
            assert await shown(socket, r"begun \d+") not in (begun, second)


async def test_what_no_page_of_ours_sends_does_no_harm() -> None:
    async with served() as client, tab(client) as socket:
        await shown(socket, "begun")
        for text in (
            "",
            "{",
            "[]",
            "[1]",
            '["resize", {"width": -1, "height": "x"}]',
            '["stdin", {"a": 1}]',
            '["nonsense"]',
        ):
            await socket.send_str(text)
        await socket.send_bytes(b"\0")
        await socket.send_str(json.dumps(["ping", "7"]))
        assert await socket.receive_json() == ["pong", "7"]


async def test_the_screens_themselves_are_shown_on_the_practice_of_the_server(tmp_path: Path) -> None:
    words = shlex.join([sys.executable, "-m", "tui", "--today", TODAY.isoformat()])
    program = Program(words, settings.for_a_browser(str(stocked(tmp_path))), (settings.TOKEN,))
    async with served(program=program) as client, tab(client) as socket:
        await shown(socket, "C-1")


def test_anything_but_this_machine_needs_an_option_and_a_token(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ran = run("serve", "--listen", "0.0.0.0")  # noqa: S104 - refused, that is the point
    assert ran.status == base.BAD
    assert "is not this machine alone" in ran.err
    for token in ("", "short"):
        monkeypatch.setenv(settings.TOKEN, token)
        ran = run("serve", "--from-elsewhere")
        assert ran.status == base.BAD
        assert "needs an access token of 16 characters" in ran.err
    (tmp_path / "empty").touch()
    for file, why in (("none", "No such file"), ("empty", "is empty")):
        ran = run("serve", "--token-file", tmp_path / file)
        assert (ran.status, why in ran.err) == (base.BAD, True)
    assert "no port" in run("serve", "--port", "70000").err


async def test_a_port_that_is_taken_is_said(tmp_path: Path) -> None:
    async with served() as client:
        ran = await asyncio.to_thread(run, "--database", tmp_path / "p.db", "serve", "--port", client.port)
        assert (ran.status, "can't be had" in ran.err) == (base.BAD, True)


@pytest.mark.parametrize(
    ("host", "own"),
    [
        ("127.0.0.1", True), ("127.8.0.1", True), ("::1", True), ("localhost", True), ("LOCALHOST", True),
        ("10.0.0.1", False), ("::", False), ("192.168.0.5", False), ("localhost.example", False), ("", False),
    ],
)  # fmt: skip
def test_which_addresses_are_this_machines_own(host: str, own: bool) -> None:
    assert is_loopback(host) is own
    assert is_loopback(host_of(f"[{host}]:80" if ":" in host else f"{host}:80")) is own


async def test_the_server_ends_its_processes_with_itself() -> None:
    async with served() as client, tab(client) as socket:
        number = int((await shown(socket, r"begun \d+")).split()[1])
        os.kill(number, 0)  # it is there
    with pytest.raises(ProcessLookupError):
        os.kill(number, 0)
