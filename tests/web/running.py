"""The page as it runs: a real server on loopback in a thread, a client, and a real browser."""

from __future__ import annotations

import re
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import httpx
import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright

from slidefit.web.app import address_of, create_app, listening
from slidefit.web.security import Settings

ROOT = Path(__file__).parent.parent.parent
PLAN = ROOT / "data_demo" / "plan.toml"
SALES = ROOT / "data_demo" / "cold_kettle_auction.csv"
BROWSER_ARGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


@dataclass(frozen=True)
class Running:
    """A page that runs."""

    settings: Settings
    address: str

    def client(self) -> httpx.Client:
        return httpx.Client(base_url=self.address, timeout=60.0, trust_env=False)


@contextmanager
def running(settings: Settings) -> Iterator[Running]:
    """Run the page until the block ends."""
    made = listening(settings)
    address = address_of(replace(settings, key=""), made.getsockname()[1]).rstrip("/")
    server = uvicorn.Server(
        uvicorn.Config(create_app(settings), log_level="critical", access_log=False, lifespan="on")
    )
    thread = threading.Thread(target=server.run, kwargs={"sockets": [made]})
    thread.start()
    try:
        until = time.monotonic() + 30.0
        while not server.started and time.monotonic() < until:
            time.sleep(0.02)
        assert server.started
        yield Running(settings, address)
    finally:
        server.should_exit = True
        thread.join(30.0)
        made.close()


def chromium() -> str:
    """Return the path of Debian's chromium; a test that needs it fails without it."""
    found = shutil.which("chromium")
    assert found, "the browser tests need chromium: apt-get install -y chromium"
    return found


@contextmanager
def browser() -> Iterator[Browser]:
    """Run a browser until the block ends."""
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=chromium(), args=list(BROWSER_ARGS))
        try:
            yield opened
        finally:
            opened.close()


def watched(page: Page) -> list[str]:
    """Return a list that gathers what the page's console complains of."""
    complaints: list[str] = []
    page.on(
        "console",
        lambda message: complaints.append(message.text) if message.type in ("error", "warning") else None,
    )
    page.on("pageerror", lambda fault: complaints.append(str(fault)))
    return complaints


def token_in(text: str) -> str:
    """Return the token that a page of ours carries."""
    found = re.search(r'name="token" value="([0-9a-f]{64})"', text)
    assert found
    return found.group(1)


ROWS = (
    "Sale Date,Market,Sex,Head,Avg Wt,Price\n"
    "2026-09-14,{barn},Steers,12,552,{price}\n"
    "2026-09-14,{barn},Steers,9,610,371\n"
)


def sales(barn: str = "Larkspur Barn", price: str = "389") -> bytes:
    """Return a small file of sales."""
    return ROWS.format(barn=barn, price=price).encode()
