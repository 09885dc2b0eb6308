"""A fit on disk."""

import dataclasses
import json
import re
import typing
from datetime import date
from pathlib import Path

import numpy as np
import pytest

import slidefit
from slidefit.errors import FitError
from slidefit.market.market_fit import MarketFit, fit_market
from slidefit.market.saved_fit import (
    FORMAT,
    HASH,
    VERSION,
    content_hash,
    from_document,
    load_fit,
    save_fit,
    saved_fields,
    to_document,
)
from tests.market.simulate import simulate


@pytest.fixture(scope="module")
def path(fitted, tmp_path_factory):
    return save_fit(fitted, tmp_path_factory.mktemp("fit") / "slide.json")


@pytest.fixture
def document(path):
    return json.loads(path.read_text(encoding="utf-8"))


def same(one, two):
    """Compare field by field, NaN equal to NaN."""
    if dataclasses.is_dataclass(one):
        assert type(one) is type(two)
        for field in saved_fields(one):
            same(getattr(one, field.name), getattr(two, field.name))
    elif isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, two)
        assert one.dtype == two.dtype
    elif isinstance(one, dict):
        assert one.keys() == two.keys()
        for key in one:
            same(one[key], two[key])
    elif isinstance(one, tuple):
        assert isinstance(two, tuple) and len(one) == len(two)
        for a, b in zip(one, two, strict=True):
            same(a, b)
    elif isinstance(one, float) and np.isnan(one):
        assert np.isnan(two)
    else:
        assert one == two and type(one) is type(two), (one, two)


def test_every_field_comes_back_as_it_was(fitted, path):
    same(fitted, load_fit(path))


def test_it_answers_the_same(fitted, path):
    again = slidefit.load(path)
    assert again.slide().equals(fitted.slide())
    assert again.season().equals(fitted.season())
    same(again.outlook(), fitted.outlook())


@pytest.fixture(scope="module")
def thin():
    return fit_market(simulate(7, sales=8, lots=20, days_between=61).records)


def test_a_thin_fit_with_open_months_comes_back_too(thin, tmp_path):
    assert np.isnan(thin.index.month_log).any()
    same(thin, load_fit(save_fit(thin, tmp_path / "thin.json")))


def test_it_is_plain_json_with_format_and_version(document):
    assert (document["format"], document["version"]) == (FORMAT, VERSION)
    assert len(json.dumps(document)) < 400_000


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(FitError, match="there is no such file") as refused:
        load_fit(tmp_path / "none.json")
    assert "none.json" in str(refused.value) and "fit()" in refused.value.remedy


@pytest.mark.parametrize(
    "text", ["", "no json", "[1, 2]", "7", '{"format": "another"}', "{", "\x00\x01", '{"a": ']
)
def test_what_is_no_fit_is_refused(tmp_path, text):
    (tmp_path / "x.json").write_text(text)
    with pytest.raises(FitError, match="this is not a saved fit"):
        load_fit(tmp_path / "x.json")


def test_a_folder_or_bytes_are_no_fit(tmp_path):
    (tmp_path / "x.json").write_bytes(b"\xff\xfe\x00binary\x80")
    for path, told in (
        (tmp_path, "can.t be read .is a directory"),
        (tmp_path / "x.json", "this is not a saved fit"),
    ):
        with pytest.raises(FitError, match=told):
            load_fit(path)


@pytest.mark.parametrize("version", [VERSION + 1, VERSION - 1, "1", None])
def test_another_version_is_refused(tmp_path, document, version):
    document["version"] = version
    (tmp_path / "x.json").write_text(json.dumps(document))
    with pytest.raises(FitError, match=f"reads version {VERSION}"):
        load_fit(tmp_path / "x.json")


def set_at(document, place, value):
    *way, last = place
    for step in way:
        document = document[step]
    if value is KeyError:
        del document[last]
    else:
        document[last] = value


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (
            (
                "slide_fit",
                "model",
            ),
            KeyError,
        ),
        (
            (
                "slide_fit",
                "model",
            ),
            5,
        ),
        (("slide_fit", "model", "coef"), KeyError),
        (("slide_fit", "model", "coef"), [0.1, "a"]),
        (("slide_fit", "model", "coef"), [0.1, 0.2]),
        (("slide_fit", "model", "coef", 0), None),
        (("slide_fit", "model", "coef", 0), 10**400),  # more than a float holds
        (("slide_fit", "model", "cov"), [[1.0]]),
        (("slide_fit", "model", "support"), [1, 2]),
        (("slide_fit", "model", "support"), {}),
        (("slide_fit", "model", "recipe", "season_harmonics"), "two"),
        (("slide_fit", "model", "recipe", "traits"), ["fleshy"]),
        (("season_fit", "log"), [0.0] * 11),
        (("grade_place",), {"ML 1": 99}),
        (("grade_place",), None),
        (("basis", "markets"), ["A", "B"]),
        (("basis", "first_sale"), "yesterday"),
        (("basis", "first_sale"), 20180101),
        (("index", "month_log"), [1.0]),
        (("notes",), 3),
        (("slide_fit", "candidates"), [{"label": "x"}]),
    ],
)
def test_a_damaged_fit_is_refused_and_not_half_read(tmp_path, document, place, value):
    set_at(document, place, value)
    content = {key: value for key, value in document.items() if key not in ("format", "version", HASH)}
    for seal in (document[HASH], content_hash(content)):  # changed as it stands, and with its hash made again
        (tmp_path / "x.json").write_text(json.dumps(document | {HASH: seal}))
        with pytest.raises(FitError, match="the saved fit is damaged") as refused:
            load_fit(tmp_path / "x.json")
        assert "x.json" in str(refused.value)


STRANGE = (None, True, 0, -1, 1e300, float("nan"), float("inf"), "", "x", [], [1, 2], {}, {"a": 1})


def places(value, way=()):
    """Yield the way to every key of a document; of a list's items the first and the last."""
    items = value.items() if isinstance(value, dict) else []
    if isinstance(value, list) and value:
        items = [(at, value[at]) for at in sorted({0, len(value) - 1})]
    for key, inner in items:
        yield (*way, key)
        yield from places(inner, (*way, key))


def outcome(path, content):
    """Return "same" for the fit as written, number for number, or "refused"; anything else is a fault."""
    try:
        fit = load_fit(path)
    except FitError as fault:
        assert str(path) in fault.where and fault.remedy and fault.what
        return "refused"
    assert to_document(fit) == content
    return "same"


def test_no_change_of_the_document_gives_another_answer(tmp_path, thin):
    """Every key with 13 other values and without: the same answer, or an error with its file and what to do."""
    content, found = to_document(thin), []
    path = save_fit(thin, tmp_path / "x.json")
    document = json.loads(path.read_text())
    for place in list(places(document)):
        *way, last = place
        owner = document
        for step in way:
            owner = owner[step]
        kept = owner[last]
        for strange in STRANGE:
            owner[last] = strange
            path.write_text(json.dumps(document))
            found.append(outcome(path, content))
        if isinstance(owner, dict):
            del owner[last]
            path.write_text(json.dumps(document))
            found.append(outcome(path, content))
        owner[last] = kept

    assert found.count("refused") > 0.9 * len(found) > 1_500


def test_no_cut_of_the_text_gives_another_answer(tmp_path, path, fitted):
    """Every 40th line left out, 200 truncations, bytes turned over."""
    content, raw = to_document(fitted), path.read_bytes()
    lines = raw.splitlines(keepends=True)
    cut = [
        b"".join(lines[:at] + lines[at + 1 :]) for at in [*range(0, len(lines), 40), 1, 2, 3, len(lines) - 1]
    ]
    cut += [raw[: len(raw) * part // 200] for part in range(200)]
    cut += [raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :] for at in range(7, len(raw), len(raw) // 60)]
    for text in cut:
        (tmp_path / "x.json").write_bytes(text)
        outcome(tmp_path / "x.json", content)


def test_values_and_their_plain_form():
    assert to_document(float("nan")) is None and to_document(np.float64(2.5)) == 2.5
    assert to_document(date(2026, 1, 2)) == "2026-01-02"
    assert to_document((np.int64(3), np.array([1.0, np.nan]))) == [3, [1.0, None]]
    assert np.isnan(from_document(float, None)) and from_document(float, 3) == 3.0
    assert from_document(tuple[str, ...], ["a", "b"]) == ("a", "b")
    assert from_document(tuple[float, float], [1, 2]) == (1.0, 2.0)
    assert from_document(date | None, None) is None
    with pytest.raises(TypeError):
        from_document(int, "3")
    with pytest.raises(ValueError):
        from_document(tuple[float, float], [1.0])


def parts_of(kind, found=None):
    """Return every dataclass that a type is made of."""
    found = [] if found is None else found
    if dataclasses.is_dataclass(kind) and kind not in found:
        found.append(kind)
        hints = typing.get_type_hints(kind)
        for field in saved_fields(kind):
            parts_of(hints[field.name], found)
    for inner in typing.get_args(kind):
        parts_of(inner, found)
    return found


def test_the_document_is_written_down_key_by_key():
    page = (Path(__file__).resolve().parents[2] / "docs" / "slide-json.md").read_text(encoding="utf-8")
    told = {}
    for section in page.split("\n## ")[1:]:
        name, _, body = section.partition("\n")
        told[name] = re.findall(r"^\| `(\w+)` \|", body, flags=re.MULTILINE)
    kept = {kind.__name__: [f.name for f in saved_fields(kind)] for kind in parts_of(MarketFit)}
    assert told == kept
    assert f'`"{FORMAT}"`' in page and f"`version` ({VERSION})" in page and f"`{HASH}`" in page
