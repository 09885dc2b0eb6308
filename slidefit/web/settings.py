"""What the page is told when it starts."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

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
        A plan to start from.
    regions : Path
        Folder of region files.
    host : str
        Address to listen on.
    key : str
        Asked for once a browser; empty where only this machine reaches the page.
    port : int
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
