"""Lots that stand again under another word of a column that is not understood."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.read import read
from tests.records.meaning.test_rival_columns import TODAY, lots

VERSIONS = (
    "Run,Date,Class,Hd,Wt,Price",
    *(
        "1,10/9/2026,Steer,18,556,389.75",
        "1,10/9/2026,Heifer,12,511,375.00",
        "1,10/9/2026,Steer,14,488,411.00",
    ),
    *(
        "2,10/9/2026,Steer,18,556,391.00",
        "2,10/9/2026,Heifer,12,511,375.00",
        "2,10/9/2026,Steer,13,490,411.00",
    ),
)


def test_lots_that_stand_again_under_an_unknown_word_are_asked_about(tmp_path: Path) -> None:
    path = lots(tmp_path, *VERSIONS)
    with pytest.raises(QuestionError, match="lots stand again under another 'Run'"):
        read(path, today=TODAY)
    found = read(path, today=TODAY, mapping={"Run": "status"}, values={"status": {"1": "no sale"}})
    assert (len(found.records), dict(found.reasons)) == (3, {"missing_price": 3})
    once = lots(tmp_path, *VERSIONS[:5], VERSIONS[6])  # one lot alone may equal another by chance
    assert len(read(once, today=TODAY).records) == 5


@pytest.mark.parametrize(("again", "refused"), [(5, True), (4, False)])
def test_a_section_that_tells_lots_again_at_other_prices_is_refused(
    tmp_path: Path, again: int, refused: bool
) -> None:
    told = [f"10/9/2026,Steer,{18 + at},{556 + 20 * at},{389 - 8 * at}.75" for at in range(8)]
    later = [line.replace(".75", ".25") for line in told[:again][::-1]]
    path = lots(tmp_path, "Date,Class,Hd,Wt,Price", *told, *later)
    if refused:
        with pytest.raises(RecordsError, match=r"5 lots are told in two sections.*rows 6 and 10"):
            read(path, today=TODAY)
    else:
        assert len(read(path, today=TODAY).records) == 12
