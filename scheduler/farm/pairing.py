"""Which rigs may share guidance lines: the planter must run exactly between the bands laid ahead of it."""

from __future__ import annotations

from scheduler.farm.farm import Farm
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig, rigs_of
from shared.vocabulary import Guidance

WIDTH_TOLERANCE_SHARE = 0.01
LINE_PARTNER_RULE = (
    "two rigs of the same working width (or a whole multiple), the same row spacing, "
    "and centimetre guidance on both power units"
)


def share_lines(one: Rig, other: Rig) -> bool:
    """Return whether two rigs can run on the same lines (common practice, no source)."""
    if Guidance.CENTIMETRE is not one.guidance or Guidance.CENTIMETRE is not other.guidance:
        return False
    width, partner = one.worker.width_m, other.worker.width_m
    if not width or not partner:
        return False
    ratio = max(width, partner) / min(width, partner)
    if abs(ratio - round(ratio)) > WIDTH_TOLERANCE_SHARE * ratio:
        return False
    spacing, partner_spacing = one.worker.row_spacing_m, other.worker.row_spacing_m
    return not spacing or not partner_spacing or abs(spacing - partner_spacing) < 0.005


def matching_rigs(farm: Farm, spec: PassSpec, partner: PassSpec) -> list[tuple[Rig, Rig]]:
    """Return the pairs (rig for `spec`, rig for `partner`) that may share guidance lines."""
    rigs = rigs_of(farm)
    return [
        (one, other)
        for one in rigs
        if one.does(spec.operations)
        for other in rigs
        if other.does(partner.operations) and share_lines(one, other)
    ]
