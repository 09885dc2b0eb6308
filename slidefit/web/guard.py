"""The door: which requests are let in, how large they may be, and the headers that every answer carries."""

from __future__ import annotations

import ipaddress
import socket
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from slidefit.web.settings import MOST_FORM_BYTES, Settings

CONTENT_POLICY = (
    "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
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


class TooLargeError(Exception):
    """The request's body is larger than it may be."""

    def __init__(self, most_bytes: int) -> None:
        super().__init__(too_large(most_bytes))


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


class Guard:
    """Lets in requests of our own pages only, bounded in size, and locks down what goes out.

    A name in the Host header must be this machine's: a foreign site whose name is pointed at this machine is
    refused. A request from another site's page (Origin, Sec-Fetch-Site) is refused when it would change something.
    """

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
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

    def refusal(self, method: str, headers: Headers) -> tuple[int, str] | None:
        """Return status and reason of a request that is not let in; None when it is."""
        host = headers.get("host", "")
        if not self.allowed_host(host):
            return 421, "This address does not belong to the page. Open it as it was printed when it started."
        if method in CHANGING:
            origin = headers.get("origin")
            site = headers.get("sec-fetch-site", "same-origin")
            if (origin is not None and urlsplit(origin).netloc != host) or site not in (
                "same-origin",
                "none",
            ):
                return 403, "The request comes from another site's page and was refused."
        length = headers.get("content-length", "0")
        if not length.isdigit():
            return 400, "The length of the request can't be read."
        if int(length) > self.limit(headers):
            return 413, too_large(self.limit(headers))
        return None

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
        seen = 0

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > limit:
                await drain(receive, message, DRAINED_TIMES * limit)
                raise TooLargeError(limit)
            return message

        async def locked(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out.setdefault(name, value)
            await send(message)

        refused = self.refusal(scope["method"], headers)
        if refused is None:
            await self.app(scope, counted, locked)
            return
        status, reason = refused
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
