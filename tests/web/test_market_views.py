"""The adviser's view: make a region, see old against new, update, go back, print the sheet, decide by it."""

from __future__ import annotations

import re
import time

import pytest
from playwright.sync_api import Browser, expect
from running import DESK, PHONE, Running, token_in, watched

from slidefit.regions.region_file import read_region

TALL = 30_000.0


def test_an_adviser_from_a_fit_to_the_printed_sheet(chrome: Browser, own_page: Running) -> None:
    tab = chrome.new_context(viewport=PHONE).new_page()  # type: ignore[arg-type]
    tab.set_default_timeout(TALL)
    complaints = watched(tab)
    tab.goto(f"{own_page.address}/regions")
    tab.get_by_label("Name of the region").fill("Dry Fork <b>")
    tab.get_by_role("button", name="Make it").click()
    expect(tab.get_by_role("heading", level=1)).to_have_text("Dry Fork <b>")
    tab.get_by_role("button", name="Old against new").click()
    expect(tab.get_by_role("button", name="Write the new one")).to_be_visible(timeout=90_000)
    kept = {path.name for path in own_page.settings.regions.glob("*.former/*")}
    assert kept <= {
        "fitted.toml",
        "hand.json",
    }  # what was fitted, to know a hand edit by; no former version yet
    tab.get_by_role("button", name="Write the new one").click()
    expect(tab.get_by_role("button", name="Back to version 1")).to_be_visible(timeout=90_000)
    tab.get_by_role("button", name="Back to version 1").click()
    expect(tab.get_by_role("button", name="Back to version 2")).to_be_visible()
    assert tab.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    tab.get_by_role("link", name="Sheet to print").click()
    expect(tab.get_by_text("Dry Fork <b>").first).to_be_visible()
    assert tab.pdf(format="Letter").startswith(b"%PDF")
    tab.goto(f"{own_page.address}/decide/example")
    tab.locator("#plan > details > summary").first.click()
    tab.get_by_label("Where they come from").select_option("dry_fork_b.toml")
    expect(tab).to_have_url(re.compile(r"/decide\?prices=dry_fork_b\.toml&"))
    tab.get_by_text("What it rests on").click()
    expect(tab.locator("#answer")).to_contain_text("Dry Fork")
    tab.set_viewport_size(DESK)  # type: ignore[arg-type]
    assert tab.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert complaints == []
    tab.context.close()


@pytest.mark.usefixtures("undrawn")
def test_a_region_answers_as_the_fit_does(own_page: Running) -> None:
    with own_page.client() as client:
        token = token_in(client.get("/regions").text)
        made = client.post("/regions/make", data={"token": token, "name": "West"})
        assert made.headers["location"] == "/regions/west.toml"
        assert read_region(own_page.settings.regions / "west.toml").name == "West"
        query = client.get("/decide/example").headers["location"].partition("?")[2]
        answer = client.get(f"/decide/answer?prices=west.toml&{query}")
        by_fit = client.get(f"/decide/answer?{query}")
        told, same = (each.json()["headline"] for each in (answer, by_fit))
        assert answer.status_code == 200 and re.sub(r"\$\d+", "$", told) == re.sub(r"\$\d+", "$", same) != ""
        dollars = [[int(number) for number in re.findall(r"\$(\d+)", text)] for text in (told, same)]
        assert all(
            abs(a - b) <= 1 for a, b in zip(*dollars, strict=True)
        )  # within $.50, each rounded to the dollar
        assert client.get(f"/decide/report?prices=west.toml&{query}").status_code == 200
        assert (
            client.get("/regions/west.toml/file.toml").text
            == (own_page.settings.regions / "west.toml").read_text()
        )


def test_the_fit_comes_as_the_file_that_it_is(page: Running) -> None:
    with page.client() as client:
        assert client.get("/slide/slide.json").text == page.settings.fit.read_text()


def test_only_files_of_the_list_can_be_asked_for(own_page: Running) -> None:
    secret = own_page.settings.regions.parent / "secret.toml"
    secret.write_text('format = "slidefit region"\nname = "hidden"\n')
    with own_page.client() as client:
        token = token_in(client.get("/regions").text)
        for name in ("..%2fsecret.toml", "secret.toml", "%2fetc%2fpasswd", "sales.duckdb"):
            for address in (f"/regions/{name}", f"/regions/{name}/file.toml", f"/regions/{name}/sheet"):
                answer = client.get(address)
                assert answer.status_code in (400, 404) and "hidden" not in answer.text
        query = client.get("/decide/example").headers["location"].partition("?")[2]
        assert "no such region" in client.get(f"/decide/answer?prices=../secret.toml&{query}").text
        for name in ("../../outside", "/etc/outside", "..", "a\\b"):
            made = client.post("/regions/make", data={"token": token, "name": name})
            assert made.status_code in (303, 400)
    inside = own_page.settings.regions
    assert not (inside.parent / "outside.toml").exists()
    assert {path.name for path in inside.glob("*.toml")} <= {
        "outside.toml",
        "etc_outside.toml",
        "region.toml",
        "a_b.toml",
    }


def test_a_region_at_fault_is_told_and_harms_no_other(own_page: Running) -> None:
    (own_page.settings.regions / "bad.toml").write_text('format = "slidefit region"\nversion = "x"\n')
    with own_page.client() as client:
        listed = client.get("/regions")
        assert listed.status_code == 200 and "bad.toml" in listed.text and "at fault" in listed.text
        assert client.get("/regions/bad.toml").status_code == 400
        assert client.get("/decide/example", follow_redirects=True).status_code == 200


def test_numbers_set_on_the_page_are_kept_by_a_refresh_of_all_regions(own_page: Running) -> None:
    """A number that is none or would not hold is refused beside what was typed; then the rest of a season's work."""
    folder = own_page.settings.regions
    with own_page.client() as client:
        token = token_in(client.get("/regions").text)
        assert client.post("/regions/make", data={"token": token, "name": "East"}).status_code == 303
        path = folder / "east.toml"
        key = '["noise", "sale_pct"]'
        page = client.get("/regions/east.toml/numbers").text
        assert "noise sale_pct" in page and "set by hand on" not in page
        for wrong, told in (("much", "is not a number"), ("99", "99"), ("nan", "nan")):
            refused = client.post("/regions/east.toml/numbers", data={"token": token, key: wrong})
            assert refused.status_code == 400 and told in refused.text and f'value="{wrong}"' in refused.text
        assert read_region(path).noise.sale_pct != 7.5
        sent = {"token": token, key: "7.5", '["season", "jan", 0]': f"{read_region(path).season.jan[0]:g}"}
        assert client.post("/regions/east.toml/numbers", data=sent).status_code == 303
        assert read_region(path).noise.sale_pct == 7.5
        for address in ("/regions/east.toml", "/regions/east.toml/numbers"):
            assert "set by hand on" in client.get(address).text
        assert (
            client.post("/regions/refresh", data={"token": token}).headers["location"] == "/regions/refresh"
        )
        until = time.monotonic() + 90.0
        while "Now:" in (page := client.get("/regions/refresh").text) and time.monotonic() < until:
            time.sleep(0.2)
        assert "A season&#39;s work" in page and "East" in page and "7.5, set by hand" in page
        assert len(list(folder.glob("east.former/[0-9]*.toml"))) == 1
        written = client.post("/regions/refresh", data={"token": token, "write": "yes"})
        assert written.headers["location"] == "/regions" and read_region(path).noise.sale_pct == 7.5
        assert len(list(folder.glob("east.former/[0-9]*.toml"))) == 2
        assert {p.suffix for p in (folder / "hand-outs").glob("east.*")} == {".html", ".txt", ".png"}
        assert client.get("/regions/refresh").headers["location"] == "/regions"
