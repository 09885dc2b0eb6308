"""The token that every change must carry: only our own pages know it."""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets

from starlette.requests import Request
from starlette.responses import Response

COOKIE = "slidefit"
FIELD = "token"
BROWSER = re.compile(r"[0-9a-f]{32}")


class Tokens:
    """Hands each browser a name of its own (a cookie) and a token that fits it; both end with the program."""

    def __init__(self) -> None:
        self._secret = secrets.token_bytes(32)

    def browser(self, request: Request) -> str:
        """Return the browser's name, a new one for a browser that has none."""
        known = request.cookies.get(COOKIE, "")
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
        known = request.cookies.get(COOKIE, "")
        return (
            isinstance(given, str)
            and bool(BROWSER.fullmatch(known))
            and hmac.compare_digest(given.encode(), self.token(known).encode())
        )

    def remember(self, request: Request, response: Response) -> None:
        """Give a browser without a name its cookie: unreadable to scripts, never sent from another site."""
        fresh = getattr(request.state, "browser", "")
        if fresh:
            response.set_cookie(COOKIE, fresh, httponly=True, samesite="strict", path="/")
