import numpy as np
import pytest

from slidefit.decision.budget.expressions import (
    PYTHON_SCOPE,
    Key,
    as_javascript,
    as_python,
    as_spreadsheet,
    least,
    most,
    price_at,
    where,
)

A, B = Key("a"), Key("b")


def test_an_expression_is_no_condition():
    with pytest.raises(TypeError, match="where"):
        bool(A > 0)
    with pytest.raises(TypeError):
        _ = A if A else B


@pytest.mark.parametrize(
    ("expression", "text", "value"),
    [
        (A - (B - 1), "a-(b-1)", 3 - (2 - 1)),
        (A / (B / 4), "a/(b/4)", 3 / (2 / 4)),
        (A / B / 4, "a/b/4", 3 / 2 / 4),
        ((A + B) * 2, "(a+b)*2", 10),
        (-A + B, "0-a+b", -1),
        (A * -2, "a*(-2)", -6),
        (1 - A, "1-a", -2),
        (A**2, "POWER(a,2)", 9),
        (least(A, least(B, 1)), "MIN(a,MIN(b,1))", 1),
        (most(A, B), "MAX(a,b)", 3),
        (where(A > B, A, B), "IF(a>b,a,b)", 3),
        (where(A <= B, A, B), "IF(a<=b,a,b)", 2),
        (A + 0.1234567891, "a+0.1234567891", 3.1234567891),
    ],
)
def test_each_reader_reads_the_same_formula(expression, text, value):
    assert as_spreadsheet(expression) == text
    got = eval(as_python(expression), {**PYTHON_SCOPE, "a": 3.0, "b": 2.0})
    many = eval(as_python(expression), {**PYTHON_SCOPE, "a": np.full(2, 3.0), "b": np.full(2, 2.0)})
    assert got == pytest.approx(value)
    assert not isinstance(got, np.generic)
    assert many == pytest.approx([value, value])


def test_prices_are_asked_for_and_a_spreadsheet_must_say_where_they_are():
    asked = price_at(A, 3)
    assert as_javascript(asked) == "priceAt(a,3)"
    assert (
        as_spreadsheet(asked, price=lambda weight, day: f"INDEX(prices,{weight},{day})")
        == "INDEX(prices,a,3)"
    )
    with pytest.raises(TypeError, match="prices"):
        as_spreadsheet(asked)
