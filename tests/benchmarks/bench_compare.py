"""How long a comparison takes: 6 groups x 4 programs x 9 months x 10,000 draws, and the demonstration's plan; one core.

Run by hand: python tests/benchmarks/bench_compare.py (it is not collected with the tests). Beside the time on the clock
it prints the processor's, which other work on the machine disturbs less.
"""

from __future__ import annotations

import gc
import os
import sys
import time
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

sys.path.insert(0, str(Path(__file__).parents[1] / "decision"))

from outlooks import make_outlook  # noqa: E402

from slidefit.cli.main import OBJECTS_BETWEEN  # noqa: E402
from slidefit.decision.comparison import compare  # noqa: E402
from slidefit.plan.plan import Plan  # noqa: E402
from slidefit.plan.plan_file import build_plan, read_plan  # noqa: E402

RUNS = 15
DEMO = Path(__file__).parents[2] / "data_demo" / "plan.toml"


def big_plan() -> Plan:
    """Return a plan with six groups, four programs, nine months and 10,000 draws."""
    groups = [
        {"name": f"g{k}", "sex": ("steer", "heifer")[k % 2], "head": 30 + 10 * k, "weight_lb": 420.0 + 30 * k}
        for k in range(6)
    ]
    pasture = {"cost_acre": 120.0, "forage_lb_acre": 3000.0, "utilization_pct": 50.0, "intake_pct": 2.6}
    programs = [
        {"name": "grass", "gain_lb_day": 1.2, "pasture": pasture},
        {"name": "cereal", "gain_lb_day": 1.6, "pasture": {**pasture, "cost_acre": 170.0}},
        {
            "name": "lot",
            "gain_lb_day": 1.5,
            "ration": [{"name": "silage", "lb_day": 30.0, "price_ton": 55.0}],
        },
        {"name": "yard", "gain_lb_day": 1.4, "cost_head_day": 1.9, "health_head": 20.0},
    ]
    dates = {"weaning": "2026-10-14", "first_sale": "2026-11", "last_sale": "2027-07"}
    return build_plan({"dates": dates, "groups": groups, "programs": programs, "risk": {"draws": 10_000}})


def timed(name: str, plan: Plan) -> None:
    """Print the shortest and the middle time of a plan's comparison."""
    outlook = make_outlook()
    compared = sum(len(group.keep) for group in compare(outlook, plan).groups)
    clock, processor = [], []
    for _ in range(RUNS):
        start, busy = time.perf_counter(), time.process_time()
        compare(outlook, plan)
        clock.append(time.perf_counter() - start)
        processor.append(time.process_time() - busy)
    print(f"{name}: {compared} options, {plan.risk.draws:,} draws, {RUNS} runs")
    for what, times in (("clock", clock), ("processor", processor)):
        print(f"  {what}: shortest {min(times):.3f} s, middle {sorted(times)[RUNS // 2]:.3f} s")


def main() -> None:
    """Time both plans, garbage looked for as the commands do."""
    gc.set_threshold(OBJECTS_BETWEEN)
    timed("large plan", big_plan())
    timed("demonstration", read_plan(DEMO))
    print("load of the machine: " + ", ".join(f"{each:.1f}" for each in os.getloadavg()))


if __name__ == "__main__":
    main()
