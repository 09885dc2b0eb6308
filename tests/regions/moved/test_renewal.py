"""An update never says that nothing moved while the same barn's newer records lie under another name."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from slidefit.errors import BookError, SlidefitError
from slidefit.market.checks import kin_of, market_spans
from slidefit.regions.moved.renewal import refreshed, renewed
from slidefit.regions.region import Region

MADE = date(2026, 11, 1)


def sold(market: str, first: str, last: str) -> pd.DataFrame:
    """A market's sales, one a month."""
    return pd.DataFrame({"market": market, "sale_date": pd.date_range(first, last, freq="28D")})


@pytest.fixture
def old(shipped: Region) -> Region:
    source = shipped.source.model_copy(update={"last_sale": date(2025, 6, 25)})
    return shipped.model_copy(update={"markets": ("Low Ferry",), "source": source})


@pytest.mark.parametrize("name", ["Low Ferry Livestock Auction - Millrace", "", "LOW FERRY"])
def test_newer_records_under_a_name_like_it_are_refused(old: Region, name: str) -> None:
    records = pd.concat(
        [sold("Low Ferry", "2020-01-01", "2025-06-25"), sold(name, "2025-07-02", "2026-10-01")]
    )
    with pytest.raises(BookError, match="newer records under") as caught:
        renewed(old, records, MADE)
    assert "one name" in str(caught.value)


def test_another_barn_is_not_taken_for_it(old: Region) -> None:
    """A name that is another, a barn that sold on beside it, and one whose records end no later."""
    own = sold("Low Ferry", "2020-01-01", "2025-06-25")
    for other in (
        sold("Stone Gap", "2025-07-02", "2026-10-01"),
        sold("Low Ferry West", "2021-01-01", "2026-10-01"),
        sold("Low Ferry Auction", "2025-06-01", "2025-06-20"),
    ):
        assert kin_of(old.markets, old.source.last_sale, market_spans(pd.concat([own, other]))) == ()


def test_no_record_of_its_markets_is_told(old: Region) -> None:
    with pytest.raises(BookError, match="holds no record of Low Ferry"):
        renewed(old, sold("Stone Gap", "2025-01-01", "2026-10-01"), MADE)


def test_a_folder_without_a_region_that_can_be_read_says_which_it_is(tmp_path):
    """No region file at all, and one at fault: two messages, and the records are asked for in neither."""
    with pytest.raises(SlidefitError, match="holds no region file") as empty:
        refreshed(tmp_path, lambda _: 1 / 0, date(2026, 11, 1))
    (tmp_path / "fen.toml").write_text('format = "slidefit region"\nversion = 9\n')
    with pytest.raises(
        SlidefitError, match=r"no region file can be read: fen\.toml: .*newer slidefit"
    ) as broken:
        refreshed(tmp_path, lambda _: 1 / 0, date(2026, 11, 1))
    assert "Make one" in str(empty.value.remedy) and str(broken.value.remedy) == "Fix it."
