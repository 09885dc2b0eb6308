"""Every sentence that a person reads, in one place."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from slidefit.report import formatting as f

if TYPE_CHECKING:
    import pandas as pd

    from slidefit.decision.replay import Keeping
    from slidefit.decision.results import EnergyCheck, GroupResult, KeepOption, PastureUse, Unavailable
    from slidefit.decision.risk.answer_changes import FlipGrid, FlipResult
    from slidefit.decision.risk.sorting import Sorting
    from slidefit.market.backtest import Backtest
    from slidefit.market.fit.slide_model import ErrorRule
    from slidefit.market.outlook import Outlook, OutlookBasis


SEASON_TITLE = "Prices through the year, for the same calf"
SLIDE_TITLE = "The slide: what heavier calves give up"
SLIDE_CAPTION = (
    "Fall in price for 100 lb more, in percent of the price at the lighter weight, at the records' mean price level. "
    "Minus: heavier calves bring more a pound."
)
WITH_FUTURES = "The same with the demonstration's invented futures"
SLIDE_TODAY_CAPTION = (
    "Fall in price for 100 lb more, in percent of the price at the lighter weight, as of the last sales, with its "
    "interval; last column: the mean of all records. Minus: heavier calves bring more a pound."
)
SEASON_CAPTION = "Mean of the year = 100, for the same calf. A season repeats on average, not every year."
MONTH_CAPTION = (
    "* best on average. Gain over selling now; the range holds eight outcomes in ten. "
    "Bid to equal: the bid then, at that weight, that equals selling now."
)
NOWHERE = "nowhere"
BREAKEVEN_TITLE = "Breakevens: keeping equals selling now at"
DEFAULTS_TITLE = "Left out of the plan, so used"
SWINGS_CAPTION = (
    "One number at a time, all else as planned; two moving together can change what neither does alone."
)
TOLD_APART = "Too close to tell apart: go by your grass, pens and time."
GRID_SOURCE = "Black line: keeping equals selling now.\nBlue gains, ochre loses. Square: as planned."
FLIPS_TOLD = 3
FLIPS_HEADING = "What would change the answer"
CAUTIONS_HEADING = "What is not in the numbers, and cautions"
BUDGETS_HEADING = "The budgets, line by line, dollars a head"
SELL_NOW_BUDGET = "Selling now, $"
KEEP_BUDGET = "Keeping, $"
RESTS_HEADING = "What it rests on"
ANSWER_HEADING = "The answer, and how sure it is"
REPORT_TITLE = "Keep or sell"
BACK_TO_PLAN, SAVE_PDF, SAVE_PDF_A4 = "Back to the plan", "Save as PDF (letter)", "Save as PDF (A4)"
REPORT_SUBJECT = "Keeping calves compared with selling them now"
MONTHS_HEADING = "By month of sale"
MONTHS_EXPLAINED = (
    "Gain over selling now, dollars a head; the range holds eight outcomes in ten; "
    "odds that keeping beats selling now; * best by the budget."
)
ZERO_LINE = "selling now"
CANDIDATES_TITLE = "Slides tried on sales held out of the fit"
CANDIDATES_CAPTION = (
    "Whole sales are held out, in ten folds. Chosen: the simplest within one standard error of the best."
)
BAR_KEY = (
    "Bars: filled, eight times in ten; ring, the average; diamond, a bad year (the worst 1 in 10, averaged); "
    "upright line, even with selling now."
)
CASH_TITLE = "Cash paid out so far, all head kept"
WAYS_TITLE = "Choices side by side, dollars a head of all calves, over selling all now"
CODE_WORDS = "A phone on the same network that scans the code opens this plan again, at these prices."
FIGURES_TITLE = "Weights, the herd, acres"
GAIN_AXIS = "Gain over selling now, dollars per head"
GAIN_AXIS_SHORT = "Gain, dollars per head"
GAIN_SOURCE = "Marks: the budget at the expected price. Bars: eight outcomes in ten."


def basis_line(basis: OutlookBasis) -> str:
    """Return what an outlook rests on, in one line."""
    names = [name or "a market without a name" for name in basis.markets]
    where = f.listed(names) if 0 < len(names) <= 3 else f"{len(names)} markets"
    head = f"{f.count(basis.head)} head" if basis.head else "head not given"
    return (
        f"{f.count(basis.lots)} lots ({head}) in {f.count(basis.sales)} sale{'s' if basis.sales != 1 else ''} "
        f"at {where}, {f.day(basis.first_sale)} to {f.day(basis.last_sale)}"
    )


def verdict_line(verdict: str) -> str:
    """Return whether the records are enough, in one sentence; empty where nobody judged."""
    return f"Records behind the prices: {verdict}." if verdict else ""


def errors_line(rule: ErrorRule) -> str:
    """Return how the intervals of the slide were made."""
    if rule.kind == "crop year":
        return f"Intervals: errors clustered by crop year ({rule.groups} of them), t with {rule.groups - 1} degrees."
    if rule.kind == "sale":
        return (
            f"Intervals: errors clustered by sale ({f.count(rule.groups)} of them) and widened "
            f"{rule.inflation:.0f} times for drift of the slide, which so few years can't show."
        )
    other = "the region's" if rule.kind == "lot and region" else "the usual"
    return f"Intervals: from the lots and {other} slide, each weighted by its precision."


ACCURACY_TITLE = "Past forecasts of the price at a sale, made with what was known then"
ACCURACY_CAPTION = (
    "Months ahead; bias and error in percent of the price (plus: prices came in higher); how often the price fell in "
    "the 50, 80 and 95% range; CRPS, which scores error and range together; the error with futures over that without; "
    "how much smaller the error is than if today's price, or the same month's last year, were the forecast."
)
REPLAY_TITLE = "What each rule made, dollars a head over selling at once"
REPLAY_CAPTION = (
    "Means per head started. The advice keeps where the expected gain is above zero. "
    "Bad tenth: mean of the worst tenth. Log: 100 times the mean of ln(1 + gain / net of selling), "
    "the growth of a check that is risked again and again."
)


def backtest_line(test: Backtest) -> str:
    """Return how many forecasts were replayed, and from when to when."""
    from slidefit.market.backtest import month_day

    first, last = (f"{month_day(test.origins[place].month):%B %Y}" for place in (0, -1))
    return f"{f.count(len(test.origins))} months replayed, from {first} to {last}, each with the sales up to then."


def replay_year_title(months_kept: int) -> str:
    """Return the title of the money by year."""
    return f"Kept {months_kept} {'month' if months_kept == 1 else 'months'}: what each rule made, by year"


def keeping_line(keeping: Keeping) -> str:
    """Return what a replay keeps, the same in every year but for costs, which go with the price of calves."""
    return (
        f"{keeping.sex.capitalize()}s of {f.weight_lb(keeping.start_lb)}, {keeping.gain_lb_day:.2f} lb a day, "
        f"{f.percent(keeping.death_loss_pct)} deaths, {f.percent(keeping.shrink_pct)} shrink; "
        f"{f.money_cents(keeping.cost_head_day)} a day at {f.money(keeping.costs_of_cwt)}/cwt, scaled with price."
    )


def chart_source(basis: OutlookBasis) -> str:
    """Return the short source line under a picture."""
    return (
        f"Source: {f.count(basis.lots)} lots in {f.count(basis.sales)} sales, "
        f"{f.day(basis.first_sale)} to {f.day(basis.last_sale)}."
    )


def price_by_weight_source(basis: OutlookBasis, dots: int, *, drawn: bool = False) -> str:
    """Return what the curve, the band and the dots are; ``drawn`` lots are of sales drawn at random."""
    of_drawn = " (whole sales drawn at random)" if drawn else ""
    shown = (
        f"\nDots: {f.count(dots)} lots of the last year{of_drawn}, moved to this day's level, month, grade, lot size."
        if dots
        else ""
    )
    return f"Band: 95% interval of the mean price.{shown}\n{chart_source(basis)}"


def sell_now_title(group: GroupResult) -> str:
    """Return the title of the budget of selling now."""
    return f"{group.group}: sell now, {f.day(group.sell_now.sale_date)}"


def keep_title(group: GroupResult, option: KeepOption) -> str:
    """Return the title of the budget of keeping."""
    return f"{group.group}: keep on {option.program}, sell {f.day(option.sale_date)} ({option.days} days)"


def gain_line(option: KeepOption) -> str:
    """Return the gain from keeping with the value and the cost of gain."""
    told = f"Gain from keeping: {f.money_cents(option.gain_per_head, sign=True)} a head."
    if option.value_of_gain_per_lb is None or option.cost_of_gain_per_lb is None:
        return told
    return (
        f"{told} Value of gain {f.money_cents(option.value_of_gain_per_lb)} a pound, "
        f"cost of gain {f.money_cents(option.cost_of_gain_per_lb)} a pound."
    )


def pasture_line(pasture: PastureUse) -> str:
    """Return what an option asks of the pasture."""
    at_hand = "" if pasture.acres_at_hand is None else f", {f.count(pasture.acres_at_hand)} available"
    return (
        f"Pasture: {pasture.head_days_per_acre:.0f} head-days an acre at "
        f"{f.money_cents(pasture.cost_head_day)} per head per day; {pasture.head_per_acre:.2f} head an acre; "
        f"{f.count(pasture.acres_needed)} acres needed{at_hand}."
    )


def energy_line(energy: EnergyCheck) -> str:
    """Return the gain that the ration's energy supports beside the gain planned."""
    return (
        f"The ration's energy supports {energy.predicted_gain_lb_day:.2f} lb a day; the plan says "
        f"{energy.planned_gain_lb_day:.2f} lb."
    )


def left_out_line(items: Sequence[str]) -> str:
    """Return what is not in the numbers, in one sentence; empty where all is in them."""
    return f"Not in these numbers: {'; '.join(items)}." if items else ""


def defaults_line(rows: Sequence[tuple[str, str, str]]) -> str:
    """Return the plan fields that were left out and what was taken for them, zeros together; empty without any."""
    zeros = "; ".join(name for name, value, _ in rows if value == "0")
    told = "; ".join(f"{name} {value}" for name, value, _ in rows if value != "0")
    parts = [f"{DEFAULTS_TITLE}: {told}."] if told else []
    return " ".join([*parts, *([f"Counted as zero: {zeros}."] if zeros else [])])


def unavailable_line(each: Unavailable) -> str:
    """Return why a program and month are not compared."""
    return f"Not compared: {each.program}, {f.sale_month(each.sale_month)}: {each.reason}."


def gain_picture_alt(group: GroupResult) -> str:
    """Return the picture of sale months in words, for those who can't see it."""
    told = []
    for program in dict.fromkeys(option.program for option in group.keep):
        options = sorted((o for o in group.keep if o.program == program), key=lambda o: o.sale_date)
        first, last = options[0], options[-1]
        told.append(
            f"{program}: {f.money(first.gain_per_head, sign=True)} a head "
            f"in {f.sale_month(first.sale_month)}, "
            f"{f.money(last.gain_per_head, sign=True)} in {f.sale_month(last.sale_month)}"
        )
    return f"Chart of the gain from keeping {group.group} over selling now. {'; '.join(told)}."


def price_picture_alt(outlook: Outlook) -> str:
    """Return the picture of price by weight in words."""
    told = []
    for sex, curve in outlook.curves.items():
        ends = outlook.price_cwt(sex, [curve.low_lb, curve.high_lb], outlook.as_of)
        told.append(
            f"{sex}s from {f.price_cwt(float(ends[0]), forecast=True)} at {f.weight_lb(curve.low_lb)} "
            f"to {f.price_cwt(float(ends[1]), forecast=True)} at {f.weight_lb(curve.high_lb)}"
        )
    return f"Chart of price per hundredweight by weight on {f.day(outlook.as_of)}: {'; '.join(told)}."


def season_picture_alt(season: pd.DataFrame) -> str:
    """Return the picture of the season in words."""
    index = season["index"].to_numpy(dtype=float)
    months = [f.month_name(int(month)) for month in season["month"]]
    high, low = int(index.argmax()), int(index.argmin())
    if index[high] - index[low] < 0.05:
        return "Chart of the season: flat, since the records are too few to show one."
    return (
        f"Chart of the season: highest in {months[high]} ({index[high]:.1f}), lowest in {months[low]} "
        f"({index[low]:.1f}), the mean of the year being 100."
    )


def capital(text: str) -> str:
    """Return a text with its first letter large."""
    return text[:1].upper() + text[1:]


def report_date(as_of: str) -> str:
    """Return the line below a report's title."""
    return (
        f"Prices as of {as_of}. Dollars a head count every head you start with. An estimate, not a promise."
    )


def sentence(note: str) -> str:
    """Return a note as a sentence of its own.

    >>> sentence("the season is flat"), sentence("No bid was given.")
    ('The season is flat.', 'No bid was given.')
    """
    return capital(note if note.endswith((".", "!", "?")) else f"{note}.")


def option_words(group: str, program: str, sale_date: date) -> str:
    """Return which calves, kept how and sold when."""
    return f"{group} on {program}, sold {f.day(sale_date)}"


def swings_title(result: FlipResult) -> str:
    """Return the title of the picture of one-at-a-time swings."""
    return f"What would change the answer: {option_words(result.group, result.program, result.sale_date)}"


def swings_source(planned_gain: float) -> str:
    """Return how to read the picture of swings."""
    return (
        f"Each input over its own range, all else as planned (dashed, {f.money(planned_gain, sign=True)});\n"
        "light bar: low end, dark bar: high end. Solid line: same as selling now.\n"
        "* the answer changes inside the range."
    )


def flip_line(result: FlipResult) -> str:
    """Return what flips the answer of an option, in one sentence."""
    flips = [swing for swing in result.swings if swing.flips and swing.flip_at is not None]
    if not flips:
        return "No single number changes the answer within its likely range."
    told = [
        f"{s.label} at {f.measure(s.flip_at, s.unit)} (planned {f.measure(s.planned, s.unit)})"
        for s in flips[:FLIPS_TOLD]
    ]
    more = f"; and {len(flips) - FLIPS_TOLD} more" if len(flips) > FLIPS_TOLD else ""
    return f"{'Any one of these' if len(flips) > 1 else 'This'} alone changes the answer: {'; '.join(told)}{more}."


def grid_title(grid: FlipGrid) -> str:
    """Return the title of the picture of two inputs."""
    what = option_words(grid.group, grid.program, grid.sale_date)
    return f"Gain over selling now, dollars per head: {what}"


def sorting_line(sorting: Sorting) -> str:
    """Return what sorting a group by weight would do, in one sentence or two."""
    if sorting.threshold_lb is None:
        return f"{sorting.group}: every weight has the same best choice; sorting gains nothing."
    return (
        f"{sorting.group}: keep calves {sorting.keep_side} than {f.weight_lb(sorting.threshold_lb, forecast=True)} at "
        f"weaning (about {f.count(sorting.kept_head)} head), sell the rest. Sorting is worth "
        f"{f.money(sorting.value_of_sorting)} a head over treating all alike."
    )


def bar_words(option: KeepOption) -> str:
    """Return a range as a bar shows it, in words."""
    return (
        f"Keeping against selling now: 8 times in 10 between {f.money(option.p10, sign=True)} and "
        f"{f.money(option.p90, sign=True)} a head, {f.money(option.mean, sign=True)} on average, "
        f"{f.money(option.bad_year, sign=True)} in a bad year."
    )


def swings_picture_alt(result: FlipResult) -> str:
    """Return the picture of swings in words."""
    told = [
        f"{s.label} from {f.measure(s.low, s.unit)} to {f.measure(s.high, s.unit)}: gain from "
        f"{f.money(s.gain_low, sign=True)} to {f.money(s.gain_high, sign=True)}"
        for s in result.swings
    ]
    what = option_words(result.group, result.program, result.sale_date)
    return f"Chart of the gain over selling now for {what}, each input moved over its own range. {'; '.join(told)}."
