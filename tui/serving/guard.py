"""Who may look: this machine's own pages, and beyond it who knows the access token.

Any page that a browser shows may try to speak to a server on the same machine. So the name in the address has to be
this machine's (a page of another name that resolves here is turned away), a websocket is opened for our own page only,
and a form is taken from it only.
"""

import asyncio
import hashlib
import hmac
import ipaddress
import secrets

from aiohttp import web

COOKIE = "impression-stock-entered"
LEAST_TOKEN = 16  # characters
LOOPBACK_NAMES = ("localhost",)
WRONG_WAITS = 1.0  # seconds before a wrong token is answered, one after the other: guessing takes longer than a life


def is_loopback(host: str) -> bool:
    """Whether an address or a host's name is this machine's own."""
    if host.lower() in LOOPBACK_NAMES:
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def host_of(address: str) -> str:
    """The host in ``host:port``, brackets of an IPv6 address taken away."""
    if address.startswith("["):
        return address[1:].partition("]")[0]
    return address.rpartition(":")[0] if address.count(":") == 1 else address


class Guard:
    """Tells who may look.

    Args:
        token: what has to be known; empty where nobody is asked.
        elsewhere: browsers of other machines are meant to come.
    """

    def __init__(self, token: str = "", *, elsewhere: bool = False) -> None:
        self._token, self._elsewhere = _digest(token) if token else b"", elsewhere
        self._entered = secrets.token_hex(32)  # of this run: whoever has it has shown the token
        self._one_at_a_time = asyncio.Lock()

    def check_name(self, request: web.Request) -> None:
        """Turn away who calls this machine by another name than its own.

        Raises:
            HTTPForbidden: the address of the page is not this machine's.
        """
        if not self._elsewhere and not is_loopback(host_of(request.host)):
            raise web.HTTPForbidden(text="Open this page by the address that the program printed.\n")

    def check_origin(self, request: web.Request) -> None:
        """Turn away what comes from another page than ours.

        Raises:
            HTTPForbidden: it does, or it does not say where it comes from.
        """
        if request.headers.get("Origin", "").partition("://")[2] != request.host:
            raise web.HTTPForbidden(text="This can be opened from its own page only.\n")

    def knows(self, request: web.Request) -> bool:
        """Whether the browser has shown the token, or need not."""
        if not self._token:
            return True
        return hmac.compare_digest(request.cookies.get(COOKIE, "").encode(), self._entered.encode())

    async def enter(self, given: str, response: web.StreamResponse, *, encrypted: bool) -> bool:
        """Let a browser in that gives the token, and remember it by a cookie; a wrong one is answered slowly."""
        if self._token and hmac.compare_digest(_digest(given), self._token):
            response.set_cookie(COOKIE, self._entered, httponly=True, samesite="Strict", secure=encrypted, path="/")
            return True
        async with self._one_at_a_time:
            await asyncio.sleep(WRONG_WAITS)
        return False


def _digest(token: str) -> bytes:
    return hashlib.sha256(token.strip().encode("utf-8", "surrogatepass")).digest()
