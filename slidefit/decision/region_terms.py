"""A region's typical costs of selling, for a plan that has none of its own."""

from __future__ import annotations

from slidefit.decision.plan import Plan
from slidefit.decision.selling_terms import Selling
from slidefit.regions.region import Region


def with_region_terms(plan: Plan, region: Region) -> Plan:
    """Return the plan, with the region's typical costs of selling where it has no [selling] of its own."""
    terms = region.selling.model_dump(exclude_none=True)
    if not terms or "selling" in plan.model_fields_set:
        return plan
    return plan.model_copy(update={"selling": Selling.model_validate(terms)})
