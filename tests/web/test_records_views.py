"""Records on the page: words of the class column are settled by a select, and the source is known the next time."""

from __future__ import annotations

import re
from html import unescape

import httpx
from running import Running, token_in

ROWS = "date,sex,head,wt,price\n2026-10-03,{0},12,512,251\n2026-10-03,2,9,498,228\n2026-10-03,{0},7,560,240\n"


def test_a_word_is_taught_on_the_page_and_known_again(own_page: Running) -> None:
    with own_page.client() as client:
        token = token_in(client.get("/records").text)
        files = {"files": ("coded.csv", ROWS.format("1").encode())}
        asked = client.post("/records/look", data={"token": token}, files=files)
        assert asked.status_code == 400 and "&#39;1&#39; (2 rows)" in asked.text
        assert 'name="value.sex.1"' in asked.text and 'name="value.sex.2"' in asked.text
        number = asked.text.split('name="upload" value="')[1].split('"')[0]
        form = {"token": token, "upload": number, "value.sex.1": "steer"}
        looked = client.post("/records/look-again", data=form)
        assert looked.status_code == 200 and 'name="value.sex.2"' in looked.text
        form = {"token": token, "upload": number, "value.sex.1": "steer", "value.sex.2": "heifer"}
        assert "Added to the book" in client.post("/records/add", data=form).text
        files = {"files": ("next.csv", ROWS.format("1").replace("10-03", "10-10").encode())}
        known = client.post("/records/look", data={"token": token}, files=files)
        assert known.status_code == 200 and "by its card" in known.text


def looked_at(client: httpx.Client, name: str, text: str) -> httpx.Response:
    token = token_in(client.get("/records").text)
    return client.post("/records/look", data={"token": token}, files={"files": (name, text.encode())})


def row(weight: int, price: float) -> str:
    return f"2026-10-03,steer,9,{weight},{price}\n"


def test_every_open_heading_of_a_refused_file_is_settled_in_one_round(own_page: Running) -> None:
    text = "Date,Kd,Num Of,Wgh X,Got X\n2026-10-03,Q1,12,512,251\n2026-10-03,Q2,9,498,228\n"
    with own_page.client() as client:
        asked = looked_at(client, "odd.csv", text)
        assert asked.status_code == 400 and "Headings that are not understood" in asked.text
        for heading, cells in (("Wgh X", "512, 498"), ("Got X", "251, 228")):
            assert f'name="column.{heading}"' in asked.text and f"{cells}</td>" in asked.text
        names = [unescape(name) for name in re.findall(r'name="(column\.[^"]+)"', asked.text)]
        form = {"token": token_in(asked.text), "upload": asked.text.split('name="upload" value="')[1][:32]}
        fields = {"Kd": "sex", "Num Of": "head", "Wgh X": "weight", "Got X": "price"}
        form |= {name: fields[name.removeprefix("column.")] for name in names}
        form |= {"value.sex.Q1": "steer", "value.sex.Q2": "heifer"}
        settled = client.post("/records/look-again", data=form)
        assert settled.status_code == 200 and "Add 2 records" in settled.text


def test_prices_stand_over_the_books_range_and_a_wrong_unit_is_seen(own_page: Running) -> None:
    right = "date,sex,head,wt,price\n" + "".join(row(weight, 330) for weight in (510, 520, 530))
    with own_page.client() as client:
        plain = looked_at(client, "right.csv", right)
        assert "Prices of the new rows, by weight" in plain.text and "500 to 599 lb" in plain.text
        assert "Is the unit right?" not in plain.text
        wrong = looked_at(client, "wrong.csv", right.replace(",330", ",165"))
        assert "outside the book" in wrong.text and "Is the unit right?" in wrong.text
        assert wrong.text.index("Is the unit right?") < wrong.text.index("/records/add")


def test_the_source_stands_beside_each_sample_and_every_words_column_offers_its_meanings(
    own_page: Running,
) -> None:
    text = "date,sex,grade,head,wt,price\n2026-10-03,steer,ML1,12,512,371\n2026-10-03,heifer,H-2,9,498,328\n"
    with own_page.client() as client:
        found = looked_at(client, "graded.csv", text).text
    assert "2: 2026-10-03 | steer | ML1 | 12 | 512 | 371" in found
    select = re.search(r'<select name="value\.grade\.H-2".*?</select>', found, re.DOTALL)
    assert select and "<option>ML 1-2</option>" in select[0] and "<option>not_feeder</option>" in select[0]
