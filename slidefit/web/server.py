"""Start the page and keep it running until it is stopped."""

from __future__ import annotations

import socket
import threading
import webbrowser
from collections.abc import Callable

import uvicorn

from slidefit.errors import SlidefitError
from slidefit.web.app import create_app
from slidefit.web.guard import is_loopback
from slidefit.web.settings import HERE, Settings

OPEN_TO_ALL = (
    "Mind: everybody who reaches this machine on its network can see the records and change them. "
    "Leave --host out to keep the page to this machine."
)
SIMULTANEOUS = 128


def listening(settings: Settings) -> socket.socket:
    """Return a socket that listens where the settings say.

    Raises
    ------
    SlidefitError
        The port is taken or the address is not this machine's.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((settings.host, settings.port))
        made.listen(SIMULTANEOUS)
    except (OSError, OverflowError) as fault:
        made.close()
        raise SlidefitError(
            f"can't listen there ({getattr(fault, 'strerror', None) or fault})",
            where=f"{settings.host}, port {settings.port}",
            remedy="Choose another port with --port, or stop the program that uses this one.",
        ) from fault
    return made


def address_of(settings: Settings, port: int) -> str:
    """Return the address to open.

    >>> from pathlib import Path
    >>> address_of(Settings(Path("b"), Path("f"), host="::1"), 80)
    'http://[::1]:80/'
    """
    host = HERE if settings.host in ("0.0.0.0", "::") else settings.host
    return f"http://{f'[{host}]' if ':' in host else host}:{port}/"


def serve(settings: Settings, *, open_browser: bool, tell: Callable[[str], None]) -> None:
    """Run the page until it is stopped from the keyboard.

    Raises
    ------
    SlidefitError
        The port is taken or the address is not this machine's.
    """
    made = listening(settings)
    address = address_of(settings, made.getsockname()[1])
    tell(f"The page is at {address}  (stop it with Ctrl+C)")
    if not is_loopback(settings.host):
        tell(OPEN_TO_ALL)
    if open_browser:
        threading.Timer(0.5, webbrowser.open, [address]).start()
    config = uvicorn.Config(
        create_app(settings),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_keep_alive=15,
    )
    uvicorn.Server(config).run(sockets=[made])
