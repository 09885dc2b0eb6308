"""Records on the page: words of the class column are settled by a select, and the source is known the next time."""

from __future__ import annotations

from running import Running, token_in

ROWS = "date,sex,head,wt,price\n2026-10-03,{0},12,512,251\n2026-10-03,2,9,498,228\n2026-10-03,{0},7,560,240\n"


def test_a_word_is_taught_on_the_page_and_known_again(own_page: Running) -> None:
    with own_page.client() as client:
        token = token_in(client.get("/records").text)
        files = {"files": ("coded.csv", ROWS.format("1").encode())}
        asked = client.post("/records/look", data={"token": token}, files=files)
        assert (
            asked.status_code == 400 and "&#39;1&#39; (2 rows)" in asked.text and 'name="word"' in asked.text
        )
        number = asked.text.split('name="upload" value="')[1].split('"')[0]
        form = {"token": token, "upload": number, "word": "1", "word_meaning": "steer"}
        looked = client.post("/records/look-again", data=form)
        assert looked.status_code == 200 and 'name="value.sex.2"' in looked.text
        form = {"token": token, "upload": number, "value.sex.1": "steer", "value.sex.2": "heifer"}
        assert "Added to the book" in client.post("/records/add", data=form).text
        files = {"files": ("next.csv", ROWS.format("1").replace("10-03", "10-10").encode())}
        known = client.post("/records/look", data={"token": token}, files=files)
        assert known.status_code == 200 and "by its card" in known.text
