"""Results as Python shows them: a few lines of text, tables in a notebook, the terminal's JSON, pictures."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import asdict, fields
from datetime import date
from typing import TYPE_CHECKING, Any

import pandas as pd

from slidefit.decision.results import Alternative, KeepOption
from slidefit.market.fit.fit_results import with_units
from slidefit.report import answers, market_content, report_content, sentences
from slidefit.report import formatting as f
from slidefit.report.document import Column, Document, document, table
from slidefit.report.json_answers import json_of
from slidefit.report.quick_content import headline, quick_content
from slidefit.report.regions.region_content import heading, region_content
from slidefit.report.render.html import notebook_fragment
from slidefit.report.render.terminal import wrapped
from slidefit.report.sources_content import sources_content

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from slidefit.decision.quick import QuickAnswer
    from slidefit.decision.results import Comparison
    from slidefit.market.backtest import Backtest
    from slidefit.market.market_fit import MarketFit
    from slidefit.market.outlook import Outlook
    from slidefit.plan.plan import Plan
    from slidefit.records.book.book_batches import AddResult
    from slidefit.records.result import ReadResult
    from slidefit.records.sale_book import BookSummary, SaleBook
    from slidefit.regions.region import Region
    from slidefit.report.charts.fit_plots import FitPlots

Told = tuple[tuple[str, ...], Callable[[], Document]]
"""The sentences of the short text, and what makes the whole for a notebook."""
WIDTH, MOST_LINES = 88, 9
SHOWN_WEIGHTS_LB = (400.0, 500.0, 600.0, 700.0, 800.0)


def short_text(result: Any) -> str:
    """Return a result in nine lines at most."""
    lines = [line for told in _told(result)[0] if told for line in wrapped(told, WIDTH)]
    shown = lines if len(lines) <= MOST_LINES - 1 else [*lines[: MOST_LINES - 2], "..."]
    return "\n".join([f"<{type(result).__name__}>", *shown])


def notebook_html(result: Any) -> str:
    """Return a result as HTML: the document that the terminal prints, escaped, without pictures or scripts."""
    return notebook_fragment(_told(result)[1]())


def dictionary(result: Any) -> dict[str, Any]:
    """Return `PublicResult.to_dict`."""
    kind = type(result).__name__
    if kind not in DOCUMENTS:
        raise TypeError(f"there is no document of a {kind}; there is one of {', '.join(DOCUMENTS)}")
    return dict(json_of(result))


def _told(result: Any) -> Told:
    return SAID[type(result).__name__](result)


def _comparison(result: Comparison) -> Told:
    herd = answers.herd_answer(result) if len(result.groups) > 1 else ""
    told = (*map(answers.answer, result.groups), herd, f"Prices of {f.day(result.as_of)}, {result.source}.")
    return told, lambda: report_content.comparison_content(result)


def _fit(result: MarketFit) -> Told:
    basis = result.basis
    told = (
        f"Slide: {result.label}.",
        f"{sentences.basis_line(basis)}.",
        f"Markets: {', '.join(basis.markets)}.",
    )
    price = f"Standard calf at the last sale: {f.price_cwt(result.prices()['price_cwt'].iloc[-1])} ({result.currency})."
    return (*told, price), lambda: market_content.fit_content(result)


def _outlook(result: Outlook) -> Told:
    def whole() -> Document:
        rows = [(sex, *result.price_cwt(sex, SHOWN_WEIGHTS_LB, result.as_of)) for sex in result.curves]
        columns = [Column("Sex"), *(Column(f.weight_lb(each), "price") for each in SHOWN_WEIGHTS_LB)]
        return document(*told, table(f"Price on {f.day(result.as_of)}, {result.currency}/cwt", columns, rows))

    reach = "; ".join(
        f"{sex}s {curve.low_lb:,.0f} to {f.weight_lb(curve.high_lb)}" for sex, curve in result.curves.items()
    )
    told = (
        f"Price outlook from {f.day(result.as_of)}.",
        f"{sentences.basis_line(result.basis)}.",
        f"Weights: {reach}.",
    )
    return told, whole


def _backtest(result: Backtest) -> Told:
    from slidefit.market.accuracy import accuracy_notes

    told = (sentences.backtest_line(result), *map(sentences.sentence, accuracy_notes(result)))
    return told, lambda: market_content.forecasts_content(result)


def _read(result: ReadResult) -> Told:
    counts = f"{f.count(result.rows_seen)} rows seen, {f.count(result.accepted)} read, "
    names = [account.name for account in result.files]
    told = (
        f"{counts}{f.count(result.set_aside_rows)} set aside.",
        f"Files: {f.listed(names)}.",
        *result.notes,
    )
    return told, lambda: market_content.dry_run_content(result)


def _added(result: AddResult) -> Told:
    made = market_content.add_account(result.added, result.already_there, result.set_aside, result.reasons)
    counts = f"{f.count(result.added)} added, {f.count(result.already_there)} already there, "
    batch = f"Batch {result.batch}." if result.batch else ""
    return (f"{counts}{f.count(result.set_aside)} set aside.", batch), lambda: document(made, batch)


def _book(result: SaleBook) -> Told:
    def whole() -> Document:
        return market_content.book_content(result.summary()) if result.path.exists() else document(path)

    path = (
        f"{result.path}"
        if result.path.exists()
        else f"{result.path}: not there yet; the first addition makes it."
    )
    return (path,), whole


def _summary(result: BookSummary) -> Told:
    held = f"{result.path}: {f.count(result.records)} records, batches: {len(result.batches)}."
    markets = (f"{m.market}: {f.count(m.records)} lots, {m.first} to {m.last}." for m in result.markets)
    return (held, *markets), lambda: market_content.book_content(result)


def _region(result: Region) -> Told:
    told = (f"{heading(result)}.", sentences.verdict_line(result.source.verdict))
    return told, lambda: region_content(result, date.today())


def _plan(result: Plan) -> Told:
    groups = (f"{g.name}: {f.count(g.head)} {g.sex}s of {f.weight_lb(g.weight_lb)}." for g in result.groups)
    programs = f"Programs: {f.listed([program.name for program in result.programs])}."
    dates = f"Weaned {result.dates.weaning}, sold {result.dates.first_sale} to {result.dates.last_sale}."
    told = (result.title, *groups, programs, dates)
    return told, lambda: document(*told)


def _quick(result: QuickAnswer) -> Told:
    return headline(result), lambda: quick_content(result)


def _card(result: Any) -> Told:
    return (f"{result.name}: {len(result.mapping)} columns taught.",), lambda: sources_content([result])


MONEY_HEAD = (
    "gain_per_head",
    "net_per_head",
    "budget_gain_per_head",
    "p10",
    "p50",
    "p90",
    "mean",
    "worst5_mean",
)
UNITS = {
    **dict.fromkeys((*MONEY_HEAD, "bad_year", "draw_error", "expected"), "$/head"),
    **dict.fromkeys(("gain_herd", "cash_peak"), "$"), **dict.fromkeys(("gain_per_acre", "per_acre"), "$/acre"),
    **dict.fromkeys(("value_of_gain_per_lb", "cost_of_gain_per_lb"), "$/lb"),
    **dict.fromkeys(("weight_lb", "pay_weight_lb"), "lb"), "days": "days", "fair_cost_cwt": "$/cwt",
    **dict.fromkeys(("price_cwt", "price_low_cwt", "price_high_cwt"), "$/cwt"),
    **dict.fromkeys(("odds", "odds_big_loss"), "share from 0 to 1"),
}  # fmt: skip


def options_frame(result: Comparison) -> pd.DataFrame:
    """Return a row for each group, program and sale of a comparison."""
    plain = [
        each.name for each in fields(KeepOption) if not re.search("tuple|Sequence| . None", str(each.type))
    ]
    names = [*plain, "gain_per_acre", "value_of_gain_per_lb", "cost_of_gain_per_lb"]
    rows = [
        {"group": group.group, "sex": group.sex, "best": option is answers.best_option(group)}
        | {name: getattr(option, name) for name in names}
        for group in result.groups
        for option in group.keep
    ]
    return _with_units(pd.DataFrame(rows))


def alternatives_frame(result: Comparison) -> pd.DataFrame:
    """Return the choices for each group, and for the whole herd where there are several."""
    ways = [(group.group, group.alternatives) for group in result.groups]
    ways += [("whole herd", result.herd.alternatives)] if len(ways) > 1 else []
    rows = [{"group": name, **asdict(way)} for name, each in ways for way in each]
    return _with_units(pd.DataFrame(rows, columns=["group", *(each.name for each in fields(Alternative))]))


def accuracy_frame(result: Backtest) -> pd.DataFrame:
    """Return the record of past forecasts by months ahead."""
    from slidefit.market.accuracy import accuracy_rows

    made = pd.DataFrame(accuracy_rows(result))
    return with_units(made, {str(name): "percent" for name in made if "_pct" in str(name)})


def plots(result: MarketFit) -> FitPlots:
    """Return what draws a fit."""
    from slidefit.report.charts.fit_plots import FitPlots

    return FitPlots(result)


def _with_units(made: pd.DataFrame) -> pd.DataFrame:
    return with_units(made, {str(name): UNITS[str(name)] for name in made if name in UNITS})


def gain_axes(result: Comparison, group: str) -> Axes:
    """Draw `PublicComparison.plot`."""
    from slidefit.decision.choices import find_group
    from slidefit.report.charts.answer_charts import gain_by_month

    return gain_by_month(find_group(result, group or result.groups[0].group)).axes[0]


def money_axes(result: Backtest, months_kept: int) -> Axes:
    """Draw `PublicBacktest.plot`."""
    from slidefit.decision.replay import replay
    from slidefit.report.charts.answer_charts import replay_chart

    return replay_chart(replay(result), months_kept).axes[0]


SAID: dict[str, Callable[[Any], Told]] = {
    "Comparison": _comparison, "MarketFit": _fit, "Outlook": _outlook, "Backtest": _backtest, "ReadResult": _read,
    "AddResult": _added, "SaleBook": _book, "BookSummary": _summary, "Region": _region, "Plan": _plan,
    "QuickAnswer": _quick, "SourceCard": _card,
}  # fmt: skip
DOCUMENTS = ("MarketFit", "Comparison", "Backtest", "Region", "QuickAnswer", "ReadResult", "BookSummary")
