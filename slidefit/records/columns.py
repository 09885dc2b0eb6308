"""The tidy sale record: every column once, with its kind, unit and meaning. All other modules read it here."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class RecordColumn:
    """One column of the tidy record: its name, kind (date, text, number, whole), unit and meaning."""

    name: str
    kind: str
    unit: str
    meaning: str


RECORD_COLUMNS: tuple[RecordColumn, ...] = (
    RecordColumn(
        "sale_date", "date", "day", "day of the sale; month-only sources hold the first of the month"
    ),
    RecordColumn("date_precision", "text", "", "day, week or month: how closely the source dates the sale"),
    RecordColumn("market", "text", "", "place of sale; blank when the file and the user name none"),
    RecordColumn("sex", "text", "", "steer, heifer, bull or mixed"),
    RecordColumn("frame", "text", "", "frame size L, ML, M, MS or S (USDA feeder grades); blank unknown"),
    RecordColumn("muscle", "text", "", "muscle 1, 1-2, 2, 2-3, 3, 3-4 or 4; blank unknown"),
    RecordColumn("head", "number", "head", "calves in the lot or reported class; missing unknown"),
    RecordColumn("weight_lb", "number", "lb", "mean weight per head"),
    RecordColumn("weight_low_lb", "number", "lb", "lightest, or lower edge of the class; missing unknown"),
    RecordColumn("weight_high_lb", "number", "lb", "heaviest, or upper edge of the class; missing unknown"),
    RecordColumn("price_cwt", "number", "$/cwt", "mean price per hundredweight of live weight"),
    RecordColumn("price_low_cwt", "number", "$/cwt", "lowest price; missing unknown"),
    RecordColumn("price_high_cwt", "number", "$/cwt", "highest price; missing unknown"),
    RecordColumn("traits", "text", "", "what the reporter said of the calves, sorted words joined by ;"),
    RecordColumn("currency", "text", "", "three-letter code of the money, USD unless said"),
    RecordColumn("flags", "text", "", "what was assumed, sorted words joined by ;"),
    RecordColumn("batch", "text", "", "the addition to the sale book that the record came with"),
    RecordColumn("source_row", "whole", "", "row or line in the file that it was read from"),
)

COLUMN_NAMES: tuple[str, ...] = tuple(column.name for column in RECORD_COLUMNS)
TEXT_COLUMNS: tuple[str, ...] = tuple(column.name for column in RECORD_COLUMNS if column.kind == "text")
NUMBER_COLUMNS: tuple[str, ...] = tuple(column.name for column in RECORD_COLUMNS if column.kind == "number")

FLAGS: dict[str, str] = {
    "weight_mid": "no mean weight was given: the middle of the weight class stands in",
    "price_mid": "no mean price was given: the middle of the price range stands in",
    "converted": "weight or price was converted from another unit",
    "preliminary": "the source called the price preliminary",
    "price_far": "the price is far from its own sale and weight, but not impossible",
}
