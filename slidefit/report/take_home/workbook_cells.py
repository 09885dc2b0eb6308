"""The cells of the live workbook: budgets as columns of formulas, prices by weight, numbers of the plan by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from slidefit.report.take_home.plan_cells import LARGEST_LOT_HEAD, Choice, Link, LogMove, PlanCells

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from slidefit.decision.budget.table import Entry

CENTS, POUNDS, NUMBER, LOG, DAY = "#,##0.00;-#,##0.00", "#,##0", "#,##0.####", "0.00000000", "yyyy-mm-dd"
LABELS, BUDGET_TOP, CURVE_TOP = 3, 5, 4
PLACES, SLIDE = ("place_now", "place_sale", "place_planned"), "slide_added"
SAME_LB = 1e-9


@dataclass
class Book:
    """The workbook as it is being written: where every name and every line of prices stands."""

    book: Workbook
    cells: PlanCells
    names: dict[str, str] = field(default_factory=dict)
    curves: dict[tuple[int, date], tuple[str, str]] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)
    mixes: int = 0

    def called(self, choice: Choice) -> tuple[str, str]:
        """Return the names of a choice's group and program."""
        plan = self.cells.plan
        return plan.groups[choice.group].name, plan.programs[choice.program].name


@dataclass(frozen=True)
class Change:
    """What a column of the budget has in place of the plan's: formulas of inputs, dollars added to a price, and slide.

    ``slide``: log points of price for 100 lb more, from the weight that the price is known for on.
    """

    inputs: Mapping[str, str] = field(default_factory=dict)
    add_cwt: str = ""
    add_start_cwt: str = ""
    slide: str = "0"


def put(sheet: Worksheet, row: int, column: int, value: Any, shape: str = "", *, bold: bool = False) -> str:
    """Put a value into a cell and return its address; text is never a formula unless it is ours (``Formula``)."""
    from openpyxl.styles import Font

    cell = sheet.cell(row, column)
    if isinstance(value, Formula):
        cell.value = f"={value.text}"
    else:
        cell.value = value
        if isinstance(value, str):
            cell.data_type = "s"
    if shape:
        cell.number_format = shape
    if bold:
        cell.font = Font(bold=True)
    return f"'{sheet.title}'!{cell.coordinate}"


@dataclass(frozen=True)
class Formula:
    """A formula of ours, without its equals sign; any other text is only text."""

    text: str


def put_heads(sheet: Worksheet, row: int, headings: Sequence[str], widths: Sequence[float] = ()) -> None:
    """Put headings into a row, and say how wide their columns are."""
    for column, heading in enumerate(headings, start=1):
        put(sheet, row, column, heading, bold=True)
    for letter, width in zip("ABCDEFGH", widths, strict=False):
        sheet.column_dimensions[letter].width = width


def gain_name(group: int, program: int, day: date) -> str:
    """Return the name of the cell that holds the gain of a choice's budget: ``gain_head_1_2_2026_11``."""
    return f"gain_head_{group + 1}_{program + 1}_{day:%Y_%m}"


def give_name(made: Book, name: str, sheet: Worksheet, row: int, column: int) -> None:
    """Give a cell a name of its own in the whole workbook."""
    from openpyxl.utils import get_column_letter
    from openpyxl.workbook.defined_name import DefinedName

    where = f"'{sheet.title}'!${get_column_letter(column)}${row}"
    made.book.defined_names[name] = DefinedName(name, attr_text=where)
    made.names[name] = name


def _log_term(move: LogMove, per: float, made: Book) -> str:
    """Return how the log price moves with a number of the plan, as a formula."""
    value = {each.name: each.value for each in made.cells.numbers}[move.name]
    if move.name.endswith("_head"):
        return f"{per!r}*LN(MIN({move.name},{LARGEST_LOT_HEAD})/{min(value, LARGEST_LOT_HEAD)!r})"
    return f"{per!r}*LN({move.name}/{value!r})"


def price_curves(made: Book) -> None:
    """Write the log prices by weight: for each group a column of weights, and one for each day."""
    from openpyxl.utils import get_column_letter

    sheet, column = made.book["Curves"], 1
    told = "Natural logs of $/cwt by weight: the prices behind the budgets, read straight between weights."
    put(sheet, 1, 1, told)
    for g, case in enumerate(made.cells.cases):
        weights = case.prices.weights_lb
        count, lb = len(weights), get_column_letter(column)
        put(sheet, CURVE_TOP - 1, column, f"{case.group.name}: lb", bold=True)
        for k, weight in enumerate(weights):
            put(sheet, CURVE_TOP + k, column, float(weight), POUNDS)
        days = sorted(day for group, day in made.cells.moves if group == g)
        for day in days:
            column += 1
            log_cwt, moves = case.prices.line(day).log_cwt, made.cells.moves[g, day]
            put(sheet, CURVE_TOP - 1, column, day, "yyyy-mm-dd", bold=True)
            for k, value in enumerate(log_cwt):
                terms = [_log_term(m, float(m.per[k]), made) for m in moves if abs(m.per[k]) > 1e-12]
                text = "+".join([repr(float(value)), "LN(1+price_level_pct/100)", *terms])
                put(sheet, CURVE_TOP + k, column, Formula(text), LOG)
            letter, last = get_column_letter(column), CURVE_TOP + count - 1
            made.curves[g, day] = (
                f"Curves!${lb}${CURVE_TOP}:${lb}${last}",
                f"Curves!${letter}${CURVE_TOP}:${letter}${last}",
            )
        column += 2


def place_formula(weights: str, weight: str) -> str:
    """Return which step of the weights a weight stands on, as a formula: held at the ends."""
    low, high = weights.split(":")[0], f"Curves!{weights.split(':')[1]}"
    return f"MIN(MATCH(MAX(MIN({weight},{high}),{low}),{weights},1),ROWS({weights})-1)"


def price_formula(made: Book, line: tuple[int, date], weight: str, place: str) -> str:
    """Return the price at a weight [$/cwt] as a formula, its place being worked out in a cell."""
    weights, logs = made.curves[line]
    low, high = weights.split(":")[0], f"Curves!{weights.split(':')[1]}"
    held = f"MAX(MIN({weight},{high}),{low})"
    below, above = f"INDEX({weights},{place})", f"INDEX({weights},{place}+1)"
    log_below, log_above = f"INDEX({logs},{place})", f"INDEX({logs},{place}+1)"
    return f"EXP({log_below}+({log_above}-{log_below})*({held}-{below})/({above}-{below}))"


def _entries(made: Book) -> list[Entry]:
    """Return every line that some budget has, in an order that all of them keep."""
    order: list[Entry] = []
    known: list[str] = []
    for choice in made.cells.choices:
        at = 0
        for entry in choice.option.budget.entries:
            if entry.key not in known:
                known.insert(at, entry.key)
                order.insert(at, entry)
            at = known.index(entry.key) + 1
    return order


def budget_labels(made: Book, sheet: Worksheet) -> None:
    """Write what each row of the budgets is, its unit and its key."""
    entries = _entries(made)
    own = sheet.title == "Budget"
    told = "Dollars a head that starts; costs as plus amounts." if own else "Budgets with one number moved."
    put_heads(sheet, 1, (), (34, 18, 20))
    put(sheet, 1, 1, told)
    for row, words in ((2, "Calves"), (3, "Program"), (4, "Sold")):
        put(sheet, row, 1, words, bold=True)
    row = BUDGET_TOP
    for entry in entries:
        put(sheet, row, 1, entry.label, bold=entry.kind == "total")
        put(sheet, row, 2, entry.unit)
        put(sheet, row, 3, entry.key)
        made.rows[entry.key] = row
        row += 1
    steps = ("step of the weights, now", "step of the weights, at sale", "step, planned weight")
    for key, words in zip((*PLACES, SLIDE), (*steps, "slide added, log points per cwt"), strict=True):
        put(sheet, row, 1, words)
        put(sheet, row, 3, key)
        made.rows[key] = row
        row += 1
    sheet.freeze_panes = "D5"


def budget_column(
    made: Book, sheet: Worksheet, column: int, choice: Choice, change: Change
) -> Callable[[str], str]:
    """Write one budget into a column; return from a key to its cell."""
    from openpyxl.utils import get_column_letter

    cells, option = made.cells, choice.option
    case, letter = cells.cases[choice.group], get_column_letter(column)
    group, budget = cells.plan.groups[choice.group], option.budget

    def at(key: str) -> str:
        return f"{letter}{made.rows[key]}"

    for row, value in ((2, group.name), (3, cells.plan.programs[choice.program].name), (4, choice.sale_date)):
        put(sheet, row, column, value, "yyyy-mm-dd" if row == 4 else "", bold=True)
    now, then = (choice.group, case.start), (choice.group, choice.sale_date)
    formulas = budget.spreadsheet(
        at, lambda weight, _day: price_formula(made, then, weight, at("place_sale"))
    )
    for entry in budget.entries:
        row = made.rows[entry.key]
        if entry.key in change.inputs:
            text = change.inputs[entry.key]
        elif entry.key == "start_price_cwt":
            text = (
                f"groups_{choice.group + 1}_bid_cwt"
                if group.bid_cwt is not None
                else price_formula(made, now, at("start_lb"), at("place_now"))
            )
            text += change.add_start_cwt
        elif entry.key in ("start_mix", "sale_mix"):
            line, weight = (now, "start_lb") if entry.key == "start_mix" else (then, "planned_lb_sale")
            text = _mix(made, sheet, choice, line, at(weight), at("start_lb"))
        elif entry.formula is None:
            text = _linked(choice.links.get(entry.key), entry.default)
        else:
            text = formulas[entry.key]
            if entry.key == "market_cwt" and change.add_cwt:
                text = f"{text}+{change.add_cwt}"
            if entry.key == "market_cwt" and change.slide != "0":
                typed = abs(option.slide_from_lb - option.start_lb) > SAME_LB
                known = repr(float(option.slide_from_lb)) if typed else at("start_lb")
                text = f"({text})*EXP(-{at(SLIDE)}*({at('sale_lb')}-{known})/100)"
        shape = CENTS if entry.unit.startswith("$") else NUMBER
        put(sheet, row, column, Formula(text), shape, bold=entry.kind == "total")
    for key, line, weight in zip(
        PLACES, (now, then, then), ("start_lb", "sale_lb", "planned_lb_sale"), strict=True
    ):
        put(sheet, made.rows[key], column, Formula(place_formula(made.curves[line][0], at(weight))), POUNDS)
    put(sheet, made.rows[SLIDE], column, Formula(change.slide), LOG)
    return lambda key: f"'{sheet.title}'!${letter}${made.rows[key]}"


def _linked(link: Link | None, default: float) -> str:
    """Return an input of a budget as a formula of the plan's numbers."""
    if link is None:
        return repr(float(default))
    terms = [name if per == 1.0 else f"{per!r}*{name}" for name, per in link.parts]
    return "+".join([*([repr(link.base)] if link.base or not terms else []), *terms]).replace("+-", "-")


def _mix(
    made: Book, sheet: Worksheet, choice: Choice, line: tuple[int, date], weight: str, start: str
) -> str:
    """Return what pricing calves one by one makes of the check, as a formula: over the sheet Mix."""
    from openpyxl.utils import get_column_letter

    spread = choice.option.spread_lb
    if len(spread) == 1:
        return "1"
    group, mix = made.cells.plan.groups[choice.group], made.book["Mix"]
    prefix, first = f"groups_{choice.group + 1}_", made.mixes * 3 + 1
    made.mixes += 1
    letters = [get_column_letter(first + k) for k in range(3)]
    here = f"'{sheet.title}'!{weight}"
    put(mix, 1, first, f"{group.name}, {line[1]}", bold=True)
    own_list = group.weights_lb is not None
    for k, off in enumerate(spread, start=2):
        if own_list:
            far = f"{prefix}weights_lb_{k - 1}-'{sheet.title}'!{start}"
        else:
            far = f"{float(off / group.weight_sd_lb)!r}*{prefix}weight_sd_lb"
        w, place = f"{letters[0]}{k}", f"{letters[1]}{k}"
        put(mix, k, first, Formula(f"{here}+({far})"), NUMBER)
        put(mix, k, first + 1, Formula(place_formula(made.curves[line][0], w)), POUNDS)
        put(mix, k, first + 2, Formula(f"{w}*{price_formula(made, line, w, place)}"), NUMBER)
    last = len(spread) + 1
    known = "place_now" if line[1] == made.cells.cases[choice.group].start else "place_planned"
    place = f"'{sheet.title}'!{weight.rstrip('0123456789')}{made.rows[known]}"
    return f"AVERAGE(Mix!{letters[2]}2:{letters[2]}{last})/({here}*{price_formula(made, line, here, place)})"
