"""The month of a contract in every usual spelling, and its last day."""

from datetime import date

import pytest

from slidefit.errors import RecordsError
from slidefit.futures_contracts import contract_month, expiry, nearest_expiry

NOV4 = date(2026, 11, 4)
LAST_QUOTED = {
    "2016-04": 28,
    "2016-05": 26,
    "2017-04": 27,
    "2018-04": 26,
    "2018-11": 15,
    "2019-11": 21,
    "2020-04": 30,
}


@pytest.mark.parametrize(
    "text",
    [
        "2027-01",
        "2027/1",
        "202701",
        "1/2027",
        "01-2027",
        "Jan 2027",
        "January 2027",
        "Jan-27",
        "JAN27",
        "Jan '27",
        "Jan. 2027",
        "2027 Jan",
        "F27",
        "F2027",
        "GFF27",
        "GF F27",
        "2027-01-28",
        "January 2027 contract",
    ],
)
def test_every_usual_spelling_of_a_contract_month_is_one(text):
    assert contract_month(text) == "2027-01"


@pytest.mark.parametrize(("letter", "month"), list(zip("FGHJKMNQUVXZ", range(1, 13), strict=True)))
def test_month_codes_are_the_exchanges(letter, month):
    assert contract_month(f"{letter}27") == f"2027-{month:02d}"


@pytest.mark.parametrize(
    ("text", "wanted"),
    [("Nov", "2026-11"), ("Oct", "2027-10"), ("F7", "2027-01"), ("X6", "2026-11"), ("F6", "2036-01")],
)
def test_a_spelling_without_its_year_is_the_next_such_month(text, wanted):
    assert contract_month(text, as_of=NOV4) == wanted


@pytest.mark.parametrize("text", ["", "Smarch 2027", "13/2027", "2027-13", "A27", "spot", "Nov", "F7"])
def test_what_is_not_a_contract_is_refused(text):
    with pytest.raises(RecordsError, match="is not a contract month"):
        contract_month(text)


@pytest.mark.parametrize(("contract", "day"), LAST_QUOTED.items())
def test_a_contract_ends_when_it_was_last_quoted(contract, day):
    """Last days in the stored settlements of 2016 to 2020 (a public repository's series)."""
    assert expiry(contract) == date(int(contract[:4]), int(contract[5:]), day)


def test_the_nearest_contract_is_the_first_that_has_not_ended():
    assert nearest_expiry(date(2019, 11, 21)) == expiry("2019-11")
    assert nearest_expiry(date(2019, 11, 22)) == expiry("2020-01")
    assert nearest_expiry(date(2020, 6, 1)) == expiry("2020-08")
