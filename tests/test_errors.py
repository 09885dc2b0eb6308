"""A fault says where it is, what is wrong and what to do next."""

from __future__ import annotations

import pytest

from slidefit import errors
from slidefit.errors import DocumentError, QuestionError, SlidefitError


def test_a_fault_in_a_document_carries_file_line_and_path_as_data() -> None:
    fault = SlidefitError(
        "is -5", where="plan.toml", line=12, path=("groups", 1, "weight_lb"), values={"found": -5}
    )
    assert (fault.path, fault.line, fault.values) == (("groups", 1, "weight_lb"), 12, {"found": -5})
    assert fault.where == "plan.toml, line 12, groups[2].weight_lb"
    both = DocumentError([fault, SlidefitError("is empty", where="plan.toml")])
    assert str(both).splitlines() == [f"{fault.where}: is -5", "plan.toml: is empty"]


@pytest.mark.parametrize(
    ("where", "remedy", "said"),
    [
        ("a.csv, row 4", "Give pounds.", "a.csv, row 4: is 56. Give pounds."),
        ("a.csv", "", "a.csv: is 56."),
        ("", "Give pounds.", "is 56. Give pounds."),
        ("", "", "is 56."),
    ],
)
def test_a_message_leaves_out_what_is_not_known(where: str, remedy: str, said: str) -> None:
    assert str(SlidefitError("is 56.", where=where, remedy=remedy)) == said


def test_each_kind_has_a_code_of_its_own_and_one_can_be_given() -> None:
    kinds = [
        each for each in vars(errors).values() if isinstance(each, type) and issubclass(each, SlidefitError)
    ]
    assert len({kind.code for kind in kinds}) == len(kinds) > 8
    assert (
        QuestionError("which unit?").code == "question" and QuestionError("busy", code="busy").code == "busy"
    )
    assert isinstance(
        QuestionError("which unit?"), errors.RecordsError
    )  # a reader that catches one catches both
