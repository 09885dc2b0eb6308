"""Middleware, entry key, change token, Settings."""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import re
import secrets
import socket
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import anyio
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from slidefit.web.forms.link import OPEN

ENTRY_COOKIE = "slidefit-entry"
ENTER = "/enter"
FREE = (ENTER, "/static/")
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Letters and digits that nobody takes for each other when they type them off a screen."""
GROUPS, GROUP_LETTERS = 3, 4
MOST_WRONG, PAUSE_SECONDS = 10, 60.0
"""Ten guesses a minute of 59 bits: a billion years. One sender's guesses count against that sender alone."""
MOST_SENDERS = 4096
"""Senders remembered for their wrong keys; an IPv6 sender is its /64, of which one household has one."""
REFUSED = (
    "The page is open to the network and asks for its key: open the address that was printed at the start."
)


def new_key() -> str:
    """Return a key that can be typed off a screen: twelve letters and digits, 59 bits."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(GROUP_LETTERS)) for _ in range(GROUPS))


class Lock:
    """Knows the key and the browsers that had it; a sender of ten wrong keys in a minute waits, nobody else.

    Parameters
    ----------
    key : str
        Empty: everybody is let in, as on a page that only this machine reaches.
    """

    def __init__(self, key: str, clock: Callable[[], float] = time.monotonic) -> None:
        self._key = _bare(key)
        self._pass = hmac.new(secrets.token_bytes(32), b"entry", hashlib.sha256).hexdigest()
        self._clock = clock
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()
        self._guard = threading.Lock()

    @property
    def is_open(self) -> bool:
        """Whether there is no key."""
        return not self._key

    def pauses(self, sender: str) -> bool:
        """Tell whether so many wrong keys came lately from a sender that none of its keys is taken."""
        wrong = self._wrong.get(sender)
        return wrong is not None and len(wrong) == MOST_WRONG and self._clock() - wrong[0] < PAUSE_SECONDS

    def fits(self, given: str, sender: str) -> bool:
        """Tell whether a key is the right one; capitals, spaces and dashes don't matter."""
        with self._guard:
            if self.is_open:
                return True
            if self.pauses(sender):
                return False
            right = hmac.compare_digest(_bare(given).encode(), self._key.encode())
            if not right:
                self._wrong.setdefault(sender, deque(maxlen=MOST_WRONG)).append(self._clock())
                self._wrong.move_to_end(sender)
                if len(self._wrong) > MOST_SENDERS:
                    self._wrong.popitem(last=False)
            return right

    def knows(self, request: Request) -> bool:
        """Tell whether a request's browser has been let in."""
        return self.is_open or hmac.compare_digest(
            request.cookies.get(ENTRY_COOKIE, "").encode(), self._pass.encode()
        )

    def let_in(self, response: Response) -> None:
        """Give a browser the cookie that lets it in until the program ends."""
        response.set_cookie(ENTRY_COOKIE, self._pass, httponly=True, samesite="lax", path="/")


def sender_of(request: Request) -> str:
    """Return who sends a request: its address, of an IPv6 address the first 64 bits."""
    name = request.client.host if request.client else ""
    try:
        found = ipaddress.ip_address(name)
    except ValueError:
        return name
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is None:
        return str(ipaddress.ip_network((int(found), 64), strict=False).network_address)
    return str(found)


class EntryForm:
    """Lets in browsers that had the key; others are sent to where it is asked for."""

    def __init__(self, app: ASGIApp, lock: Lock) -> None:
        self.app = app
        self.lock = lock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in or refuse it."""
        if scope["type"] == "http" and not self.lock.is_open:
            request = Request(scope)
            if not request.url.path.startswith(FREE) and not self.lock.knows(request):
                await refusal(request)(scope, receive, send)
                return
        await self.app(scope, receive, send)


def refusal(request: Request) -> Response:
    """Return the answer to a browser without the key: the page that asks for it, or a plain refusal."""
    if request.method == "GET" and not request.url.path.startswith(("/api/", "/openapi")):
        return RedirectResponse(ENTER, status_code=303)
    return JSONResponse({"faults": [{"where": "", "what": REFUSED, "remedy": ""}]}, status_code=401)


def _bare(key: str) -> str:
    return "".join(key.lower().split()).replace("-", "")


BROWSER_COOKIE = "slidefit"
FIELD = "token"
BROWSER = re.compile(r"[0-9a-f]{32}")


class Tokens:
    """Hands each browser a name of its own (a cookie) and a token that fits it; both end with the program."""

    def __init__(self) -> None:
        self._secret = secrets.token_bytes(32)

    def browser(self, request: Request) -> str:
        """Return the browser's name, a new one for a browser that has none."""
        known = request.cookies.get(BROWSER_COOKIE, "")
        if BROWSER.fullmatch(known):
            return known
        fresh = getattr(request.state, "browser", "") or secrets.token_hex(16)
        request.state.browser = fresh
        return fresh

    def token(self, browser: str) -> str:
        """Return the token that fits a browser."""
        return hmac.new(self._secret, browser.encode(), hashlib.sha256).hexdigest()

    def fits(self, request: Request, given: object) -> bool:
        """Tell whether a request's token fits its browser."""
        known = request.cookies.get(BROWSER_COOKIE, "")
        return (
            isinstance(given, str)
            and bool(BROWSER.fullmatch(known))
            and hmac.compare_digest(given.encode(), self.token(known).encode())
        )

    def remember(self, request: Request, response: Response) -> None:
        """Give a browser without a name its cookie: unreadable to scripts, never sent from another site."""
        fresh = getattr(request.state, "browser", "")
        if fresh:
            response.set_cookie(BROWSER_COOKIE, fresh, httponly=True, samesite="strict", path="/")


HERE = "127.0.0.1"
PORT = 8765
MOST_UPLOAD_BYTES = 64 << 20
MOST_FORM_BYTES = 1 << 20


@dataclass(frozen=True)
class Settings:
    """What the page works on and how it is reached.

    Attributes
    ----------
    book, fit : Path
        The sale book and the saved fit; neither need exist.
    example_plan : Path or None
    regions : Path
        Folder of region files.
    host, port : str and int
        Where to listen.
    key : str
        Asked for once a browser; empty where only this machine reaches the page.
    most_upload_bytes : int
        Largest request that carries files.
    """

    book: Path
    fit: Path
    example_plan: Path | None = None
    regions: Path = Path()
    host: str = HERE
    port: int = PORT
    key: str = ""
    most_upload_bytes: int = MOST_UPLOAD_BYTES


HEADERS = {
    "Content-Security-Policy": "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}
LOOPBACK_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})
DRAINED_TIMES = 4
CHANGING = frozenset({"POST", "PUT", "PATCH", "DELETE"})
OPEN_TO_LINKS = frozenset({"/", ENTER})
"""Addresses that a link on another site may lead to, with those of plans sent: cheap, and they show no record."""
PIECE_SECONDS, BODY_SECONDS = 20.0, 300.0
"""Longest wait for the next piece of a body, and for all of it: 64 MB in 5 minutes is 0.2 MB a second."""


class TooLargeError(Exception):
    """The request's body is larger than it may be."""

    def __init__(self, most_bytes: int) -> None:
        super().__init__(too_large(most_bytes))


class TooSlowError(Exception):
    """The request's body did not come in time."""

    def __str__(self) -> str:
        return "The rest of the request did not come in time."


def too_large(most_bytes: int) -> str:
    """Return why a request is refused for its size."""
    return f"The request is larger than {most_bytes >> 20} MB, the most that is taken."


def host_name(value: str) -> str | None:
    """Return the name in a Host header or an origin's place, without its port; None for what is neither.

    >>> host_name("127.0.0.1:8765"), host_name("[::1]:80"), host_name("a b")
    ('127.0.0.1', '::1', None)
    """
    try:
        parts = urlsplit(f"//{value}")
        _ = parts.port
    except ValueError:
        return None
    plain = parts.netloc == value and "@" not in value and " " not in value
    return parts.hostname if plain else None


def is_address(name: str) -> bool:
    """Tell whether a name is an IP address, which no foreign name server can point here."""
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def is_loopback(host: str) -> bool:
    """Tell whether an address to listen on is reached from this machine only."""
    return host in LOOPBACK_NAMES or (is_address(host) and ipaddress.ip_address(host).is_loopback)


class SecurityMiddleware:
    """Lets in requests of our own pages only, bounded in size, and locks down what goes out.

    A name in the Host header must be this machine's: a foreign site whose name is pointed at this machine is
    refused. A request that a browser marks as another site's (Origin, Sec-Fetch-Site) is refused, but for a link to
    the start page. A body that stops coming is given up.
    """

    def __init__(
        self,
        app: ASGIApp,
        settings: Settings,
        *,
        piece_seconds: float = PIECE_SECONDS,
        body_seconds: float = BODY_SECONDS,
    ) -> None:
        self.piece_seconds = piece_seconds
        self.body_seconds = body_seconds
        self.app = app
        self.settings = settings
        self.open_names = set() if is_loopback(settings.host) else own_names()

    def allowed_host(self, value: str) -> bool:
        """Tell whether a Host header names this machine."""
        name = host_name(value)
        if name is None:
            return False
        if name in LOOPBACK_NAMES or name == self.settings.host:
            return True
        return bool(self.open_names) and (name in self.open_names or is_address(name))

    def refusal(self, method: str, path: str, headers: Headers) -> tuple[int, str] | None:
        """Return status and reason of a request that is not let in; None when it is."""
        host = headers.get("host", "")
        if not self.allowed_host(host):
            return 421, "This address does not belong to the page. Open it as it was printed when it started."
        if self.is_foreign(method, path, headers):
            return 403, "The request comes from another site's page and was refused."
        length = headers.get("content-length", "0")
        if not length.isdecimal():
            return 400, "The length of the request can't be read."
        if int(length) > self.limit(headers):
            return 413, too_large(self.limit(headers))
        return None

    @staticmethod
    def is_foreign(method: str, path: str, headers: Headers) -> bool:
        """Tell whether a browser marks a request as another site's, and it is no plain link to the start page."""
        site = headers.get("sec-fetch-site", "same-origin")
        if method in CHANGING:
            origin = headers.get("origin")
            own = origin is None or urlsplit(origin).netloc == headers.get("host", "")
            return not own or site not in ("same-origin", "none")
        followed = headers.get("sec-fetch-mode", "navigate") == "navigate"
        open_to_links = path in OPEN_TO_LINKS or path.startswith(OPEN)
        return site in ("cross-site", "same-site") and not (followed and open_to_links)

    def limit(self, headers: Headers) -> int:
        """Return how many bytes a request may carry: files more than plain forms."""
        files = headers.get("content-type", "").startswith("multipart/form-data")
        return self.settings.most_upload_bytes if files else MOST_FORM_BYTES

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        limit = self.limit(headers)
        seen, whole = 0, False
        until = time.monotonic() + self.body_seconds

        async def counted() -> Message:
            nonlocal seen, whole
            if whole:  # what comes now is the end of the line, which may take its time
                return await receive()
            try:
                with anyio.fail_after(min(self.piece_seconds, max(until - time.monotonic(), 0.0))):
                    message = await receive()
            except TimeoutError:
                raise TooSlowError from None
            whole = not message.get("more_body", False)
            seen += len(message.get("body", b""))
            if seen > limit:
                with anyio.move_on_after(self.piece_seconds):
                    await drain(receive, message, DRAINED_TIMES * limit)
                raise TooLargeError(limit)
            return message

        async def locked(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out.setdefault(name, value)
            await send(message)

        refused = self.refusal(scope["method"], scope["path"], headers)
        if refused is None:
            await self.app(scope, counted, locked)
            return
        status, reason = refused
        with anyio.move_on_after(self.piece_seconds):
            await drain(receive, {"more_body": True}, DRAINED_TIMES * limit)
        answer = PlainTextResponse(f"{reason}\n", status_code=status, headers={"Connection": "close"})
        await answer(scope, receive, locked)


async def drain(receive: Receive, message: Message, most_bytes: int) -> None:
    """Read on what a refused client is still sending, within bounds, so that it can read why it was refused."""
    left = most_bytes
    while message.get("more_body", False) and left > 0:
        message = await receive()
        left -= len(message.get("body", b""))


def own_names() -> set[str]:
    """Return the names that this machine goes by on its network."""
    name = socket.gethostname().lower()
    return {name, f"{name.split('.')[0]}.local", name.split(".")[0]}
