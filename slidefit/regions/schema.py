"""The form of a region's file as JSON Schema (docs/region-schema.json is this, held by a test).

Write it anew with ``python -m slidefit.regions.schema > docs/region-schema.json``.
"""

from __future__ import annotations

import json
import sys
from typing import Any

from slidefit.regions.region import VERSION, Region

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def region_schema() -> dict[str, Any]:
    """Return the JSON Schema of the tables of a region's file (dates as ISO text)."""
    return {"$schema": DIALECT, "$comment": f"region file, version {VERSION}", **Region.model_json_schema()}


def schema_text() -> str:
    """Return the schema as the text of its file."""
    return json.dumps(region_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.write(schema_text())
