"""Why a row is set aside: every reason by name, in the order in which they are looked for, and what to do about it."""

from __future__ import annotations

REASONS: dict[str, str] = {
    "summary_row": "an average or a total, not a sale",
    "not_feeder": "no feeder calf: slaughter, bred or breeding stock, pairs, baby calves or another species",
    "dairy": "dairy or dairy-cross cattle, whose prices follow another slide",
    "missing_date": "no date of sale, or one that can't be read",
    "implausible_date": "the date of sale lies in the future",
    "missing_price": "no price, one that can't be read, or a bid at which the calves were not sold",
    "per_head_price": "the price is by the head; it is never read as a price per hundredweight",
    "carcass_price": "the price is by carcass weight",
    "price_inconsistent": "the mean price lies outside its own range, or the range is too wide for one class",
    "open_ended_weight": "the weight class has only one edge, or takes in all calves, and no mean weight is given",
    "missing_weight": "no weight, or one that can't be read",
    "weight_inconsistent": "mean weight, range and lot weight over head disagree",
    "implausible_weight": "no feeder calf weighs this",
    "missing_sex": "nothing says whether these are steers, heifers, bulls or mixed calves",
    "unit_doubtful": "no unit is given, and the number fits another unit better than its neighbours'",
    "implausible_price": "the price is more than twice, or (good grades) less than a third of, what its sale pays "
    "for weight and sex",
    "superseded": "a preliminary row whose final one is here",
    "duplicate": "the same report again",
}
REASON_CODES: dict[str, int] = {name: place for place, name in enumerate(REASONS, start=1)}
REASON_NAMES: tuple[str, ...] = ("", *REASONS)
