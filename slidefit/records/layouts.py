"""Reading rules of a kind of file, saved as a small TOML file and used again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from slidefit.records.options import ReadOptions


@dataclass(frozen=True)
class Layout:
    """What the user said about a kind of file."""

    mapping: Mapping[str, str] = field(default_factory=dict)
    market: str = ""
    currency: str = ""
    price_unit: str = ""
    weight_unit: str = ""
    date_order: str = ""
    sheet: str = ""
    skip_rows: int = 0

    @classmethod
    def of(cls, options: ReadOptions) -> Layout:
        """Return the layout that a reading used."""
        return cls(
            dict(options.mapping),
            options.market,
            options.currency,
            options.price_unit,
            options.weight_unit,
            options.date_order,
            options.sheet,
            options.skip_rows,
        )
