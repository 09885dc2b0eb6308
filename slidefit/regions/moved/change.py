"""Old against new, number by number: what moved, what is steady, what can't be told, and which years did it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from slidefit.distributions import NORMAL_975
from slidefit.market.outlook import STANDARD_WEIGHT_LB
from slidefit.regions.moved.file_numbers import FileNumber, numbers, shared_part
from slidefit.regions.moved.refits import NumberKey, Refits
from slidefit.regions.moved.verdicts import Verdict, joint_p, margin_head, simes, two_sided, verdicts
from slidefit.regions.region import Region

FILE_DF = 30.0
"""Degrees of freedom of a file's own standard errors; they are already reaches of Student's t over 1.96."""
NAMED_YEARS = 2
NAMED_SHARE = 0.25


@dataclass(frozen=True)
class Influence:
    """What a crop year (its first calendar year) adds to a change [$ per head]; late: its sales since the old file."""

    crop_year: int
    late: bool
    head: float


@dataclass(frozen=True)
class NumberChange:
    """One number of the file, old against new.

    Attributes
    ----------
    kind : str
        ``slide``, ``discount``, ``slide season``, ``slide level``, ``discount level``, ``grade``, ``grade slide``,
        ``season``, ``head``, ``noise``, ``spread`` or ``price``.
    sex : str
        Whose it is: a sex, a grade, or for noise what strays (lot, calf, sale, slide). Empty for the standard calf.
    at, month : float, int
        Weight in the middle of the step [lb], month of the year, or months ahead, else 0; month of a slide's season.
    old, old_now, new : float
        As in the old file; as the old records (or that file's rule) have it at the new price level; as in the new.
    old_se, new_se : float. Standard errors as the files tell them, in the same unit; 0 where they tell none.
    head, head_low, head_high : float
        Worth of the change from ``old_now`` to ``new`` to a typical calf and its 95 percent interval [$ per head], at
        the new price; positive in the seller's favor, for a spread or noise the added dollars of one standard error.
    p : float. Of no change, by itself.
    verdict : str or None
        ``moved``, ``steady`` (within ``margin`` dollars a head) or ``can't tell``; None for a price, which moves with
        the market.
    by : str. ``records`` where both windows were refitted, ``file`` where the files' own errors had to serve.
    because : tuple of Influence. The crop years that make most of a change that moved.
    """

    kind: str
    sex: str
    at: float
    month: int
    unit: str
    old: float
    old_now: float
    new: float
    old_se: float
    new_se: float
    head: float
    head_low: float
    head_high: float
    p: float
    verdict: Verdict | None
    margin: float
    by: str
    because: tuple[Influence, ...] = ()

    @property
    def moved(self) -> bool | None:
        """Whether it moved; None for a price."""
        return None if self.verdict is None else self.verdict == "moved"


@dataclass(frozen=True)
class BlockTest:
    """The numbers of one kind judged jointly: p of no change at all, and how many of them got which verdict."""

    kind: str
    sex: str
    numbers: int
    moved: int
    steady: int
    p: float


@dataclass(frozen=True)
class Changes:
    """All that changed from one file to the next."""

    rows: tuple[NumberChange, ...]
    blocks: tuple[BlockTest, ...]

    @property
    def moved(self) -> tuple[NumberChange, ...]:
        """The numbers that moved, largest first."""
        return tuple(sorted((c for c in self.rows if c.moved), key=lambda c: -abs(c.head)))


def judged_keys(old: Region, new: Region) -> list[NumberKey]:
    """Return the numbers that both files hold."""
    return [row.key for row in numbers(old, new, 0.0)]


def changes(
    old: Region, new: Region, shared_lots: tuple[float, float] = (0.0, 1.0), refitted: Refits | None = None
) -> Changes:
    """Return what changed, and whether it is more than noise.

    Where the old records are at hand both windows are refitted and each change errs as crop years do
    (`verdicts.difference`). Without them the files' own standard errors serve: for two estimates that share records

        s^2 = s_o^2 + s_n^2 - 2 r s_o s_n + c^2

    with c the error of carrying the old slide to the new price level (``slide_more_se``).

    Parameters
    ----------
    shared_lots : (float, float)
        Lots that both fits used, and those that the new one used; they give r, see `shared_part`.

    Notes
    -----
    A slide also steepens when prices rise; only what goes beyond that counts as a move.
    """
    from scipy.special import stdtrit

    shared = shared_part(old.source.lots, shared_lots[1], min(shared_lots[0], old.source.lots))
    rows = list(numbers(old, new, shared))
    margin = margin_head(STANDARD_WEIGHT_LB / 100.0 * new.price.standard_cwt)
    found = refitted.found if refitted else None
    place = {key: i for i, key in enumerate(refitted.keys)} if refitted and found is not None else {}
    head, se, df = np.empty(len(rows)), np.empty(len(rows)), np.full(len(rows), FILE_DF)
    for i, row in enumerate(rows):
        at = place.get(row.key)
        if found is None or at is None:
            head[i], se[i] = row.worth * row.log, abs(row.worth) * row.se
        else:
            head[i], se[i], df[i] = row.worth * found.change[at], abs(row.worth) * found.se[at], found.df[at]
    judged = verdicts(head, se, df, margin)
    t = np.divide(head, se, out=np.where(head == 0.0, 0.0, np.inf), where=se > 0)
    p, reach = two_sided(t, df), stdtrit(df, 0.975) * se
    out = []
    for i, row in enumerate(rows):
        at = place.get(row.key)
        values, because = row.values, tuple[Influence, ...]()
        if refitted and found is not None and at is not None:
            values = (row.values[0], _expected(row, float(found.change[at])), row.values[2])
            if judged[i] == "moved":
                because = _because(refitted, row.worth * found.influence[:, at], float(head[i]))
        out.append(
            NumberChange(
                row.key.kind, row.key.of, row.key.at or float(row.key.month), row.key.month if row.key.at else 0,
                row.unit, *values, *row.errors, float(head[i]), float(head[i] - reach[i]), float(head[i] + reach[i]),
                float(p[i]), judged[i], margin, "records" if at is not None else "file", because,
            )
        )  # fmt: skip
    return Changes((*out, _price(old, new, margin)), tuple(_blocks(rows, out, place, refitted)))


def _expected(row: FileNumber, change: float) -> float:
    """Return what the old records expect of a number: the new one less the change [log points]."""
    new, kind = row.values[2], row.key.kind
    if kind in ("slide", "discount", "grade", "grade slide"):
        return -100.0 * float(np.expm1(np.log1p(-new / 100.0) - change))
    if kind == "season":
        return new * float(np.exp(-change))
    if kind == "head":
        return 100.0 * float(np.expm1(np.log1p(new / 100.0) - change))
    return new + 100.0 * change if kind != "noise" else new - 100.0 * change


def _because(refitted: Refits, head: np.ndarray, change: float) -> tuple[Influence, ...]:
    """Return the crop years that push most in the direction of the change, at most two, each of a quarter or more."""
    push = np.maximum(head * np.sign(change), 0.0)
    return tuple(
        Influence(refitted.parts[i].crop_year, refitted.parts[i].late, float(head[i]))
        for i in np.argsort(-push)[:NAMED_YEARS]
        if push[i] >= NAMED_SHARE * float(push.sum()) > 0.0
    )


def _blocks(
    rows: Sequence[FileNumber],
    judged: Sequence[NumberChange],
    place: dict[NumberKey, int],
    refitted: Refits | None,
) -> Iterator[BlockTest]:
    names = list(dict.fromkeys(_block_name(row.key) for row in rows))
    for name in names:
        mine = [i for i, row in enumerate(rows) if _block_name(row.key) == name]
        known = [place[rows[i].key] for i in mine if rows[i].key in place]
        found = refitted.found if refitted and len(known) == len(mine) else None
        p = joint_p(found, np.array(known)) if found is not None else simes([judged[i].p for i in mine])
        told = [judged[i].verdict for i in mine]
        yield BlockTest(*name, len(mine), told.count("moved"), told.count("steady"), p)


def _block_name(key: NumberKey) -> tuple[str, str]:
    if key.kind in ("slide", "discount"):
        return "slide", key.of
    if key.kind in ("slide level", "discount level"):
        return "level", ""
    return ("grade", "") if key.kind.startswith("grade") else (key.kind, "")


def _price(old: Region, new: Region, margin: float) -> NumberChange:
    """Return the change of the standard calf's price from the old file's day to the new one's."""
    cwt = STANDARD_WEIGHT_LB / 100.0
    prices = (old.price.standard_cwt, new.price.standard_cwt)
    errors = (prices[0] * old.price.se_pct / 100.0, prices[1] * new.price.se_pct / 100.0)
    reach = NORMAL_975 * cwt * float(np.hypot(*errors))
    head = cwt * (prices[1] - prices[0])
    return NumberChange(
        "price", "", 0.0, 0, "$/cwt", prices[0], *prices, *errors, head, head - reach, head + reach, 1.0, None, margin,
        "file",
    )  # fmt: skip
