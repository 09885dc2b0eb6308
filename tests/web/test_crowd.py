"""Many at once: no error, no mixed-up answer, and one writer at a time."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor

from running import Running, token_in

USERS, ANSWERED = 50, 20


def test_many_at_once_each_get_their_own_answer(page: Running) -> None:
    with page.client() as client:
        query = client.get("/decide/example").headers["location"].partition("?")[2]
    query = query.replace("dates.last_sale=2027-04", "dates.last_sale=2026-12")

    def ask(user: int) -> str:
        mine = query.replace("groups.0.name=Heavy+steers", f"groups.0.name=Herd+of+user+{user}x").replace(
            "groups.0.head=46", f"groups.0.head={100 + user}"
        )
        with page.client() as client:
            answer = client.get(f"/decide/answer?{mine}&risk.draws=256")
        assert answer.status_code == 200
        return answer.text

    with ThreadPoolExecutor(ANSWERED) as crowd:
        answers = list(crowd.map(ask, range(ANSWERED)))
    for user, text in enumerate(answers):
        assert set(re.findall(r"Herd of user (\d+)x", text)) == {str(user)}
        assert f"All {100 + user + 38 + 61} head" in text


def test_fifty_at_once_on_every_view(page: Running) -> None:
    views = (
        "/records",
        "/slide",
        "/decide",
        "/api/season",
        "/slide/season.svg",
        "/api/book",
        "/records/records.csv",
    )

    def ask(user: int) -> int:
        with page.client() as client:
            return client.get(views[user % len(views)]).status_code

    with ThreadPoolExecutor(USERS) as crowd:
        assert set(crowd.map(ask, range(USERS))) == {200}


def test_many_add_at_once_and_nothing_is_lost(own_page: Running) -> None:
    with own_page.client() as client:
        before = client.get("/api/book").json()["records"]

    def add(user: int) -> None:
        rows = (
            "Sale Date,Market,Sex,Head,Avg Wt,Price\n"
            f"2026-09-14,Barn {user},Steers,12,552,389\n"
            f"2026-09-14,Barn {user},Steers,9,610,371\n"
        )
        with own_page.client() as client:
            token = token_in(client.get("/records").text)
            looked = client.post(
                "/records/look", data={"token": token}, files={"files": ("a.csv", rows.encode())}
            )
            number = looked.text.split('name="upload" value="')[1].split('"')[0]
            assert client.post("/records/add", data={"token": token, "upload": number}).status_code == 200

    with ThreadPoolExecutor(3) as crowd:
        list(crowd.map(add, range(3)))
    with own_page.client() as client:
        book = client.get("/api/book").json()
    assert book["records"] == before + 6
    assert {f"Barn {user}" for user in range(3)} <= {each["market"] for each in book["markets"]}
