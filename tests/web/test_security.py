"""The key of a page that is open to the network: nothing is seen or changed without it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import httpx
import pytest
from conftest import settings_in
from running import Running, running
from starlette.requests import Request

from slidefit.web import security
from slidefit.web.security import ENTRY_COOKIE, LETTERS, MOST_WRONG, PAUSE_SECONDS, Lock, new_key

KEY = "abcd-efgh-jkmn"
PATHS = (
    "/",
    "/records",
    "/slide",
    "/decide/example",
    "/regions",
    "/records/records.csv",
    "/slide/slide.json",
)


@pytest.fixture(scope="module")
def keyed(filled: Path) -> Iterator[Running]:
    with running(replace(settings_in(filled), key=KEY)) as found:
        yield found


@pytest.fixture
def client(keyed: Running) -> Iterator[httpx.Client]:
    with keyed.client() as found:
        yield found


@pytest.mark.parametrize("path", PATHS)
def test_nothing_is_shown_without_the_key(client: httpx.Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 303 and answer.headers["location"] == "/enter"
    assert "Cold Kettle" not in answer.text


@pytest.mark.parametrize("path", ["/api/book", "/api/slide", "/openapi.json"])
def test_the_json_interface_is_shut_too(client: httpx.Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 401 and "key" in answer.json()["faults"][0]["what"]


@pytest.mark.parametrize("path", ["/records/undo", "/slide/fit", "/regions/make", "/api/compare"])
def test_nothing_is_changed_without_the_key(client: httpx.Client, path: str) -> None:
    assert client.post(path, data={"batch": "1"}).status_code == 401


def test_the_printed_address_lets_in_and_is_remembered(client: httpx.Client) -> None:
    answer = client.get(f"/enter?key={KEY}")
    assert answer.status_code == 303 and answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(ENTRY_COOKIE) and "HttpOnly" in cookie and "SameSite=lax" in cookie
    assert KEY not in cookie and KEY.replace("-", "") not in cookie
    assert client.get("/records").status_code == 200
    assert client.get("/api/book").status_code == 200
    assert client.get("/enter").status_code == 303


def test_the_key_can_be_typed(client: httpx.Client) -> None:
    assert client.get("/enter").status_code == 401
    assert client.post("/enter", data={"key": "wrong"}).status_code == 403
    assert client.post("/enter", data={"key": " ABCD efgh jkmn "}).status_code == 303
    assert client.get("/records").status_code == 200


def test_a_foreign_cookie_does_not_open(client: httpx.Client) -> None:
    for value in ("", KEY, "0" * 64, "é"):
        cookie = f"{ENTRY_COOKIE}={value}".encode()
        assert client.get("/records", headers={"Cookie": cookie}).status_code == 303


def test_style_is_free_and_nothing_beside_it(client: httpx.Client) -> None:
    assert client.get("/static/page.css").status_code == 200
    assert client.get("/static/../records").status_code == 303
    assert client.get("/static/%2e%2e/records").status_code == 404


def test_another_site_cannot_hand_in_keys(client: httpx.Client) -> None:
    answer = client.post("/enter", data={"key": KEY}, headers={"Origin": "http://evil.example"})
    assert answer.status_code == 403 and ENTRY_COOKIE not in answer.headers.get("set-cookie", "")


def test_without_a_key_the_door_is_open(page: Running) -> None:
    with page.client() as client:
        assert client.get("/enter").headers["location"] == "/"
        assert client.get("/records").status_code == 200


def test_guessing_is_slowed_down_for_the_guesser_alone() -> None:
    now = 0.0
    lock = Lock(KEY, clock=lambda: now)
    assert not any(lock.fits("wrong", "192.0.2.7") for _ in range(MOST_WRONG - 1))
    assert not lock.pauses("192.0.2.7")
    assert not lock.fits("wrong", "192.0.2.7") and lock.pauses("192.0.2.7")
    assert not lock.fits(KEY, "192.0.2.7") and lock.fits(KEY, "192.0.2.8")
    now = PAUSE_SECONDS - 0.1
    assert lock.pauses("192.0.2.7")
    now = PAUSE_SECONDS
    assert not lock.pauses("192.0.2.7") and lock.fits(KEY, "192.0.2.7")


def test_many_guessers_fill_no_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(security, "MOST_SENDERS", 5)
    lock = Lock(KEY)
    for sender in range(50):
        lock.fits("wrong", str(sender))
    assert list(lock._wrong) == ["45", "46", "47", "48", "49"]


@pytest.mark.parametrize(
    ("client", "sender"),
    [
        (("192.0.2.7", 4), "192.0.2.7"),
        (("2001:db8:1:2:3::4", 4), "2001:db8:1:2::"),
        (("2001:db8:1:2:ffff::1", 4), "2001:db8:1:2::"),
        (("::ffff:192.0.2.7", 4), "::ffff:192.0.2.7"),
        (("testclient", 4), "testclient"),
        (None, ""),
    ],
)
def test_an_ipv6_household_is_one_sender(client: tuple[str, int] | None, sender: str) -> None:
    request = Request({"type": "http", "client": client, "headers": []})
    assert security.sender_of(request) in (sender, "::ffff:c000:207")


def test_keys_are_new_each_time_and_easy_to_type() -> None:
    keys = {new_key() for _ in range(200)}
    assert len(keys) == 200
    assert all(set(key) <= {*LETTERS, "-"} and len(key) == 14 for key in keys)
    assert not set(LETTERS) & set("il1o0")
