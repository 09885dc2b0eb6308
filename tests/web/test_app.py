"""The command that starts the page."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
import uvicorn
from fastapi import FastAPI

from slidefit.cli.main import slidefit
from slidefit.cli.speaking import USER_FAULT, run_safely
from slidefit.errors import SlidefitError
from slidefit.web import app
from slidefit.web.app import OPEN_TO_ALL, address_of, listening, network_address_of, own_address, serve
from slidefit.web.security import Settings


def test_on_this_machine_alone_it_needs_no_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[socket.socket] = []
    monkeypatch.setattr(app, "create_app", lambda settings: FastAPI())
    monkeypatch.setattr(uvicorn.Server, "run", lambda _, sockets: ran.extend(sockets))
    told: list[str] = []
    serve(Settings(tmp_path / "b", tmp_path / "f", port=0), open_browser=False, tell=told.append)
    assert [re.match(r"The page is at http://127\.0\.0\.1:(\d+)/ ", line)[1] for line in told] == [  # type: ignore[index]
        str(ran[0].getsockname()[1])
    ]
    ran[0].close()


def test_a_taken_port_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        words = ["serve", "--port", port, "--book", str(tmp_path / "b.duckdb")]
        code = run_safely(lambda: slidefit.main(words, standalone_mode=False))
    told = capsys.readouterr().err
    assert code == USER_FAULT and "--port" in told and port in told


def test_an_address_of_another_machine_is_told(tmp_path: Path) -> None:
    with pytest.raises(SlidefitError, match="can't listen"):
        listening(Settings(tmp_path / "b", tmp_path / "f", host="203.0.113.9", port=0))


def test_the_address_to_open() -> None:
    settings = Settings(Path("b"), Path("f"), host="0.0.0.0", key="abcd-efgh-jkmn")
    assert address_of(settings, 80) == "http://127.0.0.1:80/enter?key=abcd-efgh-jkmn"
    assert network_address_of(settings, 80) == f"http://{own_address()}:80/enter?key=abcd-efgh-jkmn"
    assert (
        network_address_of(Settings(Path("b"), Path("f"), host="barn.local"), 80) == "http://barn.local:80/"
    )
    assert "see the records" in OPEN_TO_ALL


def test_open_to_the_network_it_asks_for_the_printed_key(tmp_path: Path) -> None:
    words = ["serve", "--port", "0", "--host", "0.0.0.0"]
    command = [sys.executable, "-c", "from slidefit.cli.main import run; run()", *words]
    page = subprocess.Popen(command, cwd=tmp_path, stderr=subprocess.PIPE, text=True)
    try:
        assert page.stderr is not None
        found = re.search(r"http://127\.0\.0\.1:\d+/enter\?key=([a-z2-9-]{14}) ", page.stderr.readline())
        assert found
        assert page.stderr.readline().strip().endswith(found.group(1))
        assert "Mind" in page.stderr.readline()
        address = found.group().strip()
        with httpx.Client(trust_env=False, timeout=60.0, follow_redirects=True) as client:
            assert client.get(address.replace(found.group(1), "")).status_code == 401
            assert client.get(address).url.path == "/"
            assert client.get(address.partition("/enter")[0] + "/records").url.path == "/records"
        page.send_signal(signal.SIGINT)
        page.communicate(timeout=60)
    finally:
        page.kill()
        page.communicate()
    assert not list(tmp_path.iterdir())
