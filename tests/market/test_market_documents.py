"""The market's results as JSON."""

import json

import pytest

from slidefit.market.documents import fit_document, season_document, slide_document


def test_slides_have_the_promised_keys_and_null_for_the_year(fitted):
    document = json.loads(
        json.dumps(slide_document(fitted.slide(weight_lb=550, month=[None, 3])), allow_nan=False)
    )
    rows = document["slides"]
    assert [row["month"] for row in rows] == [None, 3, None, 3]
    promised = {
        "sex",
        "from_lb",
        "to_lb",
        "month",
        "percent_per_cwt",
        "percent_low",
        "percent_high",
        "dollars_per_cwt_per_cwt",
    }
    assert promised <= set(rows[0])
    assert (rows[0]["from_lb"], rows[0]["to_lb"]) == (500.0, 600.0)
    assert isinstance(rows[1]["month"], int)


def test_the_season_has_twelve_months_around_100(fitted):
    document = json.loads(json.dumps(season_document(fitted), allow_nan=False))
    assert [m["month"] for m in document["months"]] == list(range(1, 13))
    assert sum(m["index"] for m in document["months"]) / 12 == pytest.approx(100.0, abs=1e-3)
    assert all(set(m) == {"month", "index", "low", "high"} for m in document["months"])


def test_what_was_fitted_is_told(fitted):
    document = json.loads(json.dumps(fit_document(fitted), allow_nan=False))
    assert document["lots"] == 225 * 14 and document["sales"] == 225
    assert document["clustered_by"] == "crop year" and document["clusters"] == 9
    assert document["first_sale"] == "2017-10-04"
    assert document["slides"] and isinstance(document["notes"], list)
    assert document["model"] in {c.label for c in fitted.candidates}
