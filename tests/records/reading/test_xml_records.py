"""Records in XML: attributes, units beside values, a workbook saved as XML, and what is refused."""

from __future__ import annotations

import pytest

from slidefit.errors import RecordsError
from slidefit.records.reading.xml_records import MOST_DEPTH, xml_document


def test_one_record_stays_a_record_and_repeated_ones_are_a_list() -> None:
    two = "<a xmlns='u'><sale><lot n='1'/><lot n='2'/></sale><sale><lot n='3'/></sale></a>"
    assert xml_document(two, "a") == {
        "sale": [{"lot": [{"n": "1"}, {"n": "2"}]}, {"lot": [{"n": "3"}]}]
    }  # the lone lot of the second sale is a list like those of the first


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (
            '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bb"><!ENTITY c "&b;&b;">]><a>&c;</a>',
            "document type",
        ),
        ("<a>" * (MOST_DEPTH + 1) + "</a>" * (MOST_DEPTH + 1), "more than 64 deep"),
        ("<a><b></a>", "is no XML"),
    ],
)
def test_what_is_no_list_of_records_is_refused(text: str, fault: str) -> None:
    with pytest.raises(RecordsError, match=fault):
        xml_document(text, "a")
