"""More lists as barns and offices write them, each with what must come out."""

from __future__ import annotations

import pytest

from slidefit.errors import QuestionError
from slidefit.records.read import read
from slidefit.records.words.headings import parse_heading


def test_bulls_too_heavy_for_feeding_are_set_aside(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "Date,Description,Hd,Wt,$/cwt\n2026-11-05,BWF BULL CALVES,4,470,375\n2026-11-05,CHAR BULL,1,1785,148\n"
        "2026-11-05,BLK STRS,12,512,389\n"
    )
    told = read(path)
    assert told.records["weight_lb"].tolist() == [470.0, 512.0]
    assert told.set_aside["reason"].tolist() == ["not_feeder"]


def test_lines_of_adverts_make_no_report_of_a_table(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "Date,Class,Head,Avg Wt,Price/cwt\n08/19/2025,Steers,21,731,352.25\n08/19/2025,Steers,60,812,338.1\n"
        '"TRAILERS, call 555-0142, 16 ft from $8,950",,,,\n08/19/2025,Heifers,18,688,331.5\n'
    )
    assert read(path).records[["head", "weight_lb"]].to_numpy().tolist() == [[21, 731], [60, 812], [18, 688]]


@pytest.mark.parametrize("line", ["Heifers 18   466   149.75", "Heifers      466   149.75"])
def test_a_count_one_blank_behind_its_class(tmp_path, line):
    path = tmp_path / "a.txt"
    path.write_text(
        "Quarry Ford Livestock\nCalf Sale, Wednesday, October 3 & 4, 2018    Printed October 9, 2018\n"
        "Class   Hd   Wt    $/cwt\n"
        f"Steers  22   478   171.25\nSteers  31   537   160.50\n{line}\nBulls    3   588   128.00\n"
    )
    told = read(path).records
    assert told["head"].fillna(0).tolist() == [22, 31, 18 if "18" in line else 0, 3]
    assert told["weight_lb"].tolist() == [478, 537, 466, 588]
    assert set(told["sale_date"].dt.date.astype(str)) == {"2018-10-03"}


def test_a_barn_of_one_report_in_many_and_a_class_before_a_colon(tmp_path):
    columns = "Head   Wt Range   Avg Wt    Price Range   Avg Price\n 8     455-488     473   405.00-422.00   414.31\n"
    path = tmp_path / "a.txt"
    path.write_text(
        "Avens Ford Livestock\nWeighted Average Report for 10/20/2025\n"
        f"Feeder Steers: Medium and Large Nos. 1-2\n{columns}"
        f"Borage Livestock\nWeighted Average Report for 10/22/2025\nFeeder Heifers: Small 1\n{columns}"
        "2025 to date 88,412 head; dressed cows 612 lbs 238.00\n"
    )
    told = read(path).records
    assert told[["market", "sex", "frame", "muscle"]].to_numpy().tolist() == [
        ["Avens Ford Livestock", "steer", "ML", "1-2"],
        ["Borage Livestock", "heifer", "S", "1"],
    ]
    assert told["price_cwt"].tolist() == [414.31, 414.31]


def test_classes_of_all_stock_under_an_unknown_heading(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "Report No,Sale Date,Repro Status,Hd,Lbs/hd,Bid\n"
        "4,11/04/2024,Steer,12,541,292.5\n4,11/04/2024,Heifer,9,487,274\n"
        "4,11/04/2024,Steer,7,618,271\n4,11/04/2024,Open Cow,1,1288,118\n4,11/04/2024,Bred 2nd,2,1165,131\n"
    )
    told = read(path)
    assert told.records["head"].tolist() == [12, 9, 7] and told.reasons == {"not_feeder": 2}


def test_an_index_beside_prices_is_no_price(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "Month,Feeder steer price index (1997=100),Steers 500-599 lb $/cwt\n"
        "Jan 2015,211.4,282.1\nFeb 2015,206.0,277.35\n"
    )
    assert read(path).records["price_cwt"].tolist() == [282.1, 277.35]


def test_classes_by_the_hundredweight_across_the_top(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "Date,Steers 4-5 cwt,Steers 5-6 cwt,Heifers 4-5 cwt\n9/4/2026,421.5,389.2,382.1\n9/18/2026,NQ,381.9,377.0\n"
    )
    told = read(path).records.sort_values(["sale_date", "sex", "weight_lb"])
    assert told["weight_lb"].tolist() == [450.0, 450.0, 550.0, 450.0, 550.0]
    assert told["sex"].tolist() == ["heifer", "steer", "steer", "heifer", "steer"]
    assert told["price_cwt"].tolist() == [382.1, 421.5, 389.2, 377.0, 381.9]


@pytest.mark.parametrize(
    ("text", "unit", "currency"),
    [
        ("price_eur_kg", "$/kg", "EUR"),
        ("Price USD lb", "$/lb", "USD"),
        ("avg_price_aud_kg", "$/kg", "AUD"),
        ("price_usd_cwt", "$/cwt", "USD"),
    ],
)
def test_money_and_weight_side_by_side_are_a_unit(text, unit, currency):
    heading = parse_heading(text)
    assert (heading.field, heading.unit, heading.currency) == ("price", unit, currency)


def test_labels_with_their_values_above_a_list_for_each_sex(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "Sale,11/3/2026\nBarn,Sage Flat\n,\nSteers,\nWeight,Avg\n450,412.10\n550,371.40\n650,340.00\n"
        "Heifers,\nWeight,Avg\n450,378.10\n550,346.40\n"
    )
    told = read(path).records
    assert told["sex"].tolist() == ["steer"] * 3 + ["heifer"] * 2
    assert told["price_cwt"].tolist() == [412.1, 371.4, 340.0, 378.1, 346.4]
    assert set(told["market"]) == {"Sage Flat"} and set(told["sale_date"].dt.date.astype(str)) == {
        "2026-11-03"
    }


def test_short_names_of_fields(tmp_path):
    path = tmp_path / "a.json"
    path.write_text(
        '{"report":{"slug":"x","date":"2026-10-14"},"sales":[{"cls":"STR","grd":"ML1","hd":12,"wt":512.5,"px":388.25},'
        '{"cls":"HFR","grd":"ML1","hd":7,"wt":505,"px":351.0}]}'
    )
    told = read(path).records
    assert told[["sex", "frame", "muscle"]].to_numpy().tolist() == [
        ["steer", "ML", "1"],
        ["heifer", "ML", "1"],
    ]
    assert told["price_cwt"].tolist() == [388.25, 351.0]


@pytest.mark.parametrize("order, days", [("mdy", ["10-03", "10-10"]), ("dmy", ["03-10", "10-10"])])
def test_days_without_a_year_take_the_titles(tmp_path, order, days):
    path = tmp_path / "a.csv"
    path.write_text(
        "Alder Ford Livestock 2026 fall sales\nDate,Class,Hd,Wt,Price\n10/3,Steers,12,512,388\n10/10,Steers,9,601,351\n"
    )
    told = read(path, date_order=order).records
    assert told["sale_date"].dt.strftime("%Y-%m-%d").tolist() == [f"2026-{day}" for day in days]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        (  # a title cut by its comma; measures in rows, classes across
            "Thistle Gap Livestock weekly feeder steers, $/cwt,,\nWeek ending,Measure,400-499,500-599\n"
            "10/04/2025,Head,12,30\n10/04/2025,Avg Wt,452,548\n10/04/2025,Avg Price,388.50,352.25\n",
            [("steer", 12, 452, 388.5), ("steer", 30, 548, 352.25)],
        ),
        (  # a range with its mean in one cell
            "Moss Vale Auction\nDate;Class;Head;Weight (avg);Price (avg)\n"
            "10/6/2025;Steers;13;400-449 (441);420.00-437.00 (428.00)\n"
            "10/6/2025;Steers;4;500-549 (527);395.00-410.00 (401.00)\n",
            [("steer", 13, 441, 428.0), ("steer", 4, 527, 401.0)],
        ),
        (  # names and values, one under another
            "Result sheet\n\nLot: 1\nSold: Mon 6 Oct 2025\nAnimals: 12 steers, home bred\nAverage weight: 555 lb\n"
            "Price: $392.50 per cwt\n----\nLot: 2\nSold: Mon 6 Oct 2025\nAnimals: 7 heifers\nAverage weight: 441 lb\n"
            "Price: not sold (bid $351.00 per cwt)\n----\nLot: 3\nSold: Mon 6 Oct 2025\nAnimals: 9 heifers\n"
            "Average weight: 470 lb\nPrice: $360.00 per cwt\n",
            [("steer", 12, 555, 392.5), ("heifer", 9, 470, 360.0)],
        ),
        (  # a letter: the year in its head, a mean weight in words
            "LETTER NO. 4, 2025\n\nMoss Vale Auction had 900 head on Monday, Oct. 6, against 800 a year ago. All "
            "prices per hundredweight. Feeder steers: 12 head, 538 to 563 lbs averaging 552, sold from 385.00 to "
            "400.00, average 393.00; 9 head, 600 to 640 lbs averaging 620, from 360.00 to 372.00, average 366.00.\n",
            [("steer", 12, 552, 393.0), ("steer", 9, 620, 366.0)],
        ),
        (  # a chat, which begins with a bracket
            "[10/6/25, 8:14:02 PM] Wes: how was it\n[10/6/25, 8:17:11 PM] Ada: 12 blk strs 552 @ 389\n"
            "14 red strs 618 @ 373\n"
            "[10/6/25, 8:20:05 PM] Ada: 7 strs 455 lbs PO'd at 410\n",
            [("steer", 12, 552, 389.0), ("steer", 14, 618, 373.0)],
        ),
        (  # measures with their units, the unit of each row its own
            '[{"saleDate":"2025-10-06","sex":"steer","count":12,"avgWeight":{"value":250,"unit":"kg"},'
            '"price":{"amount":3.9,"currency":"USD","per":"lb"},"status":"SOLD"},{"saleDate":"2025-10-06","sex":"steer","count":6,"avgWeight":'
            '{"value":595,"unit":"lb"},"price":{"amount":328,"currency":"USD","per":"cwt"},"status":"NO_SALE"}]',
            [("steer", 12, 551.16, 390.0)],
        ),
        (
            "From the yard 10/7/25\nhfrs 9 @ 498 lbs 3.28\n4 bull calves 540# $3.10/lb\n2 pairs 2850\n",
            [("heifer", 9, 498, 328.0), ("bull", 4, 540, 310.0)],
        ),
    ],
)
def test_head_and_class_stand_where_they_are_told(tmp_path, text, rows):
    path = tmp_path / "a.txt"
    path.write_text(text)
    told = read(path).records
    assert told[["sex", "head", "weight_lb", "price_cwt"]].to_numpy().tolist() == [list(row) for row in rows]


def test_a_misspelt_average_and_a_misspelt_price_are_asked_about(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("Sael Date,Clsas,Haed,Avg Wieght,Pirce/cwt\n10/07/2025,Steers,12,512,351.25\n")
    with pytest.raises(QuestionError) as asked:
        read(path)
    told = {heading: field for heading, field, _ in asked.value.values["headings"]}
    assert told == {
        "Sael Date": "date",
        "Clsas": "sex",
        "Haed": "head",
        "Avg Wieght": "weight",
        "Pirce/cwt": "price",
    }
    assert read(path, mapping=told).records["price_cwt"].tolist() == [351.25]


def test_two_moneys_in_a_column_that_no_heading_names(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "Date,Class,Hd,Wt (lb),Price /cwt,In\n10/16/2025,Steers,12,552,387.75,USD\n10/16/2025,Steers,7,618,498.75,CAD\n"
    )
    assert read(path).records["currency"].tolist() == ["USD", "CAD"]


def test_classes_spaced_out_over_two_lists_side_by_side(tmp_path):
    path = tmp_path / "a.txt"
    path.write_text(
        "MOSS VALE LIVESTOCK YARD          SALE DAY: MONDAY 6 OCTOBER 2025\nPRICES PER CWT\n\n"
        "           S T E E R S                     H E I F E R S\n"
        "  Weight   Head   Low-High       Avg      Weight   Head   Low-High       Avg\n"
        "  400-499     18   409-436     422.70    400-499     15   367-394     381.45\n"
        "  500-599     20   380-407     393.95    500-599     17   338-365     352.45\n"
        "  600-699     23   351-378     365.20    600-699     20   312-339     325.70\n"
    )
    told = read(path).records.sort_values(["sex", "weight_lb"])
    assert told["price_cwt"].tolist() == [381.45, 352.45, 325.7, 422.7, 393.95, 365.2]
    assert told["head"].tolist() == [15, 17, 20, 18, 20, 23]
