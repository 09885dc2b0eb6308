"""The components that an installed slidefit is made of, as a CycloneDX document: python .ci/sbom.py > sbom.json.

Reads what is installed beside it, so run it in an environment made from the release: its versions are the lock.
With --check the document is held against the standard's JSON schema, unknown keys refused (CycloneDX 1.5, as
cyclonedx-python-lib ships it), and its count of components is told in the document's place.
"""

from __future__ import annotations

import json
import re
import sys
from importlib.metadata import Distribution, PackageNotFoundError, distribution

from packaging.requirements import Requirement


def normal(name: str) -> str:
    """Return a project's name in the one spelling of the index (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def needs(made: Distribution) -> list[str]:
    """Return the projects that a project needs here, extras left out."""
    asked = (Requirement(line) for line in made.requires or ())
    return sorted(
        {normal(each.name) for each in asked if not each.marker or each.marker.evaluate({"extra": ""})}
    )


def component(made: Distribution) -> dict[str, object]:
    """Return a project as a component, with its package URL and its licence as it says it."""
    meta = made.metadata
    name, said = (
        normal(meta["Name"]),
        meta.get("License-Expression") or (meta.get("License") or "").split("\n")[0],
    )
    purl = f"pkg:pypi/{name}@{made.version}"
    licenses = [{"license": {"name": said[:100]}}] if said else []
    return {
        "type": "library",
        "bom-ref": purl,
        "name": name,
        "version": made.version,
        "purl": purl,
        "licenses": licenses,
    }


def document() -> dict[str, object]:
    """Return the whole tree below slidefit."""
    found: dict[str, Distribution] = {}
    waiting = ["slidefit"]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        try:
            found[name] = distribution(name)
        except PackageNotFoundError:
            continue  # not needed on this system
        waiting += needs(found[name])
    parts = {name: component(made) for name, made in sorted(found.items())}
    own = parts.pop("slidefit")
    every = {"slidefit": own, **parts}
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "version": 1,
        "metadata": {"component": {**own, "type": "application"}},
        "components": list(parts.values()),
        "dependencies": [
            {
                "ref": made["bom-ref"],
                "dependsOn": [every[n]["bom-ref"] for n in needs(found[name]) if n in every],
            }
            for name, made in every.items()
        ],
    }


def checked(made: str) -> str:
    """Return what a document lists; the standard's schema must find no fault."""
    from cyclonedx.schema import SchemaVersion
    from cyclonedx.validation.json import JsonStrictValidator

    fault = JsonStrictValidator(SchemaVersion.V1_5).validate_str(made)
    if fault is not None:
        sys.exit(f"not CycloneDX 1.5: {fault}")
    return f"CycloneDX 1.5: {len(json.loads(made)['components'])} components"


if __name__ == "__main__":
    told = json.dumps(document(), indent=1)
    print(checked(told) if sys.argv[1:] == ["--check"] else told)
