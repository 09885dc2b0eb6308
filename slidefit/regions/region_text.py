"""A region as the text of its file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from slidefit.regions.region import MONTH_KEYS, Region, SexTable, SourceTable
from slidefit.toml_tables import TomlTable, toml_value

OPENING = """# Regional defaults for slidefit: prices by weight and season, for those without records.
# Weights are pounds, prices dollars per hundredweight ($/cwt), percentages are in percent (2 is two percent).
# Edit any number; "slidefit region check FILE" lists what is wrong. An estimate from past sales, not a promise."""


def write_region(region: Region) -> str:
    """Return the region as TOML, with a word on what each table is; it reads back to the same region."""
    head = [OPENING, "", *_fields(region, ("format", "version", "name", "markets", "currency", "remarks"))]
    parts = [
        head,
        [
            "[price]  # of the standard calf; seen_cwt: lowest and highest in the records",
            *_given(region.price),
        ],
        ["[standard]  # the calf that all prices are told against", *_all(region.standard)],
        [
            "[season]  # price of the same calf, mean of the year = 100; one standard error in percent",
            *_fields(region.season, ("waves", "unseen")),
            *_months(region.season.months()),
        ],
        [
            "[slide_season]  # points added to every slide below, at 450 lb and at 750 lb, straight between",
            *_months(region.slide_season.months(), sign=True),
        ],
        *(part for sex, table in region.sexes().items() for part in _sex(sex, table)),
        *_grades(region),
        [
            "[forecast]  # how far the price may wander, in percent (one standard error)",
            *_fields(region.forecast, ("walk_pct_month", "drift_pct_month", "scale")),
        ],
        [
            "[forecast.spread_pct]  # by months ahead, made from the numbers above and price.se_pct; season apart",
            *_pairs(region.forecast.spread_pct.items()),
        ],
        ["[noise]  # how one lot strays from the expected price", *_all(region.noise)],
        [
            "[selling]  # typical costs; used where a plan has no [selling] of its own",
            *_given(region.selling),
        ],
    ]
    if region.basis is not None:
        parts.append(
            ["[basis]  # cash above the nearest feeder cattle contract, January first", *_all(region.basis)]
        )
    if region.pool is not None:
        parts.append(["[pool]  # the slide of a market with few sales leans on these markets together"])
        parts[-1] += _fields(region.pool, ("name", "markets"))
        between = ", ".join(f"{sex} = {toml_value(sd)}" for sex, sd in region.pool.between_pct.items())
        parts[-1].append(f"between_pct = {{ {between} }}")
    # last, and its notes the last of it: a file that is cut off can't be read as a whole one
    parts.append(["[source]  # where the numbers came from", *_source(region.source)])
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _fields(table: TomlTable, names: Iterable[str]) -> list[str]:
    return [f"{name} = {toml_value(getattr(table, name))}" for name in names]


def _all(table: TomlTable) -> list[str]:
    return _fields(table, type(table).model_fields)


def _source(source: SourceTable) -> list[str]:
    plain = _fields(source, [name for name in SourceTable.model_fields if name != "notes"])
    return [*plain, "notes = [", *(f"  {toml_value(note)}," for note in source.notes), "]"]


def _given(table: TomlTable) -> list[str]:
    return _fields(table, [name for name in type(table).model_fields if getattr(table, name) is not None])


def _months(rows: Sequence[tuple[float, float]], *, sign: bool = False) -> list[str]:
    texts = [tuple(f"{value:+}" if sign else repr(value) for value in row) for row in rows]
    return [f"{key} = [{a:>6}, {b:>6}]" for key, (a, b) in zip(MONTH_KEYS, texts, strict=True)]


def _pairs(items: Iterable[tuple[str, Any]]) -> list[str]:
    return [f"{key} = {toml_value(value)}" for key, value in items]


def _sex(sex: str, table: SexTable) -> Iterable[list[str]]:
    names = [name for name in SexTable.model_fields if name != "slide"]
    yield [
        f"[{sex}]  # discount against the standard calf; _more: points added when prices rise by 10 percent",
        *_fields(table, names),
    ]
    yield [
        f"[{sex}.slide]  # from-to lb = [fall of price in percent per cwt, its standard error], mean of the year",
        *(f"{key} = [{slide!r:>5}, {error!r:>4}]" for key, (slide, error) in table.slide.items()),
    ]


def _grades(region: Region) -> Iterable[list[str]]:
    rows = [
        f"{toml_value(name)} = {{ discount_pct = {grade.discount_pct!r}, slide_more = {grade.slide_more!r}, "
        f"discount_se = {grade.discount_se!r} }}"
        for name, grade in region.grades.items()
    ]
    yield [
        "[grades]  # against the standard grade: discount at 550 lb, points added to its slide, error of the discount",
        *rows,
    ]
