"""One clause grammar for every order in which the trade quotes a sale: what each number becomes."""

from __future__ import annotations

import pytest

from slidefit.records.reading.clauses import clauses
from slidefit.records.words.units import price_unit_of


def lots(text: str) -> list[tuple[str, str, str, str]]:
    return [
        (c.lot.head, c.lot.weight, c.lot.price, c.lot.average)
        for c in clauses(text)
        if c.kind == "lot" and c.lot
    ]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (
            "6 head, 312 to 340 lbs., 186.00 to 192.00 (189.45)",
            ("6 head", "312 to 340 lbs.", "186.00 to 192.00", "(189.45)"),
        ),
        ("300-400# 12 hd 1.85-2.10", ("12 hd", "300-400#", "1.85-2.10", "")),
        ("16 blk sts 512 lbs @ 203", ("16", "512 lbs", "203", "")),
        ("$248.50 - 18 steers - 524 lbs", ("18", "524 lbs", "$248.50", "")),
        ("4-5 wt 265-312 avg 288.40", ("", "4-5 wt", "265-312", "avg 288.40")),
        ("400-450 lbs, 30 head, avg $422", ("30 head", "400-450 lbs", "", "avg $422")),
        ("5-6 cwt 236.00-258.00", ("", "5-6 cwt", "236.00-258.00", "")),
        ("9 cwt and up 170.00-181.00", ("", "9 cwt and up", "170.00-181.00", "")),
        ("over 900 lbs. $128-$134", ("", "over 900 lbs.", "$128-$134", "")),
        ("430 lbs. thin fleshed $214.00", ("", "430 lbs.", "$214.00", "")),
        ("14 head averaging 512 lbs. sold for $251.25 per cwt", ("14 head", "512 lbs.", "$251.25", "")),
        (
            "500-550 lbs. 240.00-252.00, mostly 245.00, averaging 247.10",
            ("", "500-550 lbs.", "240.00-252.00", "averaging 247.10"),
        ),
        (
            "10 head, 455-470 lbs., $160.00$164.00 (162.10)",
            ("10 head", "455-470 lbs.", "$160.00$164.00", "(162.10)"),
        ),
        ("3 cows 1210 91.00", ("3", "1210", "91.00", "")),
        ("A single red steer at 495 pounds made $238.00", ("1", "495 pounds", "$238.00", "")),
        ("750-800 lbs. not established", ("", "750-800 lbs.", "", "")),
        ("507-pounders, 10 of them, 411.75", ("10 of them", "507 lb", "411.75", "")),
        ("3 to 4 cwt, 15 sold, 463.50", ("15 sold", "3 to 4 cwt", "463.50", "")),
        (
            "350/399 lb .... 19 hd .. wt 380 .. 442 to 454.25 [447.75]",
            ("19 hd", "350/399 lb", "442 to 454.25", "[447.75]"),
        ),
        ("9 strs, a lame one, weighed 437, brought 4.31", ("9", "437", "4.31", "")),
        ("16 at 521 for 354.25", ("16", "521", "354.25", "")),
        ("9 blk strs 497 - 4.12", ("9", "497", "4.12", "")),
        ("Steers 400-500 lb: 430.50 (115)", ("115", "400-500 lb", "430.50", "")),
        ("346 lb (20) $1611/hd", ("20", "346 lb", "$1611", "")),
        ("Steers 400-500 lb: 430.50 (412)", ("", "400-500 lb", "430.50", "(412)")),
        ("Elm Park sold 61 Angus steers, 292kg, for 462c/kg", ("61", "292kg", "462", "")),
        ("At Elm Barn, 25 steers averaging 485 pounds brought $421.00", ("25", "485 pounds", "$421.00", "")),
        ("15 hd 414-430 lbs 448-452 (422 lbs, 450)", ("15 hd", "414-430 lbs", "448-452", "450")),
        ("Two days later 10 steers weighing 516 lb brought $410", ("10", "516 lb", "$410", "")),
        ("28 steers, 418 lbs, $1,860 (445.00)", ("28", "418 lbs", "445.00", "")),
        ("12 steers 292kg $1349 462c", ("12", "292kg", "462c", "")),
    ],
)
def test_a_quoted_sale(text: str, wanted: tuple[str, str, str, str]) -> None:
    assert lots(text) == [wanted]


def test_a_price_behind_words_is_of_other_calves_of_that_weight() -> None:
    assert lots("550-600 lbs. $156 to $168, thin fleshed $149") == [
        ("", "550-600 lbs.", "$156 to $168", ""),
        ("", "550-600 lbs.", "$149", ""),
    ]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Steers and heifers 500-550 lbs were 5.00 higher.", "narrative"),
        ("Feeder steers 2.00 to 4.00 higher", "narrative"),
        ("Steers: 512 lbs 251.25 and 240.00", "unknown"),
        ("15 steers & 3 heifers 500 lb 350.00", "unknown"),
        ("Slaughter cows $78.00-$94.00", "partial"),
        ("Steers, medium and large 1", "class"),
        ("Medium and Large 1-2", "grade"),
        ("Receipts 1,212 head on October 3, 2023", "words"),
        ("Call 575-555-0134, page 2 of 3, 54 percent steers", "class"),
        ("Volume 1,915", "narrative"),
        ("thin $171.00", "partial"),
        ("sorry, 3.81 on the 562s", "partial"),
        ("22 strs 655 lb bid to 3.40", "unknown"),
        ("dad says top strs 4.61 on 560 lb", "unknown"),
        ("calves were $5 to $8 better", "narrative"),
    ],
)
def test_what_is_no_lot(text: str, kind: str) -> None:
    assert kind in {clause.kind for clause in clauses(text)}


def test_the_mean_weight_before_the_price_and_a_price_of_other_calves_behind_it() -> None:
    (clause,) = clauses("71 head, 354-385 lbs, average 364 lbs, 483.25-498.25, average 491.25")
    assert clause.lot and (clause.lot.mean, clause.lot.average) == ("364 lbs", "average 491.25")
    assert lots("600-700 lbs 318-336.50, top 341.00 on 22 head 607 lbs")[1] == (
        "22 head",
        "607 lbs",
        "341.00",
        "",
    )


def test_bare_ranges_are_weights_and_prices_in_turn_and_another_class_begins_anew() -> None:
    found = [c.lot for c in clauses("STR 400-500 422-442, 500-600 383-403 HFR 400-500 389-409") if c.lot]
    assert [(lot.weight, lot.price) for lot in found] == [
        ("400-500", "422-442"),
        ("500-600", "383-403"),
        ("400-500", "389-409"),
    ]
    assert [lot.before for lot in found] == [["STR"], [], ["HFR"]]
    assert not lots("Strs 300-349,Strs 500-549,Strs 750-799")


def test_a_price_outside_the_range_before_it_is_of_another_lot() -> None:
    assert len(lots("6 hd 425-439 lbs 443.50-447.50, 432 lbs 445.50")) == 1
    assert len(lots("6 hd 425-439 lbs 443.50-447.50, 432 lbs 440.00")) == 2


@pytest.mark.parametrize("unit", ["cents a pound", "cents the pound", "cents per lb"])
def test_cents_before_a_pound_are_no_dollars(unit: str) -> None:
    found = [c.lot.unit for c in clauses(f"300-350 lbs. brought 324 to 343 {unit} (7 head)") if c.lot]
    assert [price_unit_of(text) for text in found] == ["cents/lb"]


def test_every_number_of_the_shape_of_a_weight_or_price_is_accounted_for() -> None:
    text = (
        "Steers: 400-450 lbs. $182.00-$196.00; 450 lbs. thin $171.00. 750-800 lbs. not established. "
        "Heifers: 500-550 lbs. were 5.00 higher. 512 lbs. 250.00 and 240.00"
    )
    kinds = [clause.kind for clause in clauses(text)]
    assert kinds.count("lot") == 4 and kinds.count("narrative") == 1 and kinds.count("unknown") == 1


@pytest.mark.parametrize(
    "line", ["35 steers, 277kg, 487c/kg, $1349", "35 steers 500 lb $350.00, $1,750 a head"]
)
def test_a_sum_by_the_head_is_no_second_price(line: str) -> None:
    assert [each.kind for each in clauses(line)] == ["lot"]
    other = line.replace("1349", "1249").replace("1,750", "1,650")  # 6 percent off: another price
    assert [each.kind for each in clauses(other)] != ["lot"]
