"""The page lets nobody else's page in, nothing too large, and nothing of the client's onto the disk."""

from __future__ import annotations

import contextlib
import csv
import errno
import io
import logging
import re
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from running import Running, running, sales, token_in

from slidefit.records.book import book_file
from slidefit.web import decide_views
from slidefit.web.app import create_app
from slidefit.web.security import HEADERS, HERE, SecurityMiddleware, Settings
from slidefit.web.service import Service


def test_it_listens_on_this_machine_only_unless_told() -> None:
    assert Settings(Path("b"), Path("f")).host == HERE == "127.0.0.1"


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "127.0.0.1.evil.example", "a b", "", "u@127.0.0.1"]
)
def test_a_foreign_host_is_refused(page: Running, host: str) -> None:
    with page.client() as client:
        assert client.get("/records", headers={"Host": host}).status_code in (400, 421)


def test_names_of_this_machine_are_let_in(page: Running) -> None:
    with page.client() as client:
        for host in ("localhost", "127.0.0.1:1", "[::1]:8765"):
            assert client.get("/decide", headers={"Host": host}).status_code == 200


def test_on_a_network_addresses_are_let_in_and_foreign_names_are_not() -> None:
    guard = SecurityMiddleware(lambda *_: None, Settings(Path("b"), Path("f"), host="0.0.0.0"))  # type: ignore[arg-type,return-value]
    assert guard.allowed_host("192.168.1.20:8765") and not guard.allowed_host("evil.example")


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_change_from_another_site_is_refused(own_page: Running, headers: dict[str, str]) -> None:
    with own_page.client() as client:
        form = {"token": token_in(client.get("/records").text), "batch": "x"}
        assert client.post("/records/undo", data=form, headers=headers).status_code == 403


FOREIGN_READS = (
    "/records", "/slide", "/decide?groups.0.name=A", "/decide/report.pdf", "/regions", "/records/records.csv",
    "/api/slide", "/api/book", "/static/page.js", "/slide/season.svg",
)  # fmt: skip


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_site_can_only_link_to_the_start_page(page: Running, site: str) -> None:
    followed = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate"}
    with page.client() as client:
        for address in FOREIGN_READS:
            for mode in ("navigate", "no-cors", "cors"):
                told = client.get(address, headers={**followed, "Sec-Fetch-Mode": mode})
                assert told.status_code == 403 and "another site" in told.text, (address, mode)
        assert client.get("/", headers=followed).status_code < 400
        assert client.get("/", headers={**followed, "Sec-Fetch-Mode": "no-cors"}).status_code == 403
        assert client.get("/records", headers={"Sec-Fetch-Site": "none"}).status_code == 200


def test_lists_in_addresses_are_bounded(page: Running) -> None:
    def asked(**lists: list[object]) -> int:
        with page.client() as client:
            return client.get("/api/slide", params=lists).status_code

    weights, months = [500.0 + 5 * n for n in range(13)], [*range(1, 13), 1]
    assert asked(weight_lb=weights[:12]) == 200 and asked(month=months[:12], sex=["steer"]) != 422
    assert asked(weight_lb=weights) == asked(month=months) == asked(sex=["steer"] * 4) == 422


def socket_to(page: Running) -> socket.socket:
    made = socket.create_connection(("127.0.0.1", int(page.address.rpartition(":")[2])), timeout=20.0)
    made.sendall(
        b"POST /records/look HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5000\r\n"
        b"Content-Type: multipart/form-data; boundary=x\r\n\r\n--x\r\n"
    )
    return made


def test_a_broken_upload_leaves_one_line_in_the_log(page: Running, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO):
        socket_to(page).close()
        until = time.monotonic() + 10.0
        while not caplog.records and time.monotonic() < until:
            time.sleep(0.02)
        with page.client() as client:
            assert client.get("/records").status_code == 200
    told = [each for each in caplog.records if each.name.startswith(("slidefit", "uvicorn"))]
    assert [each.getMessage() for each in told] == [
        "a request for /records/look was broken off by its sender"
    ]
    assert told[0].exc_info is None


def test_a_body_that_stops_coming_is_given_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(
        SecurityMiddleware.__init__, "__kwdefaults__", {"piece_seconds": 0.4, "body_seconds": 1.2}
    )
    with running(Settings(tmp_path / "b", tmp_path / "f", port=0)) as found:
        with socket_to(found) as silent:
            assert b"408" in silent.recv(4000).partition(b"\r\n")[0]
        start, told = time.monotonic(), b""
        with socket_to(found) as dripping:
            dripping.settimeout(0.2)
            while not told and time.monotonic() - start < 10.0:
                with contextlib.suppress(TimeoutError):
                    dripping.sendall(b"y")
                    told = dripping.recv(4000)
        assert b"408" in told.partition(b"\r\n")[0] and time.monotonic() - start < 3.0
    assert not [each for each in caplog.records if each.exc_info]


CHANGES = ("/records/look", "/records/look-again", "/records/set-aside.csv", "/records/add", "/records/forget",
           "/records/undo", "/slide/fit", "/decide/load", "/regions/make", "/regions/x.toml/renew",
           "/regions/x.toml/back")  # fmt: skip


def test_every_change_needs_the_token(page: Running) -> None:
    before = page.settings.book.read_bytes()
    with page.client() as client, page.client() as other:
        foreign = token_in(other.get("/records").text)
        client.get("/records")
        for address in CHANGES:
            for token in ({}, {"token": "0" * 64}, {"token": "\u00e9"}, {"token": foreign}):
                answer = client.post(address, data=token, files={"files": ("a.csv", sales())})
                assert answer.status_code == 403, (address, token)
    assert page.settings.book.read_bytes() == before


def test_no_change_has_another_way_in(page: Running) -> None:
    app = create_app(page.settings)
    app.state.office.uploads.close()
    changing = set()
    for route in app.routes:
        for method in getattr(route, "methods", None) or ():
            if method not in ("GET", "HEAD", "OPTIONS"):
                changing.add((method, route.path))  # type: ignore[attr-defined]
    with page.client() as client:
        paths = set(client.get("/openapi.json").json()["paths"])
    known = {path.replace("x.toml", "{name}") for path in CHANGES}
    assert {path for _, path in changing} - paths <= known


def test_every_answer_is_locked_down(page: Running) -> None:
    with page.client() as client:
        for address in (
            "/records",
            "/slide",
            "/decide",
            "/static/page.css",
            "/nowhere",
            "/api/season",
            "/api/nowhere",
        ):
            found = client.get(address).headers
            assert {name: found.get(name) for name in HEADERS} == HEADERS, address
    policy = HEADERS["Content-Security-Policy"]
    assert "default-src 'self'" in policy and "unsafe" not in policy
    assert HEADERS["Cache-Control"] == "no-store" and HEADERS["X-Content-Type-Options"] == "nosniff"


def test_pages_carry_no_inline_script_or_style(page: Running) -> None:
    with page.client() as client:
        for address in ("/", "/records", "/slide", "/decide", "/decide/example"):
            text = client.get(address, follow_redirects=True).text
            assert "<style" not in text and " style=" not in text and " onclick" not in text
            assert re.sub(r'<script src="/[a-z./]+" defer></script>', "", text).count("<script") == 0, address


@pytest.mark.usefixtures("undrawn")
def test_the_report_allows_its_own_style_and_no_script(page: Running) -> None:
    with page.client() as client:
        address = client.get("/decide/example").headers["location"].replace("/decide?", "/decide/report?")
        answer = client.get(address)
    policy = answer.headers["content-security-policy"]
    assert (
        answer.status_code == 200
        and "script" not in policy
        and "'sha256-" in policy
        and "<script" not in answer.text
    )


def test_too_large_a_request_is_refused(tmp_path: Path) -> None:
    small = Settings(tmp_path / "b", tmp_path / "f", port=0, most_upload_bytes=200_000)
    with running(small) as found, found.client() as client:
        token = token_in(client.get("/records").text)
        large = client.post(
            "/records/look", data={"token": token}, files={"files": ("a.csv", b"x" * 300_000)}
        )
        assert large.status_code == 413

        def pieces():
            for _ in range(40):
                yield b"x" * 50_000

        kind = {"Content-Type": "application/json"}
        assert client.post("/api/compare", content=pieces(), headers=kind).status_code == 413
        assert client.get("/records").status_code == 200


def test_no_address_reaches_the_disk(page: Running) -> None:
    with page.client() as client:
        for address in (
            "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static//etc/passwd",
            "/slide/..%2f..%2fetc.csv",
        ):  # fmt: skip
            answer = client.get(address)
            assert (
                answer.status_code in (400, 404)
                and "create_app" not in answer.text
                and "root:" not in answer.text
            )


def test_names_from_outside_are_shown_as_text(own_page: Running) -> None:
    evil = "<script>alert(1)</script>"
    with own_page.client() as client:
        token = token_in(client.get("/records").text)
        looked = client.post(
            "/records/look", data={"token": token}, files={"files": (f"{evil}.csv", sales(evil))}
        )
        assert (
            looked.status_code == 200 and evil not in looked.text and "&lt;script&gt;alert(1)" in looked.text
        )
        number = looked.text.split('name="upload" value="')[1].split('"')[0]
        added = client.post("/records/add", data={"token": token, "upload": number})
        assert added.status_code == 200 and "Added to the book" in added.text
        shown = client.get("/records").text
        assert evil not in shown and "&lt;script&gt;alert(1)" in shown
        plan = client.get(
            "/decide", params={"title": evil, "groups.0.name": evil, "programs.0.name": '"><i>'}
        ).text
        assert evil not in plan and '"><i>' not in plan
        quick = client.get("/", params={"weight_lb": evil, "growth": '"><i>', "source": evil, "x": evil}).text
        assert evil not in quick and '"><i>' not in quick


def test_formulas_in_csv_are_inert(own_page: Running) -> None:
    with own_page.client() as client:
        token = token_in(client.get("/records").text)
        looked = client.post(
            "/records/look",
            data={"token": token},
            files={"files": ("a.csv", sales("=HYPERLINK(1)", "no sale"))},
        )
        number = looked.text.split('name="upload" value="')[1].split('"')[0]
        form = {"token": token, "upload": number}
        aside = client.post("/records/set-aside.csv", data=form)
        client.post("/records/add", data=form)
        whole = client.get("/records/records.csv")
    for answer in (aside, whole):
        cells = [cell for row in csv.reader(io.StringIO(answer.text)) for cell in row]
        assert any("HYPERLINK" in cell for cell in cells)
        assert not [cell for cell in cells if cell.startswith(("=", "@"))]
    assert aside.headers["content-disposition"] == 'attachment; filename="set-aside.csv"'


def test_a_busy_book_is_told_plainly(own_page: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(book_file, "LOCK_SECONDS", 0.3)
    hold = "import duckdb, sys; c = duckdb.connect(sys.argv[1]); print('held', flush=True); sys.stdin.read()"
    holder = subprocess.Popen(
        [sys.executable, "-c", hold, str(own_page.settings.book)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    try:
        assert holder.stdout is not None and holder.stdout.readline()
        with own_page.client() as client:
            answer = client.get("/records")
            assert answer.status_code == 503 and "another program is using the sale book" in answer.text
            assert client.get("/api/book").status_code == 503
            assert client.get("/decide/example", follow_redirects=True).status_code == 200
    finally:
        holder.communicate()
    with own_page.client() as client:
        assert client.get("/records").status_code == 200


def test_what_the_disk_refuses_is_told_with_its_cause(page: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> object:
        raise OSError(errno.ENOSPC, "No space left on device", "/tmp/sales.duckdb")

    monkeypatch.setattr(Service, "summary", full)
    monkeypatch.setattr(Service, "records", full)
    with page.client() as client:
        for told in (client.get("/records"), client.get("/regions")):
            assert told.status_code == 400
            assert "/tmp/sales.duckdb: can&#39;t be read or written: the disk is full" in told.text
        fault = client.get("/api/book").json()["faults"][0]
    assert (fault["what"], fault["where"]) == (
        "can't be read or written: the disk is full",
        "/tmp/sales.duckdb",
    )
    assert fault["remedy"].startswith("Free some space")


def test_a_crash_harms_no_other_request(page: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    real = decide_views.form_of

    def breaks(values: dict[str, str], problems: dict[str, str]) -> object:
        if values.get("title") == "break":
            raise ZeroDivisionError("secret of the inside")
        return real(values, problems)

    monkeypatch.setattr(decide_views, "form_of", breaks)
    with page.client() as client:
        broken = client.get("/decide", params={"title": "break"})
        assert (
            broken.status_code == 500
            and "fault of the program" in broken.text
            and "secret" not in broken.text
        )
        assert {name: broken.headers.get(name) for name in HEADERS} == HEADERS
        assert client.get("/decide", params={"title": "whole"}).status_code == 200
