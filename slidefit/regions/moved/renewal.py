"""A region fitted anew, one or a whole folder of them, and held against what stood there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd

from slidefit.errors import BookError, SlidefitError
from slidefit.facts import Action, Setting, Text
from slidefit.market.checks import MarketSpan, kin_of, market_spans
from slidefit.regions.hand_edits import HandEdit, hand_edits, with_hand_edits, write_fitted
from slidefit.regions.moved.change import Changes, NumberChange, changes, judged_keys
from slidefit.regions.region import Region
from slidefit.regions.region_folder import batches_sha256, read_folder

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Renewal:
    """A region as it stands, as the records would have it now, and each number old against new.

    Attributes
    ----------
    fed_by : tuple of MarketSpan. The markets of the region that the records hold.
    kin : tuple of MarketSpan. Markets with newer records that may be one of these under another name.
    """

    old: Region
    new: Region
    judged: Changes
    fed_by: tuple[MarketSpan, ...] = ()
    kin: tuple[MarketSpan, ...] = ()

    @property
    def changes(self) -> tuple[NumberChange, ...]:
        """Each number old against new."""
        return self.judged.rows


def renewed(
    old: Region,
    records: pd.DataFrame,
    made: date,
    progress: Progress | None = None,
    pool: Region | None = None,
    spans: Sequence[MarketSpan] | None = None,
) -> Renewal:
    """Return a region fitted anew, its name, remarks and selling terms kept.

    Parameters
    ----------
    records : DataFrame. Tidy sale records; those of the region's markets are taken.
    progress : callable, optional. Is told each step in words.
    pool : Region, optional. The region that it is pooled toward again; needed where it was pooled toward one.
    spans : sequence of MarketSpan, optional. All markets of the book, where the records are only this region's.

    Raises
    ------
    BookError. No record is of its markets, or none is newer while newer ones stand under a name like theirs.
    FitError. The records can't carry a fit.
    SlidefitError. It was pooled toward a region that isn't given.
    """
    if pool is None and old.pool is not None and old.pool.name != old.name:
        raise SlidefitError(
            f"was pooled toward {old.pool.name}, which is not here or could not be fitted",
            where=old.name,
            remedy=Text("Put that region's file into the folder, or name it with ", Setting("pool"), "."),
        )
    spans = market_spans(records) if spans is None else spans
    kin = kin_of(old.markets, old.source.last_sale, spans)
    own = records[records["market"].isin(old.markets)]
    _check_records(old, own, kin)
    tell = progress or (lambda _: None)
    tell(
        f"reading {len(own):,} rows of {len(old.markets)} {'market' if len(old.markets) == 1 else 'markets'}"
    )
    new, judged = _fitted_anew(old, own, made, tell, pool)
    fed_by = tuple(span for span in spans if span.market in old.markets)
    return Renewal(old, new, judged, fed_by, kin)


def _check_records(old: Region, own: pd.DataFrame, kin: Sequence[MarketSpan]) -> None:
    if not len(own):
        raise BookError(
            f"holds no record of {', '.join(old.markets)}",
            where="the sale book",
            remedy=Text("Add their sales first: ", Action("add"), "."),
        )
    if kin and own["sale_date"].max() <= pd.Timestamp(old.source.last_sale):
        names = ", ".join(
            f"{span.market or 'no name'} ({span.records:,} to {span.last_sale})" for span in kin
        )
        raise BookError(
            f"holds nothing newer of {', '.join(repr(m) for m in old.markets)}, but newer records under {names}",
            where="the sale book",
            remedy=Text(
                "If that is the same barn, give both one name (",
                Action("rename_market"),
                "); if not, add its sales.",
            ),
        )


def _fitted_anew(
    old: Region, own: pd.DataFrame, made: date, tell: Progress, pool: Region | None
) -> tuple[Region, Changes]:
    from slidefit.market.fit.coding import coded_lots
    from slidefit.market.market_fit import fit_coded
    from slidefit.regions.from_fit import Provenance, region_of
    from slidefit.regions.moved.refits import refits
    from slidefit.regions.pooling import region_toward

    provenance = Provenance(made, batches_sha256(own))
    kept = {"selling": old.selling, "remarks": old.remarks}
    if pool is not None:
        tell(f"pooling the slide toward {pool.name}")
        (new,) = region_toward(pool, old.name, own, provenance).regions
        new = new.model_copy(update=kept)
        known = int((own["sale_date"] <= pd.Timestamp(old.source.last_sale)).sum()) / max(len(own), 1)
        return new, changes(old, new, (known * new.source.lots, new.source.lots))
    tell("sorting lots")
    with coded_lots(own, tell) as coded:
        fit = fit_coded(coded, progress=tell)
        new = region_of(fit, old.name, provenance).model_copy(update={"pool": old.pool, **kept})
        tell("comparing old with new")
        found = refits(fit, coded.lots, old.source.last_sale, judged_keys(old, new))
    return new, changes(old, new, (found.shared_lots, found.lots), found)


@dataclass(frozen=True)
class Refusal:
    """A region of a folder that could not be fitted anew, and why."""

    old: Region
    fault: SlidefitError


def renewals(
    regions: Mapping[str, Region],
    records: pd.DataFrame,
    made: date,
    progress: Progress | None = None,
    workers: int = 1,
) -> dict[str, Renewal | Refusal]:
    """Return every region of a folder fitted anew from one reading of the book, in the order given.

    Regions that stand alone come first; those pooled toward one of the folder follow, toward its new numbers.

    Parameters
    ----------
    regions : mapping of a name (as a rule the file's) to its region
    workers : int. Processes; 1 works here.
    """
    tell = progress or (lambda _: None)
    by_name = {region.name: name for name, region in regions.items()}
    alone = {n: r for n, r in regions.items() if r.pool is None or r.pool.name == r.name}
    pooled = {n: r for n, r in regions.items() if n not in alone}
    spans = market_spans(records)
    rows_of = {str(m): rows for m, rows in records.groupby(records["market"].fillna("").astype(str))}
    done: dict[str, Renewal | Refusal] = {}
    for step in (alone, pooled):
        jobs = []
        for name, region in step.items():
            toward = _pool_of(region, by_name, done) if step is pooled else None
            parts = [rows_of[m] for m in region.markets if m in rows_of]
            own = pd.concat(parts) if parts else records.iloc[:0]
            own = own[own["sale_date"] >= pd.Timestamp(region.source.first_sale)]
            jobs.append((name, region, own, made, toward, spans))
        for name, outcome in _worked(jobs, workers):
            done[name] = outcome
            tell(f"region {len(done)} of {len(regions)}: {regions[name].name}")
    return {name: done[name] for name in regions}


@dataclass(frozen=True)
class SeasonWork:
    """Every region of a folder fitted anew from one reading of the book.

    Attributes
    ----------
    edits, lost : mappings of file name to HandEdits
        Numbers set by hand that the new file keeps, and those that it has no place for.
    unfed : tuple of MarketSpan. Markets of the records that feed no region.
    """

    outcomes: Mapping[str, Renewal | Refusal]
    edits: Mapping[str, tuple[HandEdit, ...]]
    lost: Mapping[str, tuple[HandEdit, ...]]
    unfed: tuple[MarketSpan, ...]
    faults: Mapping[str, str]

    @property
    def renewed(self) -> dict[str, Renewal]:
        """Those that could be fitted anew."""
        return {name: o for name, o in self.outcomes.items() if isinstance(o, Renewal)}

    def write(self, folder: str | Path) -> None:
        """Write every region, numbers set by hand kept, after keeping what stood there.

        Raises
        ------
        OutputError. A file can't be written; those before it are.
        """
        for name, renewal in self.renewed.items():
            write_fitted(renewal.new, Path(folder) / name, self.edits[name])


def refreshed(
    folder: str | Path,
    records: Callable[[date], pd.DataFrame],
    made: date,
    progress: Progress | None = None,
    *,
    workers: int = 1,
    refit: bool = False,
) -> SeasonWork:
    """Return every region of a folder fitted anew; nothing is written.

    Parameters
    ----------
    records : function of the first day wanted. Reads tidy sale records, once.
    workers : int. Processes; 1 works here.
    refit : bool. Whether the fitted numbers take the place of those set by hand.

    Raises
    ------
    SlidefitError. The folder holds no region, or the records can't be read.
    """
    regions, faults = read_folder(folder)
    if not regions:
        make = Text("Make one first: ", Action("make_region"), ".")
        told = "; ".join(f"{name}: {fault}" for name, fault in faults.items())
        what, remedy = (
            (f"no region file can be read: {told}", "Fix it.") if faults else ("holds no region file", make)
        )
        raise SlidefitError(what, where=str(folder), remedy=remedy)
    sales = records(min(region.source.first_sale for region in regions.values()))
    outcomes = renewals(regions, sales, made, progress, workers)
    edits, lost = {}, {}
    for name, outcome in outcomes.items():
        if isinstance(outcome, Renewal):
            asked = () if refit else hand_edits(Path(folder) / name)
            edits[name] = with_hand_edits(outcome.new, asked)[1] if asked else ()
            lost[name] = tuple(edit for edit in asked if edit not in edits[name])
    fed = {market for region in regions.values() for market in region.markets}
    unfed = tuple(span for span in market_spans(sales) if span.market not in fed)
    return SeasonWork(outcomes, edits, lost, unfed, faults)


def _pool_of(
    region: Region, by_name: Mapping[str, str], done: Mapping[str, Renewal | Refusal]
) -> Region | None:
    found = done.get(by_name.get(region.pool.name, "")) if region.pool else None
    return found.new if isinstance(found, Renewal) else None


_Job = tuple[str, Region, pd.DataFrame, date, Region | None, tuple[MarketSpan, ...]]


def _worked(jobs: list[_Job], workers: int) -> Iterator[tuple[str, Renewal | Refusal]]:
    if workers <= 1 or len(jobs) < 4:
        yield from map(_one, jobs)
        return
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for finished in as_completed([pool.submit(_one, job) for job in jobs]):
            yield finished.result()


def _one(job: _Job) -> tuple[str, Renewal | Refusal]:
    name, old, own, made, pool, spans = job
    try:
        return name, renewed(old, own, made, pool=pool, spans=spans)
    except SlidefitError as fault:
        return name, Refusal(old, fault)
