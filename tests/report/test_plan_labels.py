"""What page and paper call the fields of a plan."""

from __future__ import annotations

from slidefit.plan.plan import Plan
from slidefit.report.plan_labels import LABELS, field_label, path_label
from slidefit.toml_tables import table_class


def test_every_table_of_a_plan_has_its_labels_and_no_two_fields_share_one() -> None:
    found, new = set(), {Plan}
    while new:
        found |= new
        inner = {table_class(info.annotation) for table in new for info in table.model_fields.values()}
        new = {table for table in inner if table is not None} - found
    assert found == set(LABELS)
    for table, labels in LABELS.items():
        assert set(labels) == set(table.model_fields), table
        assert len(set(labels.values())) == len(labels), table
        assert not any("_" in label for label in labels.values()), table


def test_a_number_is_called_by_its_place_inside_its_part() -> None:
    assert (
        path_label(("programs", 1, "phases", 0, "pasture", "cost_acre"))
        == "Phases 1: Pasture: Whole cost of an acre"
    )
    assert path_label(("groups", 0, "head")) == "Head" and path_label(("groups", 0)) == ""
    assert field_label("no_such_field") == "no such field"
