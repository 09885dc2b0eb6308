"""A stocker budget as a spreadsheet: plain formulas, recalculated by LibreOffice, to hold slidefit's budget against.

Run by hand where LibreOffice is installed: python tests/decision/spreadsheet/make_workbook.py
It reads the plans beside it as plain numbers, writes a workbook of formulas, lets LibreOffice work it out, and writes
every cell to values.csv (sheet, name, formula, value). It imports nothing of slidefit: the formulas are the trade's own
(pay weight, check less selling, costs on head started, revenue on head alive, interest on the calf and half the cash).
"""

from __future__ import annotations

import csv
import re
import subprocess
import tempfile
import tomllib
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook

HERE = Path(__file__).parent
PLANS = ("pasture", "ration", "yard", "contract", "floor")
MONTHS = {"01": "january", "02": "february", "03": "march", "04": "april", "10": "october"}


def flat(table: Any, prefix: str = "") -> dict[str, Any]:
    """Return every value of a plan by its path, such as ``groups.0.head``."""
    if isinstance(table, dict):
        pairs = table.items()
    elif isinstance(table, list):
        pairs = enumerate(table)
    else:
        return {prefix: table}
    out: dict[str, Any] = {}
    for key, value in pairs:
        out |= flat(value, f"{prefix}.{key}" if prefix else str(key))
    return out


class Sheet:
    """One plan's sheet: a name, a value or formula on each row; formulas name other rows in square brackets."""

    def __init__(self, book: Workbook, title: str) -> None:
        self.sheet = book.create_sheet(title)
        self.rows: dict[str, int] = {}

    def put(self, name: str, content: Any) -> None:
        """Add a row."""
        row = len(self.rows) + 1
        if isinstance(content, str) and content.startswith("="):
            content = re.sub(r"\[([^\]]+)\]", lambda found: f"$B${self.rows[found[1]]}", content)
        self.sheet.cell(row, 1, name)
        self.sheet.cell(row, 2, content)
        self.rows[name] = row

    def has(self, name: str) -> bool:
        """Return whether a row is there."""
        return name in self.rows

    def sum_of(self, *names: str) -> str:
        """Return the sum of those rows that are there."""
        return "+".join(f"[{name}]" for name in names if self.has(name)) or "0"

    def value(self, name: str, otherwise: str = "0") -> str:
        """Return a row's reference, or something else where the plan doesn't give it."""
        return f"[{name}]" if self.has(name) else otherwise


def put_inputs(sheet: Sheet, plan: dict[str, Any], market: dict[str, Any]) -> None:
    """Write every input; dates stay dates."""
    for name, value in flat(plan).items():
        sheet.put(name, value)
    for name, value in flat(market).items():
        sheet.put(f"market.{name}", value)


def put_growth(sheet: Sheet) -> None:
    """Days, and weights at weaning, at the end of waiting and at sale."""
    year, month = "VALUE(LEFT([dates.sales.0],4))", "VALUE(RIGHT([dates.sales.0],2))"
    sheet.put("days", f"=DATE({year},{month},[dates.sale_day])-[dates.weaning]")
    calves = [name for name in sheet.rows if name.startswith("groups.0.weights_lb.")]
    mean = f"=({sheet.sum_of(*calves)})/{len(calves)}" if calves else "=[groups.0.weight_lb]"
    sheet.put("start_lb", mean)
    waiting = "=[programs.0.earliest_on]-[dates.weaning]" if sheet.has("programs.0.earliest_on") else "=0"
    sheet.put("wait_days", waiting)
    sheet.put("feeding_days", "=[days]-[wait_days]")
    slump = sheet.value("programs.0.slump_lb")
    sheet.put("on_feed_lb", f"=[start_lb]-{slump}+[wait_days]*{sheet.value('programs.0.wait_gain_lb_day')}")
    sheet.put("weight_lb", "=[on_feed_lb]+[feeding_days]*[programs.0.gain_lb_day]")
    sheet.put("gained_lb", "=[weight_lb]-[start_lb]")


def price(sheet: Sheet, plan: dict[str, Any], weight: str, season: str) -> str:
    """Return the formula of the market's price at a weight in a month."""
    group = plan["groups"][0]
    slide, level = "[market.steer_slide]", "0"
    if group["sex"] == "heifer":
        slide, level = "[market.heifer_slide]", "[market.heifer_level]"
    cwt = f"({weight}-550)/100"
    if group.get("muscle") == "1-2":
        level += f"+[market.grade_12_level]+[market.grade_12_slope]*{cwt}"
    return f"[market.price_550_cwt]*EXP([market.season_log.{season}]+{level}-{slide}*{cwt})"


def put_prices(sheet: Sheet, plan: dict[str, Any]) -> None:
    """Prices at weaning and at sale: bid, market, contract, floor; and what calves weighed one by one bring besides."""
    season = MONTHS[plan["dates"]["sales"][0][-2:]]
    market_now = price(sheet, plan, "[start_lb]", "october")
    sheet.put("market_now_cwt", f"={market_now}")
    sheet.put(
        "price_now_cwt", "=[groups.0.bid_cwt]" if sheet.has("groups.0.bid_cwt") else "=[market_now_cwt]"
    )
    sheet.put("premium", "=[price_now_cwt]/[market_now_cwt]")
    sheet.put("start_weight_later_cwt", f"=[premium]*{price(sheet, plan, '[start_lb]', season)}")
    sheet.put("market_later_cwt", f"=[premium]*{price(sheet, plan, '[weight_lb]', season)}")
    calves = [f"[{name}]" for name in sheet.rows if name.startswith("groups.0.weights_lb.")]
    for name, month, add in (("mix_now", "october", "0"), ("mix_later", season, "[gained_lb]")):
        each = [f"({w}+{add})*{price(sheet, plan, f'({w}+{add})', month)}" for w in calves]
        mean, at_mean = (
            ("[start_lb]", "[market_now_cwt]")
            if add == "0"
            else ("[weight_lb]", "[market_later_cwt]/[premium]")
        )
        sheet.put(name, f"=(({'+'.join(each)})/{len(calves)})/({mean}*{at_mean})" if calves else "=1")


def put_shrink(sheet: Sheet) -> None:
    """Pay weights; hours on a truck by the table of Boyles, Ohio State University Extension, 30 May 2012."""
    pencil = f"(1-{sheet.value('selling.pencil_shrink_pct')}/100)"
    if sheet.has("selling.hours_hauled"):
        h = "[selling.hours_hauled]"
        table = f"IF({h}<=1,2*{h},IF({h}<=2,2+2*({h}-1),IF({h}<=8,4+2*({h}-2)/6,6+2*({h}-8)/8)))"
        sheet.put("shrink_pct", f"={table}")
    else:
        sheet.put("shrink_pct", "=[selling.shrink_pct]")
    sheet.put("shrink_later_pct", f"={sheet.value('programs.0.shrink_pct', '[shrink_pct]')}")
    sheet.put("pay_now_lb", f"=[start_lb]*(1-[shrink_pct]/100)*{pencil}")
    sheet.put("pay_later_lb", f"=[weight_lb]*(1-[shrink_later_pct]/100)*{pencil}")
    if sheet.has("selling.contract.price_cwt"):
        heavy = "[pay_later_lb]-[selling.contract.base_weight_lb]-[selling.contract.window_lb]"
        contract = f"=[selling.contract.price_cwt]-[selling.contract.slide_cwt]*MAX(0,{heavy})/100"
        sheet.put("price_later_cwt", contract)
    elif sheet.has("selling.floor.floor_cwt"):
        sheet.put("price_later_cwt", "=MAX([market_later_cwt],[selling.floor.floor_cwt])")
    else:
        sheet.put("price_later_cwt", "=[market_later_cwt]")


def put_selling(sheet: Sheet) -> None:
    """Checks less commission, yardage, checkoff, insurance and freight."""
    sheet.put("commission_share", f"={sheet.value('selling.commission_pct')}/100")
    by_head = ("commission_head", "yardage_head", "checkoff_head", "insurance_head", "freight_head")
    sheet.put("selling_head", "=" + sheet.sum_of(*(f"selling.{name}" for name in by_head)))
    mile = "0"
    if sheet.has("selling.freight_loaded_mile"):
        mile = "[selling.freight_loaded_mile]*[selling.miles]/[selling.load_lb]"
    sheet.put("freight_lb", f"={mile}")
    for when, weight in (("now", "[start_lb]"), ("later", "[weight_lb]")):
        sheet.put(f"check_{when}", f"=[pay_{when}_lb]*[price_{when}_cwt]/100*[mix_{when}]")
        taken = f"[check_{when}]*[commission_share]+[selling_head]+[freight_lb]*{weight}"
        sheet.put(f"selling_{when}", f"={taken}")
        sheet.put(f"sold_{when}", f"=[check_{when}]-[selling_{when}]")


def put_costs(sheet: Sheet, plan: dict[str, Any]) -> None:
    """Feed, pasture, everything else, a floor, and interest on the calf and half the cash."""
    program = plan["programs"][0]
    sheet.put("yard_feed", f"=[feeding_days]*{sheet.value('programs.0.cost_head_day')}")
    sheet.put("wait_feed", f"=[wait_days]*{sheet.value('programs.0.wait_cost_head_day')}")
    feeds = []
    for k, _ in enumerate(program.get("ration", ())):
        at = f"programs.0.ration.{k}."
        sheet.put(f"feed_{k}", f"=[feeding_days]*[{at}lb_day]/(1-[{at}waste_pct]/100)*[{at}price_ton]/2000")
        feeds.append(f"feed_{k}")
    if "pasture" in program:
        at = "programs.0.pasture."
        items = [
            name
            for name in sheet.rows
            if name.startswith(at) and name.endswith("_acre") and "forage" not in name
        ]
        sheet.put("acre_cost", "=" + sheet.sum_of(*items))
        sheet.put("mean_lb", "=([on_feed_lb]+[weight_lb])/2")
        sheet.put("intake_lb_day", f"=[mean_lb]*[{at}intake_pct]/100")
        sheet.put("head_days_acre", f"=[{at}forage_lb_acre]*[{at}utilization_pct]/100/[intake_lb_day]")
        sheet.put("pasture_head_day", "=[acre_cost]/[head_days_acre]")
        sheet.put("pasture", "=[feeding_days]*[pasture_head_day]")
        sheet.put("head_acre", "=[head_days_acre]/[feeding_days]")
        sheet.put("acres_needed", "=[groups.0.head]/[head_acre]")
    sheet.put("feed", "=" + sheet.sum_of("yard_feed", "wait_feed", "pasture", *feeds))
    daily = ("mineral", "labor", "yardage", "fuel", "other")
    per_day = sheet.sum_of(*(f"programs.0.{name}_head_day" for name in daily))
    once = sheet.sum_of("programs.0.health_head", "programs.0.other_head")
    sheet.put("other_costs", f"=[days]*({per_day})+{once}")
    floor = "[pay_later_lb]/100*[selling.floor.cost_cwt]" if sheet.has("selling.floor.cost_cwt") else "0"
    sheet.put("floor_cost", f"={floor}")
    sheet.put("cash", "=[feed]+[other_costs]+[floor_cost]")
    sheet.put("time_rate", "=[money.interest_pct]/100*[days]/365")
    sheet.put("interest", "=[time_rate]*([sold_now]+[cash]/2)")


def put_answers(sheet: Sheet) -> None:
    """Net now, net of keeping, the gain for head, herd and acre, value and cost of gain."""
    sheet.put("alive", "=1-[programs.0.death_loss_pct]/100")
    sheet.put("net_now", "=[sold_now]")
    sheet.put("net_keep", "=[alive]*[sold_later]-[cash]-[interest]")
    sheet.put("gain", "=[net_keep]-[net_now]")
    room = "[groups.0.head]"
    if sheet.has("programs.0.pasture.acres"):
        room = f"MIN({room},INT([programs.0.pasture.acres]*[head_acre]))"
    sheet.put("head_kept", f"={room}")
    sheet.put("gain_herd", "=[gain]*[head_kept]")
    if sheet.has("head_acre"):
        sheet.put("gain_acre", "=[gain]*[head_acre]")
    sheet.put("value_of_gain", "=([check_later]-[check_now])/[gained_lb]")
    sheet.put("cost_of_gain", "=([cash]+[interest])/[gained_lb]")


def put_breakevens(sheet: Sheet) -> None:
    """Breakevens that have a closed form, each with all else as planned."""
    needed = "([net_now]+[cash]+[interest])"
    fixed = "[selling_head]+[freight_lb]*"
    net_cwt = "((1-[commission_share])*[pay_later_lb]*[mix_later]/100)"
    sheet.put("even_sale_price_cwt", f"=({needed}/[alive]+{fixed}[weight_lb])/{net_cwt}")
    sheet.put("even_cost_head_day", "=([cash]+[gain]/(1+[time_rate]/2))/[days]")
    sheet.put("even_death_loss_pct", f"=100*(1-{needed}/[sold_later])")
    worth = "([net_now]+[gain]/(1+[time_rate]))"
    sheet.put(
        "even_bid_cwt", f"=({worth}+{fixed}[start_lb])/((1-[commission_share])*[pay_now_lb]*[mix_now]/100)"
    )
    ratio = "[even_sale_price_cwt]/[start_weight_later_cwt]"
    sheet.put("even_slide_pct_cwt", f"=100*(1-({ratio})^(100/[gained_lb]))")
    if sheet.has("pasture"):
        with_interest = "[pasture]*(1+[time_rate]/2)"
        forage = "[programs.0.pasture.forage_lb_acre]"
        sheet.put("even_forage_lb_acre", f"={forage}*{with_interest}/([gain]+{with_interest})")


def build() -> Workbook:
    """Return the workbook, a sheet for each plan."""
    book = Workbook()
    book.remove(book.worksheets[0])
    market = tomllib.loads((HERE / "market.toml").read_text(encoding="utf-8"))
    for name in PLANS:
        plan = tomllib.loads((HERE / f"{name}.toml").read_text(encoding="utf-8"))
        sheet = Sheet(book, name)
        put_inputs(sheet, plan, market)
        put_growth(sheet)
        put_prices(sheet, plan)
        put_shrink(sheet)
        put_selling(sheet)
        put_costs(sheet, plan)
        put_answers(sheet)
        put_breakevens(sheet)
    return book


def main() -> None:
    """Write values.csv."""
    with tempfile.TemporaryDirectory() as folder:
        plain, worked = Path(folder) / "budgets.xlsx", Path(folder) / "out"
        book = build()
        book.save(plain)
        command = ["soffice", "--headless", f"-env:UserInstallation=file://{folder}/profile"]
        subprocess.run(
            [*command, "--convert-to", "xlsx", "--outdir", str(worked), str(plain)], check=True, timeout=180
        )
        values = load_workbook(worked / "budgets.xlsx", data_only=True)
    with (HERE / "values.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("sheet", "name", "formula", "value"))
        for title in PLANS:
            for row, (name, content) in enumerate(book[title].iter_rows(values_only=True), start=1):
                value = values[title].cell(row, 2).value
                formula = content if isinstance(content, str) and content.startswith("=") else ""
                shown = value.date() if hasattr(value, "date") else value
                writer.writerow(
                    (title, name, formula, shown if not isinstance(shown, float) else repr(shown))
                )


if __name__ == "__main__":
    main()
