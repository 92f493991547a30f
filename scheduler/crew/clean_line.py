"""What has to come out of a machine first, as its driver reads it."""

from __future__ import annotations

from scheduler.crew.language import Words
from scheduler.farm.farm import Farm
from scheduler.planning.clean_out import CleanOut


def clean_out_line(found: CleanOut | None, farm: Farm, words: Words) -> str:
    """Return what to clean out, how long that takes and what was in it; empty for nothing."""
    if found is None:
        return ""
    there = ", ".join(farm.product_by_id[name].label for name in found.there)
    line = "First clean out {machine}, {minutes} min: {products} was in it"
    return words(
        line, machine=found.machine.label, minutes=f"{found.machine.clean_out_minutes:.0f}", products=there
    )
