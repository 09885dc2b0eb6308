"""The generated part of docs/records.md, made from the tables that the readers use.

Run: python -m tests.records.records_page   (writes it)
"""

from __future__ import annotations

from pathlib import Path

from slidefit.records import large_files, sale_levels
from slidefit.records.book import book_merge
from slidefit.records.columns import FLAGS, REASONS, RECORD_COLUMNS
from slidefit.records.meaning import (
    column_fields,
    interpret,
    rejections,
    row_values,
    table_meaning,
    unit_choice,
)
from slidefit.records.reading import contents, json_records, sources, web_tables
from slidefit.records.reading import tables as reading_tables
from slidefit.records.words import date_order, periods, units
from slidefit.records.words.animals import TRAITS
from slidefit.records.words.fields import FIELDS
from slidefit.records.words.units import PRICE_UNITS, WEIGHT_FACTORS

PAGE = Path(__file__).parents[2] / "docs" / "records.md"
BEGIN, END = "<!-- made from the program's tables: do not edit below -->", "<!-- end of the made part -->"


def thresholds() -> list[tuple[str, str]]:
    """Return the limits that the readers use, in words."""
    return [
        (
            "lightest and heaviest calf believed",
            f"{units.LIGHTEST_LB:g} and {units.HEAVIEST_LB:g} lb",
        ),
        (
            "price too high against its sale, weight and sex",
            f"over {2.718281828**rejections.TOO_HIGH:.3g} times",
        ),
        ("price too low", f"under {2.718281828**rejections.TOO_LOW:.2f} times"),
        (
            "price too low for small frame or muscle 2-3 and thinner",
            f"under {2.718281828**rejections.TOO_LOW_FOR_LOW_GRADES:.3f} times",
        ),
        ("price flagged as far", f"over {2.718281828**rejections.FAR:.2f} times, or under its inverse"),
        (
            "no unit given and another unit fits",
            f"over {2.718281828**rejections.DOUBTFUL:.2g} times, and within "
            f"{rejections.FITS_OTHER_UNIT:g} log points in the other unit",
        ),
        (
            "rows of a sale needed to judge a price by it",
            f"{rejections.FEWEST_NEIGHBORS}, else its month, its year, the file (if it spans at most "
            f"{rejections.MOST_YEARS_TOGETHER + 1} calendar years)",
        ),
        (
            "mean weight against lot weight over head, and against its range",
            f"{row_values.WEIGHT_TOLERANCE:.0%}, and {row_values.RANGE_SLACK_LB:g} lb more at the ends "
            f"of a range",
        ),
        (
            "the same where a gross and a pay weight are told",
            f"lot weight over head may lie {row_values.MOST_SHRINK:.0%} above",
        ),
        (
            "weight class too wide for its middle to stand in",
            f"upper edge over {row_values.WIDEST_CLASS:g} times the lower",
        ),
        (
            "a total that no word calls one",
            f"head is the sum of the {interpret.FEWEST_SUMMED} or more rows above, weight and price their means "
            f"within {interpret.WEIGHT_SHARE:.1%} and {interpret.PRICE_SHARE:.1%}",
        ),
        (
            "dates of the other order that are slips",
            f"up to {date_order.SLIPS_SHARE:.0%} of those that prove an order",
        ),
        (
            "dates stand for months or quarters",
            f"the heading says so, or {periods.FEWEST_DATES} or more dates are all first or last days of one",
        ),
        (
            "widest price range of one class",
            f"from 1/{row_values.WIDEST_RANGE:g} to {row_values.WIDEST_RANGE:g} times the mean",
        ),
        ("weights are hundredweight", f"median under {unit_choice.HUNDREDWEIGHT_MEDIAN:g}"),
        ("prices are dollars a pound", f"median under {unit_choice.PER_POUND_BELOW:g}"),
        (
            "prices may be by the head (asked)",
            f"median over {unit_choice.PER_HEAD_ABOVE:g}, or over {unit_choice.RISING_FROM:g} and "
            f"rising with weight",
        ),
        (
            "weights may be kilograms (asked)",
            f"all under {unit_choice.KG_CALF_BELOW:g}, prices over {unit_choice.KG_PRICE_FROM:g} (or, per unit of "
            f"weight, {unit_choice.KG_PRICE_FROM / 100:g}), no unit and no US grade anywhere",
        ),
        (
            "weight column holds whole lots",
            f"3 in 10 over {table_meaning.LOT_WEIGHT_ABOVE:g}, and head gives {table_meaning.LOT_MEAN_LB[0]:g} to "
            f"{table_meaning.LOT_MEAN_LB[1]:g} lb",
        ),
        (
            "weights grow with the head as whole lots do",
            f"{table_meaning.FEWEST_LOTS} or more rows, and the spread of weight over head under "
            f"{table_meaning.CLOSER:.0%} of the spread of weight",
        ),
        (
            "column written once for several rows",
            f"first row filled, {column_fields.FILL_SHARE:.0%} or more blank, no text twice running in a section",
        ),
        (
            "rows are class averages",
            f"over {rejections.AVERAGES_SHARE:.0%} with a price range, or no head anywhere",
        ),
        (
            "a sale told again, for corrections",
            f"{book_merge.REPORTED_AGAIN_SHARE:.0%} of its rows in the book come again",
        ),
        (
            "largest unpacked file, and packing ratio",
            f"{sources.MOST_UNPACKED_BYTES >> 30} GB, and {sources.MOST_PACKED_RATIO} times",
        ),
        ("head of one lot or class", f"up to {interpret.MOST_HEAD:,.0f}"),
        (
            "a sale beside the sales around it",
            f"within {sale_levels.MOST_FACTOR:g} times, or 1/{sale_levels.MOST_FACTOR:g} of, the middle of up to "
            f"{sale_levels.NEIGHBORS_A_SIDE} a side within {sale_levels.FARTHEST_DAYS} days, "
            f"{sale_levels.FEWEST_NEIGHBORS} or more in all; from {sale_levels.MANY_ALIKE} sales on, or where some are "
            "too high and some too low, it is asked",
        ),
        ("longest cell", f"{reading_tables.MOST_CELL:,} characters"),
        ("longest line of a text", f"{contents.MOST_LINE:,} characters"),
        (
            "largest table of a page",
            f"{web_tables.MOST_PAGE_CELLS:,} cells; one cell spans at most {web_tables.MOST_SPAN}",
        ),
        ("lists inside one another in JSON", f"{json_records.MOST_DEPTH}"),
        ("plain files read in pieces from", f"{large_files.STREAM_BYTES >> 20} MB"),
    ]


def made_part() -> str:
    """Return the tables of the page."""
    lines = [BEGIN, "", "## Columns of a record", "", "| column | unit | meaning |", "|---|---|---|"]
    lines += [f"| `{column.name}` | {column.unit} | {column.meaning} |" for column in RECORD_COLUMNS]
    lines += ["", "Flags say what was assumed:", "", "| flag | meaning |", "|---|---|"]
    lines += [f"| `{name}` | {text} |" for name, text in FLAGS.items()]
    lines += [
        "",
        "## Reasons for setting a row aside",
        "",
        "The first that holds is given.",
        "",
        "| reason | meaning |",
        "|---|---|",
    ]
    lines += [f"| `{name}` | {text} |" for name, text in REASONS.items()]
    lines += ["", "## Limits", "", "| rule | limit |", "|---|---|"]
    lines += [f"| {rule} | {limit} |" for rule, limit in thresholds()]
    lines += [
        "",
        "## Units",
        "",
        f"Price: {', '.join(f'`{unit}`' for unit in PRICE_UNITS)}. Weight: "
        f"{', '.join(f'`{unit}`' for unit in WEIGHT_FACTORS)}.",
    ]
    lines += [
        "",
        "## Fields and the headings recognized",
        "",
        "Capitals, points, dashes and units in a heading don't matter. "
        'Any other heading takes `--map "Heading=field"`.',
        "",
    ]
    for field in FIELDS:
        lines += [f"- **`{field.name}`** ({field.meaning}): {', '.join(field.phrases)}"]
    lines += [
        "",
        "## Traits",
        "",
        "Remarks become these words; other words are left out and named in a note.",
        "",
        ", ".join(f"`{trait}`" for trait in sorted(TRAITS)) + ".",
        "",
        END,
    ]
    return "\n".join(lines)


def page_with(made: str) -> str:
    """Return the page with its made part put in."""
    text = PAGE.read_text(encoding="utf-8")
    return text[: text.index(BEGIN)] + made + text[text.index(END) + len(END) :]


if __name__ == "__main__":
    PAGE.write_text(page_with(made_part()), encoding="utf-8")
