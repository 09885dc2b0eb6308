"""How the page says settings, fields and actions that a message refers to."""

from __future__ import annotations

from starlette.types import ASGIApp, Receive, Scope, Send

from slidefit.facts import Action, Field, Setting, spoken_by
from slidefit.report.plan_labels import field_label

SETTINGS = {
    "price_unit": "Unit of price",
    "weight_unit": "Unit of weight",
    "date_order": "Order of dates",
    "sale_day": "Day of sale",
    "sheet": "Sheet",
    "market": "Market",
    "currency": "Currency",
    "mapping": "A column",
    "path": "another book",
    "weight_lb": "the weight",
    "months": "the month",
    "sexes": "the sex",
}
"""What the page calls the settings of the library: the labels of its own fields."""
ACTIONS = {
    "fit": "fit again under Slide",
    "add": "add files under Records",
    "undo": "undo the batch under Records",
    "update": "update the region under Regions",
    "make_region": "make a region of the fit under Regions",
}
"""The page's own places for what can be done next."""


class PageDoor:
    """Labels of the form, and the places where something is done."""

    def setting(self, part: Setting) -> str:
        """Return a setting as the label of its field, with the value to give.

        >>> PageDoor().setting(Setting("price_unit", "$/lb")), PageDoor().setting(Setting("mapping", "Preis=price"))
        ('"Unit of price": $/lb', 'what "Preis" is: price')
        """
        heading, _, meaning = part.value.rpartition("=")
        if part.name == "values" and heading:
            return f'what "{heading.partition(":")[2]}" means: {meaning}'
        if part.name == "mapping" and heading:
            return f'what "{heading}" is: {meaning}'
        label = SETTINGS.get(part.name, part.name.replace("_", " "))
        quoted = f'"{label}"' if label[:1].isupper() else label
        return f"{quoted}: {part.value}" if part.value else quoted

    def field(self, part: Field) -> str:
        """Return a plan's field as its label.

        >>> PageDoor().field(Field("first_sale", "2026-11"))
        '"First month of sale": 2026-11'
        """
        label = f'"{field_label(part.name)}"'
        return f"{label}: {part.value}" if part.value else label

    def action(self, part: Action) -> str:
        """Return where on the page something is done."""
        return ACTIONS.get(part.name, f"use the command: slidefit {part.name.replace('_', ' ')}")


class Spoken:
    """Lets every message of a request be said in the page's words."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request with the page's door open."""
        with spoken_by(PageDoor()):
            await self.app(scope, receive, send)
