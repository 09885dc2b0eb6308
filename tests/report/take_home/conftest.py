"""Plans as live workbooks, and all of them recalculated in one run of LibreOffice."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from slidefit.decision.comparison import compare
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import parse_plan
from slidefit.regions.region_file import read_region
from slidefit.regions.region_outlook import outlook_of_region
from slidefit.report.take_home.plan_cells import plan_cells, with_number
from slidefit.report.take_home.workbook import live_workbook

HEAD = """
[dates]
weaning = 2026-10-14
first_sale = "2026-12"
last_sale = "2027-03"
sale_day = 15
[selling]
commission_pct = 3
yardage_head = 3.5
shrink_pct = 3
freight_loaded_mile = 5.5
miles = 45
[money]
interest_pct = 8
"""
STEERS = (
    '[[groups]]\nname = "=Steers"\nsex = "steer"\nhead = 46\nweight_lb = 520\nframe = "ML"\nmuscle = "1"\n'
)
HEIFERS = (
    '[[groups]]\nname = "Heifers"\nsex = "heifer"\nhead = 61\nweight_lb = 480\nframe = "ML"\nmuscle = "1-2"\n'
)
RATION = """
[[programs]]
name = "lot"
gain_lb_day = 2.1
health_head = 20
labor_head_day = 0.2
death_loss_pct = 2
pens_head = 50
[[programs.ration]]
name = "silage"
lb_day = 34
price_ton = 52
waste_pct = 6
[[programs.ration]]
name = "supplement"
lb_day = 3
price_ton = 360
"""
PASTURE = """
[[programs]]
name = "grass"
gain_lb_day = 1.8
slump_lb = 10
earliest_on = 2026-11-12
wait_gain_lb_day = 0.5
wait_cost_head_day = 1.3
mineral_head_day = 0.1
[programs.pasture]
kind = "cereal"
cost_acre = 110
forage_lb_acre = 3200
utilization_pct = 50
intake_pct = 2.6
acres = 90
"""
PHASES = """
[[programs]]
name = "two steps"
death_loss_pct = 1.5
[[programs.phases]]
name = "first"
days = 40
gain_lb_day = 1.2
cost_head_day = 1.1
[[programs.phases]]
name = "then"
gain_lb_day = 2.2
cost_head_day = 1.7
"""
LIST = STEERS.replace(
    "head = 46\nweight_lb = 520\n", "head = 6\nweights_lb = [430, 470, 505, 520, 560, 610]\n"
)
CONTRACT = "[selling.contract]\nprice_cwt = 305\nbase_weight_lb = 640\nslide_cwt = 12\nwindow_lb = 15\n"
FLOOR = "[selling.floor]\nfloor_cwt = 300\ncost_cwt = 5\n"
PLANS = {
    "ration": HEAD + STEERS + HEIFERS + RATION,
    "pasture": HEAD + HEIFERS + "weight_sd_lb = 40\n" + PASTURE,
    "phases": HEAD + STEERS + "bid_cwt = 372\n" + HEIFERS + PHASES,
    "weights": HEAD + LIST + RATION,
    "contract": HEAD + CONTRACT + STEERS + RATION,
    "floor": HEAD + FLOOR + HEIFERS + PASTURE,
}
CHANGES = 20


@pytest.fixture(scope="session")
def outlook() -> Outlook:
    return outlook_of_region(read_region(Path(__file__).parents[3] / "data_demo" / "kettle_fork.toml"))


def changed(outlook: Outlook, plan: Plan) -> tuple[Plan, dict[str, float]]:
    """Return the plan with up to 20 of its open numbers moved, and what is typed for them."""
    typed = {}
    for place, number in enumerate(
        [n for n in plan_cells(outlook, plan).numbers if n.is_open][: CHANGES * 2 : 2]
    ):
        value = round(number.value * (1.07 if place % 2 else 0.94), 2) if number.value else 0.5
        value = float(round(value)) if number.path[-1] in ("head", "pens_head") else value
        typed[number.name] = value
        plan = with_number(plan, number.path, int(value) if number.path[-1] == "head" else value)
    return plan, typed


def named(book: Any, name: str) -> Any:
    sheet, _, cell = book.defined_names[name].attr_text.partition("!")
    return book[sheet.strip("'")][cell.replace("$", "")]


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("books")


@pytest.fixture(scope="session")
def calculated(outlook: Outlook, folder: Path) -> Iterator[dict[str, Any]]:
    """Every plan before and after, recalculated in one run of LibreOffice."""
    office = shutil.which("soffice")
    assert office, "the office tests need LibreOffice: apt-get install -y libreoffice-calc"
    plans = {}
    for name, text in PLANS.items():
        plan = parse_plan(text, name)
        (folder / f"{name}.xlsx").write_bytes(live_workbook(outlook, plan, compare(outlook, plan)))
        after, typed = changed(outlook, plan)
        book = openpyxl.load_workbook(folder / f"{name}.xlsx")
        for each, value in typed.items():
            named(book, each).value = value
        book.save(folder / f"{name}-after.xlsx")
        plans |= {name: plan, f"{name}-after": after}
    command = [office, f"-env:UserInstallation=file://{folder}/profile", "--headless", "--convert-to"]
    for kind, names in (("xlsx:Calc MS Excel 2007 XML", plans), ("pdf", PLANS)):
        files = [str(folder / f"{name}.xlsx") for name in names]
        made = [*command, kind, "--outdir", f"{folder}/out", *files]
        subprocess.run(made, check=True, capture_output=True, timeout=300)
    yield {
        name: (plan, openpyxl.load_workbook(folder / "out" / f"{name}.xlsx", data_only=True))
        for name, plan in plans.items()
    }
