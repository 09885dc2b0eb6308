"""How long a comparison takes: 6 groups x 4 programs x 9 months x 10,000 draws, on one core.

Run by hand: python tests/benchmarks/bench_compare.py (it is not collected with the tests).
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

sys.path.insert(0, str(Path(__file__).parents[1] / "decision"))

from outlooks import make_outlook  # noqa: E402

from slidefit.decision.comparison import compare  # noqa: E402
from slidefit.decision.plan import Plan  # noqa: E402
from slidefit.decision.plan_reading import build_plan  # noqa: E402

RUNS = 7


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


def main() -> None:
    """Print the time of each run and the shortest."""
    plan, outlook = big_plan(), make_outlook()
    compared = sum(len(group.keep) for group in compare(outlook, plan).groups)
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        compare(outlook, plan)
        times.append(time.perf_counter() - start)
    print(f"{compared} options, {plan.risk.draws} draws:", ", ".join(f"{each:.3f}" for each in times), "s")
    print(f"shortest {min(times):.3f} s")


if __name__ == "__main__":
    main()
