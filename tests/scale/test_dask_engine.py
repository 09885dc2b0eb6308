"""A cluster of two workers on this machine gives the fit that this process gives; what fails is said in words."""

import os
from pathlib import Path

import numpy as np
import pytest

from slidefit.cli.main import slidefit
from slidefit.cli.speaking import run_safely
from slidefit.errors import EngineError
from slidefit.market.fit import coding
from slidefit.market.fit import lots as lots_module
from slidefit.market.fit.candidates import recipe_for
from slidefit.market.fit.coding import coded_lots
from slidefit.market.fit.fixed_effects import fit_fixed_effects
from slidefit.market.saved_fit import load_fit
from slidefit.scale import dask_engine as dask_module
from slidefit.scale.dask_engine import DaskEngine, dask_engine
from tests.market.coded import lots_of
from tests.market.simulate import simulate

pytestmark = pytest.mark.cluster


@pytest.fixture(scope="module")
def cluster():
    """Two workers of one thread each, on the loopback; a chunk whose worker dies twice is given up."""
    import dask
    from distributed import LocalCluster

    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 1}),
        LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=":0", silence_logs=60
        ) as made,
    ):
        yield made


@pytest.fixture(scope="module")
def records():
    return simulate(61, sales=120, lots=15, days_between=20).records


@pytest.fixture
def small_chunks(monkeypatch):
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 450)


def close(ours, other):
    for name in ("level", "effect", "slope_score", "slope_known"):
        np.testing.assert_allclose(getattr(other, name), getattr(ours, name), rtol=1e-10, atol=1e-10)
    np.testing.assert_allclose(other.solution.coef, ours.solution.coef, rtol=1e-10, atol=1e-10)
    np.testing.assert_allclose(other.cov_year, ours.cov_year, rtol=1e-8, atol=1e-14)
    assert other.dropped.tolist() == ours.dropped.tolist()


def test_lots_in_memory_are_sent(cluster, records, small_chunks):
    spoiled = records.copy()
    spoiled.loc[[100, 900], "price_cwt"] *= 10.0
    lots = lots_of(spoiled)
    recipe = recipe_for(lots, kind="spline", columns=4, harmonics=1, level=True)
    here = fit_fixed_effects(lots, recipe)
    assert len(lots.spans()) == 4 and len(here.dropped) == 2
    with dask_engine(cluster.scheduler_address) as engine:
        close(here, fit_fixed_effects(lots, recipe, engine=engine))


def test_lots_on_a_disk_that_all_see_are_read_there(cluster, records, small_chunks, monkeypatch):
    monkeypatch.setattr(coding, "IN_MEMORY_ROWS", 0)
    with coded_lots(records) as coded, dask_engine(cluster.scheduler_address) as engine:
        recipe = recipe_for(coded.lots, kind="quadratic", harmonics=1, level=True)
        here = fit_fixed_effects(coded.lots, recipe)
        close(here, fit_fixed_effects(coded.lots, recipe, engine=engine))
        assert engine._seen == {coded.lots.folder: True}
        engine._seen[coded.lots.folder] = False
        close(here, fit_fixed_effects(coded.lots, recipe, engine=engine))
        assert sorted(p.name for p in coded.lots.folder.iterdir()) == [
            "grade", "head", "log_price", "sex", "trait", "weight_lb",
        ]  # fmt: skip


def test_a_worker_that_does_not_find_the_lots_is_sent_them(
    cluster, records, small_chunks, monkeypatch, tmp_path
):
    monkeypatch.setattr(coding, "IN_MEMORY_ROWS", 0)
    with coded_lots(records) as coded, dask_engine(cluster.scheduler_address) as engine:
        engine._seen[coded.lots.folder] = True
        monkeypatch.setattr(type(coded.lots), "part", lambda self, span: _moved(self, span, tmp_path))
        found = list(engine.run(_rows, coded.lots, lambda span: span.first_row))
    assert found == [(first, 450) for first in range(0, 1_800, 450)]


def _moved(lots, span, folder):
    from dataclasses import replace

    return replace(
        lots, folder=folder, sale_day=lots.sale_day[span.sales], sale_market=lots.sale_market[span.sales],
        counts=lots.counts[span.sales],
    )  # fmt: skip


def _rows(lots, first):
    return first, len(lots)


def _dies_once(lots, told):
    flag = Path(told)
    if not flag.exists():
        flag.touch()
        os._exit(1)
    return len(lots)


def _dies(lots, told):
    os._exit(1)


def run(*words):
    return run_safely(lambda: slidefit.main([str(w) for w in words], standalone_mode=False))


def test_the_command_gives_the_same_fit(cluster, records, small_chunks, monkeypatch, tmp_path, capsys):
    monkeypatch.chdir(tmp_path)
    columns = ["sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "price_cwt"]
    records[columns].to_csv("sales.csv", index=False)
    assert run("add", "sales.csv") == 0
    assert run("fit", "--out", "here.json") == 0
    assert (
        run("fit", "--out", "there.json", "--engine", "dask", "--scheduler", cluster.scheduler_address) == 0
    )
    here, there = load_fit("here.json"), load_fit("there.json")
    np.testing.assert_allclose(there.model.coef, here.model.coef, rtol=1e-10, atol=1e-10)
    assert there.notes == here.notes
    capsys.readouterr()
    assert run("fit", "--engine", "dask") == 2 and "--scheduler ADDRESS" in capsys.readouterr().err
    assert run("fit", "--scheduler", "tcp://127.0.0.1:9") == 2 and "--engine dask" in capsys.readouterr().err
    assert run("fit", "--engine", "dask", "--scheduler", "tcp://127.0.0.1:9") == 2
    assert "no Dask scheduler answers at tcp://127.0.0.1:9" in capsys.readouterr().err


def test_a_chunk_whose_worker_dies_is_worked_on_again(cluster, records, small_chunks, tmp_path):
    lots = lots_of(records)
    flag = str(tmp_path / "died")
    with dask_engine(cluster.scheduler_address) as engine:
        assert list(engine.run(_dies_once, lots, lambda _: flag)) == [450] * 4
    assert Path(flag).exists()
    assert [_dies_once(piece, flag) for _, piece in lots.pieces()] == [450] * 4


def test_a_chunk_that_kills_every_worker_is_given_up(cluster, records):
    with dask_engine(cluster.scheduler_address) as engine, pytest.raises(EngineError) as fault:
        list(engine.run(_dies, lots_of(records), lambda _: None))
    assert "lost worker after worker" in str(fault.value) and "fit here, on this machine alone" in str(
        fault.value
    )


def test_no_scheduler_there():
    for address in ("tcp://127.0.0.1:9", "127.0.0.1:9", "nonsense", "carrier-pigeon://loft:1"):
        with pytest.raises(EngineError, match="no Dask scheduler answers at") as fault, dask_engine(address):
            pass
        assert "dask scheduler" in str(fault.value)


class Gone:
    """A client, and a future, of a cluster whose workers are gone."""

    def wait_for_workers(self, n_workers, timeout):
        raise TimeoutError

    def nthreads(self):
        return {}

    def result(self, timeout):
        raise TimeoutError


def test_a_scheduler_without_workers():
    with pytest.raises(EngineError, match=r"at tcp://10\.0\.0\.5:8786 has no worker") as fault:
        dask_module._check_workers(Gone(), "tcp://10.0.0.5:8786")
    assert "dask worker tcp://10.0.0.5:8786" in str(fault.value)


def test_a_cluster_that_loses_its_last_worker_is_not_waited_for_for_ever():
    with pytest.raises(EngineError, match="has lost its last worker"):
        DaskEngine(Gone(), "tcp://10.0.0.5:8786")._result(Gone())


def test_without_the_extra(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with (
        pytest.raises(EngineError, match=r"pip install 'slidefit\[dask\]'"),
        dask_engine("tcp://127.0.0.1:9"),
    ):
        pass


def test_workers_of_another_version(cluster, monkeypatch):
    monkeypatch.setattr("slidefit.__version__", "0.0.0-other")
    told = r"has slidefit .*; this is 0\.0\.0-other"
    with pytest.raises(EngineError, match=told), dask_engine(cluster.scheduler_address):
        pass
