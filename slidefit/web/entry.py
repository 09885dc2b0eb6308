"""The key to a page that is open to the network: asked for once a browser, then kept as a cookie."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

COOKIE = "slidefit-entry"
ENTER = "/enter"
FREE = (ENTER, "/static/")
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Letters and digits that nobody takes for each other when they type them off a screen."""
GROUPS, GROUP_LETTERS = 3, 4
MOST_WRONG, PAUSE_SECONDS = 10, 60.0
REFUSED = (
    "The page is open to the network and asks for its key: open the address that was printed at the start."
)


def new_key() -> str:
    """Return a key that can be typed off a screen: twelve letters and digits, 59 bits."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(GROUP_LETTERS)) for _ in range(GROUPS))


class Lock:
    """Knows the key and the browsers that had it; after ten wrong keys in a minute it takes none for a while.

    Parameters
    ----------
    key : str
        Empty: everybody is let in, as on a page that only this machine reaches.
    """

    def __init__(self, key: str, clock: Callable[[], float] = time.monotonic) -> None:
        self._key = _bare(key)
        self._pass = hmac.new(secrets.token_bytes(32), b"entry", hashlib.sha256).hexdigest()
        self._clock = clock
        self._wrong: deque[float] = deque(maxlen=MOST_WRONG)
        self._guard = threading.Lock()

    @property
    def is_open(self) -> bool:
        """Whether there is no key."""
        return not self._key

    def pauses(self) -> bool:
        """Tell whether so many wrong keys came lately that none is taken."""
        return len(self._wrong) == MOST_WRONG and self._clock() - self._wrong[0] < PAUSE_SECONDS

    def fits(self, given: str) -> bool:
        """Tell whether a key is the right one; capitals, spaces and dashes don't matter."""
        with self._guard:
            if self.is_open:
                return True
            if self.pauses():
                return False
            right = hmac.compare_digest(_bare(given).encode(), self._key.encode())
            if not right:
                self._wrong.append(self._clock())
            return right

    def knows(self, request: Request) -> bool:
        """Tell whether a request's browser has been let in."""
        return self.is_open or hmac.compare_digest(
            request.cookies.get(COOKIE, "").encode(), self._pass.encode()
        )

    def let_in(self, response: Response) -> None:
        """Give a browser the cookie that lets it in until the program ends."""
        response.set_cookie(COOKIE, self._pass, httponly=True, samesite="lax", path="/")


class Entry:
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
