"""The form of a plan, made from the plan's own declarations: units, meanings, defaults and limits stand there once."""

from __future__ import annotations

import re
import typing
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache

from slidefit.errors import PlanError
from slidefit.plan.costs import KEEPING_COSTS
from slidefit.plan.feeding import Feed, Pasture, Phase, Program
from slidefit.plan.plan import Dates, Finance, Forward, Group, Plan, PlanFutures, Risk, TypedPrices
from slidefit.plan.selling import Contract, Floor, Selling
from slidefit.report.formatting import sale_month
from slidefit.report.plan_labels import CHOICE_WORDS, LABELS
from slidefit.toml_tables import TomlTable, card_of, default_text, limits_of, table_class
from slidefit.web.forms.plan_address import ADD_WORDS, NEW_NAMES, Kind, Values, bare, count_of, kind_of

MODES = {"number": "decimal", "whole": "numeric"}
NOT_A_FIELD = ("table", "tables")
GIST = {"head": "head", "weight_lb": "lb", "gain_lb_day": "lb a day", "lb_day": "lb a day", "days": "days"}
"""Fields that a folded part shows beside its name, with the word after the number."""
LONGEST_SAYS = 60
LONGEST_UNIT = 9
SHORT_UNITS = {
    "percent": "%", "percent a year": "%", "percent per cwt": "%", "percent of body weight": "% of wt",
    "$/head": "$", "$/acre": "$", "$/cwt per cwt": "$", "$/head-day": "$ a day", "lb/day": "lb",
    "lb dry matter/acre": "lb/acre", "day of month": "",
}  # fmt: skip
MONTH = re.compile(r"[0-9]{4}-(?:0[1-9]|1[0-2])")
FIELD_NAME = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")
SHOWN: dict[type[TomlTable], tuple[str, ...]] = {
    Plan: ("title",),
    TypedPrices: (
        "weight_lb", "price_cwt", "slide_pct", "later_month", "later_weight_lb", "later_price_cwt",
    ),
    PlanFutures: ("contract", "settlement", "as_of"),
    Dates: ("weaning", "first_sale", "last_sale", "sale_day"),
    Group: ("name", "sex", "head", "weight_lb", "muscle", "bid_cwt"),
    Forward: ("month", "weight_lb", "price_cwt", "name"),
    Program: (
        "name", "gain_lb_day", "cost_head_day", "earliest_on", "latest_off", "death_loss_pct", "health_head",
        "mineral_head_day", "labor_head_day", "yardage_head_day",
    ),
    Pasture: ("kind", "forage_lb_acre", "utilization_pct", "intake_pct", "acres", "cost_acre"),
    Feed: ("name", "lb_day", "price_ton", "waste_pct"),
    Phase: ("name", "days", "gain_lb_day", "cost_head_day"),
    Selling: ("commission_pct", "yardage_head", "checkoff_head", "freight_loaded_mile", "miles", "shrink_pct"),
    Contract: ("price_cwt", "base_weight_lb", "slide_cwt", "window_lb"),
    Floor: ("floor_cwt", "cost_cwt"),
    Finance: ("interest_pct",),
    Risk: ("loss_head",),
}  # fmt: skip
PROGRAM_COSTS = frozenset(
    {"death_loss_pct", "death_sd_pct", "spent_head", "shrink_pct", *(each.key for each in KEEPING_COSTS)}
)
"""Fields of a way to keep calves that stand among the costs, not with the feed."""
WORDS = {name: label for labels in LABELS.values() for name, label in labels.items()}


@dataclass(frozen=True)
class FormField:
    """One field as the form shows it."""

    name: str
    label: str
    unit: str
    meaning: str
    default: str
    limits: str
    kind: Kind
    value: str
    required: bool
    choices: tuple[tuple[str, str], ...]
    problem: str

    @property
    def unit_is_said(self) -> bool:
        """Whether the label says the unit already."""
        return all(word in self.label.lower().split() for word in self.unit.lower().split() if word != "of")

    @property
    def meaning_is_said(self) -> bool:
        """Whether the label says already what the field means."""
        return self.meaning.lower().rstrip(".") == self.label.lower()

    @property
    def short_unit(self) -> str:
        """The unit as it stands inside the field; empty where it is no short one."""
        if self.kind not in ("number", "whole"):
            return ""
        return SHORT_UNITS.get(self.unit, self.unit if len(self.unit) <= LONGEST_UNIT else "")

    @property
    def said(self) -> str:
        """The value with its unit, as a folded part says it."""
        if self.short_unit.startswith("$") and self.value[:1].isdecimal():
            return f"${self.value}{self.short_unit[1:]}"
        return self.value if self.value.endswith(self.short_unit) else f"{self.value} {self.short_unit}"

    @property
    def is_wide(self) -> bool:
        """Whether the field takes the whole width."""
        return self.kind in ("texts", "items", "month") or self.name.endswith("title")

    @property
    def mode(self) -> str:
        """The keyboard that a phone should show."""
        return MODES.get(self.kind, "text")


@dataclass(frozen=True)
class FormPart:
    """A part of the form: fields, fields shown on demand, and parts inside it."""

    title: str
    path: str = ""
    entries: tuple[FormField, ...] = ()
    more: tuple[FormField, ...] = ()
    blocks: tuple[FormPart, ...] = ()
    add: tuple[tuple[str, str], ...] = ()
    remove: str = ""
    folded: bool = False
    first: bool = False
    problems: tuple[str, ...] = field(default=())

    @property
    def more_at_fault(self) -> bool:
        """Whether a field shown on demand is at fault."""
        return any(each.problem for each in self.more)

    @property
    def more_says(self) -> str:
        """What the fields shown on demand hold."""
        told = ", ".join(f"{each.label.lower()} {each.said}" for each in self.more if each.value)
        return f"{told[:LONGEST_SAYS]}…" if len(told) > LONGEST_SAYS else told or "All as usual."

    @property
    def says(self) -> str:
        """What a folded part says of itself: what is set in it, in a few words."""
        told = {each.name.rpartition(".")[2]: each for each in self.entries if each.value}
        gist = ", ".join(
            told[name].value if told[name].value.endswith(word) else f"{told[name].value} {word}"
            for name, word in GIST.items()
            if name in told
        )
        if gist:
            return gist
        months = [told[name].value for name in ("first_sale", "last_sale") if name in told]
        if months and all(map(MONTH.fullmatch, months)):
            return " to ".join(sale_month(each, short=True) for each in months)
        names = [block.title for block in self.blocks if block.remove or block.is_open]
        own = [f"{each.label} {each.said}" for each in self.entries if each.value and not self.blocks]
        words = ", ".join(names or own)
        return f"{words[:LONGEST_SAYS]}…" if len(words) > LONGEST_SAYS else words or "Nothing set."

    @property
    def at_fault(self) -> bool:
        """Whether anything in the part is at fault."""
        own = any(each.problem for each in (*self.entries, *self.more))
        return own or bool(self.problems) or any(each.at_fault for each in self.blocks)

    @property
    def is_open(self) -> bool:
        """Whether the part holds anything that is filled or at fault."""
        own = any(each.value or each.problem for each in (*self.entries, *self.more))
        return own or bool(self.problems) or any(each.is_open for each in self.blocks)


def problems_by_field(fault: PlanError) -> dict[str, str]:
    """Return the problems of a plan by the flat name of the field.

    >>> from slidefit.errors import SlidefitError
    >>> problems_by_field(PlanError([SlidefitError("is -5", path=("groups", 1, "weight_lb"), remedy="Fix.")]))
    {'groups.1.weight_lb': 'Is -5. Fix.'}
    """
    found: dict[str, str] = {}
    for problem in fault.problems:
        told = in_words(f"{problem.what.rstrip('.')}. {problem.remedy}".strip())
        told = told[:1].upper() + told[1:]
        name = ".".join(str(part) for part in problem.path)
        found[name] = f"{found[name]} {told}" if name in found else told
    return found


def says_of(blocks: Iterable[FormPart], prefix: str = "s") -> dict[str, str]:
    """Return what each folded part says of itself, by the part's name on the page."""
    out = {}
    for place, block in enumerate(blocks):
        name = f"{prefix}-{place}"
        out[name] = block.says
        out |= says_of(block.blocks, name)
    return out


def in_words(text: str) -> str:
    """Return a text with the plan's field names replaced by what the form calls them.

    >>> in_words("is 2026-05, before first_sale 2026-11")
    'is 2026-05, before "First month of sale" 2026-11'
    """
    return FIELD_NAME.sub(lambda found: f'"{WORDS[found[0]]}"' if found[0] in WORDS else found[0], text)


def label_of(table: type[TomlTable], name: str) -> str:
    """Return what the form calls a field."""
    return LABELS[table][name]


@cache
def blank_field(table: type[TomlTable], name: str) -> FormField:
    """Return a field of a table as the form declares it: nothing filled in."""
    card, kind = card_of(name, table.model_fields[name]), kind_of(table, name)
    words = typing.get_args(bare(table.model_fields[name].annotation)) if kind == "choice" else ()
    return FormField(
        name=name,
        label=label_of(table, name),
        unit=card.unit,
        meaning=in_words(card.meaning),
        default="" if card.required else default_text(card),
        limits=limits_of(card),
        kind=kind,
        value="",
        required=card.required,
        choices=tuple((word, CHOICE_WORDS.get(word, word)) for word in words),
        problem="",
    )


def entry_of(
    table: type[TomlTable], prefix: str, own: str, values: Values, problems: Mapping[str, str]
) -> FormField:
    """Return one field of a table as the form shows it."""
    name = f"{prefix}{own}"
    near = [text for key, text in problems.items() if key == name or key.startswith(f"{name}.")]
    return replace(blank_field(table, own), name=name, value=values.get(name, ""), problem=" ".join(near))


def entries_of(
    table: type[TomlTable],
    prefix: str,
    values: Values,
    problems: Mapping[str, str],
    only: frozenset[str] | None = None,
) -> tuple[tuple[FormField, ...], tuple[FormField, ...]]:
    """Return a table's plain fields: those shown at once, and the others."""
    shown: list[FormField] = []
    more: list[FormField] = []
    for name in (*SHOWN[table], *(each for each in table.model_fields if each not in SHOWN[table])):
        if kind_of(table, name) in NOT_A_FIELD or (only is not None and name not in only):
            continue
        made = entry_of(table, prefix, name, values, problems)
        (shown if name in SHOWN[table] else more).append(made)
    return tuple(shown), tuple(more)


def table_block(
    table: type[TomlTable], path: str, title: str, values: Values, problems: Mapping[str, str],
    *, only: frozenset[str] | None = None, removable: bool = False, folded: bool = False, first: bool = False,
) -> FormPart:  # fmt: skip
    """Return a table and the tables inside it as a part of the form."""
    prefix = f"{path}." if path else ""
    shown, more = entries_of(table, prefix, values, problems, only)
    inner: list[FormPart] = []
    add: list[tuple[str, str]] = []
    for name in table.model_fields:
        if kind_of(table, name) not in NOT_A_FIELD or (only is not None and name not in only):
            continue
        inside = table_class(table.model_fields[name].annotation)
        assert inside is not None
        if kind_of(table, name) == "table":
            inner.append(
                table_block(inside, f"{prefix}{name}", label_of(table, name), values, problems, folded=True)
            )
        else:
            inner += list_blocks(inside, f"{prefix}{name}", values, problems)
            add.append((f"{prefix}{name}", ADD_WORDS[name]))
    return FormPart(
        title, path, shown, more, tuple(inner), tuple(add), path if removable else "", folded, first,
        tuple(text for key, text in problems.items() if key == path),
    )  # fmt: skip


def list_blocks(
    table: type[TomlTable],
    path: str,
    values: Values,
    problems: Mapping[str, str],
    only: frozenset[str] | None = None,
) -> Iterator[FormPart]:
    """Yield the tables of a list."""
    for position in range(count_of(values, path)):
        at = f"{path}.{position}"
        title = values.get(f"{at}.name") or f"{NEW_NAMES[path.split('.')[-1]]} {position + 1}"
        yield table_block(
            table, at, title, values, problems, only=only, removable=only is None or "name" in only,
            first=position == 0,
        )  # fmt: skip


def form_of(values: Values, problems: Mapping[str, str]) -> tuple[FormPart, ...]:
    """Return the whole form, in the order in which a person thinks: calves, feed, costs, sale, odds."""
    parts = {name: table_class(info.annotation) for name, info in Plan.model_fields.items()}
    group, program = parts["groups"], parts["programs"]
    assert group is not None and program is not None
    feed = frozenset(program.model_fields) - PROGRAM_COSTS

    def top(
        title: str,
        *blocks: FormPart,
        entries: tuple[FormField, ...] = (),
        more: tuple[FormField, ...] = (),
        add: str = "",
    ) -> FormPart:
        button = ((add, ADD_WORDS[add]),) if add else ()
        told = tuple(text for key, text in problems.items() if key == add) if add else ()
        return FormPart(title, "", entries, more, blocks, button, problems=told)

    title, other = entries_of(Plan, "", values, problems)
    weaning, _ = entries_of(Dates, "dates.", values, problems, frozenset({"weaning"}))
    months, other_months = entries_of(
        Dates, "dates.", values, problems, frozenset(Dates.model_fields) - {"weaning"}
    )
    costs = frozenset(Selling.model_fields) - {"contract", "floor"}
    selling = table_block(Selling, "selling", "What selling costs", values, problems, only=costs, first=True)
    agreed = [
        table_block(table, f"selling.{name}", label_of(Selling, name), values, problems, folded=True)
        for name, table in (("contract", Contract), ("floor", Floor))
    ]
    return (
        top(
            "Calves",
            *list_blocks(group, "groups", values, problems),
            entries=title + weaning,
            more=other,
            add="groups",
        ),
        top("Feed", *list_blocks(program, "programs", values, problems, feed), add="programs"),
        top(
            "Costs beside feed",
            *list_blocks(program, "programs", values, problems, PROGRAM_COSTS),
            entries=entries_of(Finance, "money.", values, problems)[0],
        ),
        top(
            "Sale",
            selling,
            *agreed,
            table_block(TypedPrices, "prices", label_of(Plan, "prices"), values, problems, folded=True),
            *list_blocks(PlanFutures, "futures", values, problems),
            entries=months,
            more=other_months,
        ),
        table_block(Risk, "risk", "Odds", values, problems),
    )


def label_path(name: str, values: Values) -> str:
    """Return where a field stands, in the form's words.

    >>> label_path("groups.0.weight_lb", {"groups.0.name": "Steers"})
    'Steers: Mean weight'
    """
    path = name.split(".")
    table: type[TomlTable] = Plan
    words: list[str] = []
    for at, part in enumerate(path):
        if part.isdecimal():
            words[-1] = values.get(".".join([*path[: at + 1], "name"]), words[-1])
        elif part in table.model_fields:
            words.append(label_of(table, part))
            table = table_class(table.model_fields[part].annotation) or table
    return ": ".join(words)
