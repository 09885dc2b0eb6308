"""What every result that Python hands out can do; the words and tables are made in ``report``."""

# the module that says results stands above this one, so its answers have no type here
# mypy: disable-error-code="no-any-return"
from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes


class PublicResult:
    """A result with a short text, an HTML view in notebooks, and the document that the terminal prints as JSON."""

    def to_dict(self) -> dict[str, Any]:
        """Return plain values: what the terminal prints with its switch for JSON.

        Raises
        ------
        TypeError
            The terminal prints no document of such a result.
        """
        return report_of_results().dictionary(self)

    def to_json(self) -> str:
        """Return `to_dict` as text."""
        return json.dumps(self.to_dict(), indent=2, allow_nan=False)

    def __repr__(self) -> str:
        return report_of_results().short_text(self)

    def _repr_html_(self) -> str:
        return report_of_results().notebook_html(self)


class PublicComparison(PublicResult):
    """What a comparison offers beside its fields."""

    def to_frame(self) -> pd.DataFrame:
        """Return a row for each group, program and sale: the numbers of `KeepOption`, units in ``attrs["units"]``."""
        return report_of_results().options_frame(self)

    @property
    def alternatives(self) -> pd.DataFrame:
        """The choices for each group and the whole herd: the numbers of `Alternative`, units in ``attrs``."""
        return report_of_results().alternatives_frame(self)

    def plot(self, group: str = "") -> Axes:
        """Draw the gain from keeping a group, the first unless named, by month of sale; return its axes.

        Raises
        ------
        SlidefitError
            There is no group of that name.
        """
        return report_of_results().gain_axes(self, group)


class PublicBacktest(PublicResult):
    """What a backtest offers beside its fields."""

    def to_frame(self) -> pd.DataFrame:
        """Return `accuracy.accuracy_rows`: a row for each number of months ahead, units in ``attrs["units"]``."""
        return report_of_results().accuracy_frame(self)

    def plot(self, months_kept: int = 4) -> Axes:
        """Draw the money that each rule made year by year; return its axes.

        Raises
        ------
        FitError
            That number of months was not replayed, or no decision can be.
        """
        return report_of_results().money_axes(self, months_kept)


def report_of_results() -> Any:
    """Return the module that says results; it stands above them, so it is reached through the face."""
    import slidefit

    return slidefit.report_of_results()
