"""A sale day in the title against a column of later days: decided once, told, and changed by a word."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import QuestionError
from slidefit.records.read import read
from tests.records.meaning.test_rival_columns import TODAY, lots

VIDEO = """Video auction results; sale day August 3 2023
Date,Head,Class,Weight,Price
{first},80,Steers,575,249.00
10/15/2023,120,Heifers,545,227.00
"""


def days(path: Path, first: str, sale_day: str | None = None) -> tuple[set[str], str]:
    path.write_text(VIDEO.format(first=first))
    result = read(path, sale_day=sale_day)
    return set(result.records["sale_date"].dt.strftime("%Y-%m-%d")), " ".join(result.notes)


@pytest.mark.parametrize(
    ("first", "sale_day", "wanted"),
    [
        ("10/01/2023", None, {"2023-08-03"}),
        ("8/7/2023", None, {"2023-08-03"}),  # four days later: a delivery
        ("8/6/2023", None, {"2023-08-06", "2023-10-15"}),  # three days: the same sale may last as long
        ("10/01/2023", "column", {"2023-10-01", "2023-10-15"}),
        ("8/6/2023", "title", {"2023-08-03"}),
    ],
)
def test_later_days_are_deliveries(
    tmp_path: Path, first: str, sale_day: str | None, wanted: set[str]
) -> None:
    found, notes = days(tmp_path / "video.csv", first, sale_day)
    assert found == wanted
    assert ("taken as deliveries" in notes) == (wanted == {"2023-08-03"})


@pytest.mark.parametrize(
    ("codes", "kept"),
    [("SD SD NS SD", 3), ("SD SD SD SD", 4), ("SD AB NS SD", 4), ("NS NS NS NS", 0)],
)
def test_of_two_codes_one_of_which_says_unsold_the_other_is_sold(
    codes: str, kept: int, tmp_path: Path
) -> None:
    """Three codes, or one that says nothing, tell no more than that the column was not read."""
    rows = [f"10/08/2026,Steers,12,{550 + at},390,{code}" for at, code in enumerate(codes.split())]
    (tmp_path / "a.csv").write_text("\n".join(["Date,Class,Head,Wt,Price,Stat", *rows]) + "\n")
    assert read(tmp_path / "a.csv").accepted == kept


@pytest.mark.parametrize(
    ("title", "states", "markets"),
    [
        ("Big Fen Video Auction", ("Colorado", "Wyoming"), {"Big Fen Video Auction"}),
        ("Results", ("Colorado", "Wyoming"), {"Colorado", "Wyoming"}),
        ("Results", ("CO", "WY"), {""}),
    ],
)
def test_a_state_by_its_name_stands_in_for_the_market_where_no_title_names_it(
    title: str, states: tuple[str, str], markets: set[str], tmp_path: Path
) -> None:
    rows = [f"{states[0]},8/5/2026,Steers,143,496,415.25", f"{states[1]},8/5/2026,Steers,99,554,385.75"]
    (tmp_path / "a.csv").write_text("\n".join([title, "State,Date,Class,Head,Wt,Price", *rows]) + "\n")
    assert set(read(tmp_path / "a.csv").records["market"]) == markets


def test_a_price_by_weight_goes_before_money_alone(tmp_path: Path) -> None:
    path = tmp_path / "mart.csv"
    path.write_text(
        "Date,Class,Head,Av. wt (kg),Av. £,Av. p/kg\n"
        "09/10/2026,Steers,29,408,1514,371\n23/10/2026,Steers,9,339,1315,388\n"
    )
    found = read(path).records
    assert [round(price, 1) for price in found["price_cwt"]] == [168.3, 176.0]


@pytest.mark.parametrize(
    ("title", "market"), [("Rook Hill Livestock\n", "Rook Hill Livestock"), ("", "Doane")]
)
def test_towns_beside_a_named_market_are_those_of_sellers(tmp_path: Path, title: str, market: str) -> None:
    path = tmp_path / "sales.csv"
    path.write_text(
        f"{title}Date,Town,Head,Kind,Weight,Price\n10/21/2026,Doane,20,Str,460,426\n10/21/2026,Doane,9,Str,546,402\n"
    )
    assert set(read(path).records["market"]) == {market}


@pytest.mark.parametrize(("heading", "head"), [("animals", [22.0, 16.0]), ("category", None)])
def test_a_column_of_animals_that_counts_them_is_the_head(
    tmp_path: Path, heading: str, head: list[float] | None
) -> None:
    path = tmp_path / "lots.csv"
    path.write_text(
        f"Date,Class,{heading},Wt,Price\n10/01/2026,Steer,22,598,340.5\n10/01/2026,Steer,16,486,381\n"
    )
    if head is None:  # a column of kinds by its heading: asked about
        with pytest.raises(QuestionError, match="no column of head was recognized"):
            read(path)
    else:
        assert list(read(path).records["head"]) == head


@pytest.mark.parametrize(
    ("sexes", "read_rows"),
    [
        (("Strs", "", "Strs", ""), 4),  # each block of a day has its class written again
        (("Strs", "", "Hfrs", ""), 4),
        (("Strs", "Strs", "", "Strs"), 3),  # written twice in a block: a blank is a missing cell
        (("Strs", "", "", "Strs"), 2),  # the second day begins with a blank
    ],
)
def test_a_class_written_once_holds_for_its_block_of_rows(
    tmp_path: Path, sexes: tuple[str, ...], read_rows: int
) -> None:
    path = tmp_path / "a.csv"
    days = ("10/6/2026", "10/6/2026", "10/13/2026", "10/13/2026")
    rows = [
        f"{day},{sex},{9 + at},{510 + 20 * at},{390 - at}"
        for at, (day, sex) in enumerate(zip(days, sexes, strict=True))
    ]
    path.write_text("\n".join(["Sale date,Sex,Head,Weight,Price ($/cwt)", *rows]))
    assert len(read(path).records) == read_rows


def test_an_average_inside_its_classes_of_weight_is_that_of_the_weight(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    heading = "Sale date,Sex,Head,Weights,Average,Price,Wtd. avg"
    path.write_text(
        f"{heading}\n10/6/2026,steer,9,362-393,385,437-457,448.27\n10/6/2026,steer,8,404-446,438,425-439,430.01\n"
    )
    assert read(path).records["weight_lb"].tolist() == [385.0, 438.0]


def test_the_head_of_a_sale_and_numbers_of_lots_are_no_head(tmp_path: Path) -> None:
    rows = [
        f"10/12/2026,85,{at},{kind},{head},556,389.75"
        for at, (kind, head) in enumerate(
            [("steer", 9), ("heifer", 4), ("steer", 17), ("steer", 9), ("bull", 2), ("steer", 31)]
        )
    ]
    path = lots(tmp_path, "Date,Head,N,Class,Hd,Wt,Price", *rows)
    assert read(path, today=TODAY).records["head"].tolist() == [9, 4, 17, 9, 2, 31]


def test_cells_that_name_their_unit_tell_their_field_under_any_heading(tmp_path: Path) -> None:
    rows = [f"10/08/2026,Steers,{n} hd,{450 + 10 * n} lbs,${390 - n}.50/cwt" for n in (7, 9, 12)]
    found = read(lots(tmp_path, "Date,Class,Size,Scaled,Result", *rows), today=TODAY).records
    assert found[["head", "weight_lb", "price_cwt"]].iloc[0].tolist() == [7, 520, 383.5]


@pytest.mark.parametrize("off", [0, 9])
def test_the_weight_of_a_lot_over_its_head_is_its_mean_and_anything_else_is_asked_about(
    tmp_path: Path, off: int
) -> None:
    rows = [f"10/08/2026,S,{n},{n * (500 + n)},{500 + n + off},{390 - n}.50" for n in (7, 9, 12, 15, 21, 30)]
    path = lots(tmp_path, "Date,Sex,Hd,Pay Lbs,Pay Avg,$/Cwt", *rows)
    if off:
        with pytest.raises(QuestionError, match="Pay Avg"):
            read(path, today=TODAY)
    else:
        assert read(path, today=TODAY).records["weight_lb"].tolist() == [507, 509, 512, 515, 521, 530]


def test_a_range_in_which_the_weights_lie_and_the_prices_do_not_is_of_the_weight(tmp_path: Path) -> None:
    rows = [f"10/08/2026,Steers,450-499,9,{460 + n},41{n}.50" for n in range(3)]
    found = read(lots(tmp_path, "Date,Class,Range,Hd,Avg lb,$/cwt", *rows), today=TODAY).records
    assert found["weight_high_lb"].tolist() == [499] * 3 and found["price_high_cwt"].isna().all()


def test_what_is_sold_at_a_name_is_sold_at_a_place_and_a_name_of_classes_is_their_class(
    tmp_path: Path,
) -> None:
    rows = [f"10/08/2026,Burnt Mill,Feeder Steer,9,{460 + n},39{n}.50" for n in range(3)]
    found = read(lots(tmp_path, "Date,Sold at,Name,Hd,Avg lb,$/cwt", *rows), today=TODAY).records
    assert set(found["market"]) == {"Burnt Mill"} and set(found["sex"]) == {"steer"}
