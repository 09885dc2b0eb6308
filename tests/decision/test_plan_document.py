from pathlib import Path

from slidefit.decision.fields import PlanTable, cards
from slidefit.decision.plan_document import TABLES, plan_document

PAGE = Path(__file__).parents[2] / "docs" / "plan.md"


def test_the_page_is_what_the_declarations_say():
    assert PAGE.read_text(encoding="utf-8") == plan_document()


def test_every_table_and_field_is_on_the_page_with_a_meaning():
    page = plan_document()
    shown = {table for _, table, _ in TABLES}
    assert shown == {t for t in PlanTable.__subclasses__() if t.__module__.startswith("slidefit.decision")}
    for table in shown:
        for card in cards(table):
            assert f"| `{card.name}` |" in page
            assert card.meaning.endswith("."), card
