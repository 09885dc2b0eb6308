"""Start the page and keep it running until it is stopped."""

from __future__ import annotations

import socket
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import replace

import uvicorn

from slidefit.errors import SlidefitError
from slidefit.web.app import create_app
from slidefit.web.entry import new_key
from slidefit.web.guard import is_loopback
from slidefit.web.settings import HERE, Settings

OPEN_TO_ALL = (
    "Mind: whoever is on this network and has the key can see the records and change them, and what goes over the "
    "network can be read on its way. Give the key to nobody else; leave --host out to keep the page to this machine."
)
EVERYWHERE = ("0.0.0.0", "::")
NOBODY = "192.0.2.1"
"""An address that is kept for examples; nothing is sent to it, only the way there is looked up."""
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
    """Return the address to open on this machine, with the key if there is one.

    >>> from pathlib import Path
    >>> address_of(Settings(Path("b"), Path("f"), host="::1"), 80)
    'http://[::1]:80/'
    """
    return _written(HERE if settings.host in EVERYWHERE else settings.host, port, settings.key)


def network_address_of(settings: Settings, port: int) -> str:
    """Return the address to open on another machine of the network."""
    return _written(own_address() if settings.host in EVERYWHERE else settings.host, port, settings.key)


def own_address() -> str:
    """Return this machine's address on its network, or its name where it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            way.connect((NOBODY, 9))
        except OSError:
            return socket.gethostname()
        return str(way.getsockname()[0])


def _written(host: str, port: int, key: str) -> str:
    return f"http://{f'[{host}]' if ':' in host else host}:{port}/{f'enter?key={key}' if key else ''}"


def serve(settings: Settings, *, open_browser: bool, tell: Callable[[str], None]) -> None:
    """Run the page until it is stopped from the keyboard; where others can reach it, it gets a key.

    Raises
    ------
    SlidefitError
        The port is taken or the address is not this machine's.
    """
    if not is_loopback(settings.host):
        settings = replace(settings, key=new_key())
    made = listening(settings)
    port = made.getsockname()[1]
    address = address_of(settings, port)
    tell(f"The page is at {address}  (stop it with Ctrl+C)")
    if settings.key:
        tell(f"From other machines: {network_address_of(settings, port)}\n{OPEN_TO_ALL}")
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
