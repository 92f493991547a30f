"""What a pass needs of ground and air in a field: the default rule, the farm's limits, the products' labels.

In: pass, rig key, field. Out: one `FitRule` per job of the trip; the stricter counts. The label decides always; limits
written in the farm file stand in for it here.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.farm.land import Field
from scheduler.farm.programme import PassSpec
from scheduler.windows.ground import living_cover
from scheduler.windows.records import RigKey
from scheduler.workability import FitRule, SprayRule, fit_rule
from shared.errors import FarmFileError, Fault
from shared.vocabulary import Cover, Operation

ANY_AIR = SprayRule(
    wind_max_m_s=1e9, wind_min_m_s=-1.0, wind_marginal_m_s=1e9, temp_min_c=-1e9, temp_max_c=1e9, rain_free_h=0,
    delta_t_max_c=1e9, inversion_wind_m_s=-1.0,
)  # fmt: skip
SOIL_MARGIN_C = 2.0
"""A seed zone up to so much colder than the farm's own limit is marginal, as in the default table (assumption)."""


def rules_for(situation: Situation, field: Field, spec: PassSpec, key: RigKey) -> tuple[FitRule, ...]:
    """Return the rules of a pass with a kind of rig, one per job of the trip."""
    farm, cover = situation.farm, living_cover(situation, field)
    return tuple(_rule(farm, spec, operation, key, cover) for operation in spec.operations)


def _rule(farm: Farm, spec: PassSpec, operation: Operation, key: RigKey, cover: Cover) -> FitRule:
    rule = _base(operation, key, cover, _frozen(farm.fit_limits.get(operation.value, {})))
    coldest = spec.window.soil_temp_least_c
    if coldest is not None and operation is spec.operation:
        rule = replace(rule, soil_min_c=coldest, soil_marginal_c=coldest - SOIL_MARGIN_C)
    return replace(rule, spray=_air(farm, spec, rule.spray)) if operation is spec.operation else rule


def _frozen(overrides: dict[str, Any]) -> tuple[tuple[str, Any], ...]:
    return tuple(sorted(overrides.items()))


@lru_cache(maxsize=512)
def _base(operation: Operation, key: RigKey, cover: Cover, overrides: tuple[tuple[str, Any], ...]) -> FitRule:
    try:
        return fit_rule(operation, key[0], key[1], cover, dict(overrides))
    except (ValueError, TypeError) as error:
        raise FarmFileError(
            [
                Fault(
                    "farm.toml",
                    f"fit_limits.{operation.value}",
                    "",
                    str(error),
                    "the keys and ranges of the fit table",
                )
            ]
        ) from error


def _air(farm: Farm, spec: PassSpec, default: SprayRule | None) -> SprayRule | None:
    """Return the limits of the air: the default of the operation, moved by what the products state."""
    products = [
        farm.product_by_id[item.product] for item in spec.products if item.product in farm.product_by_id
    ]
    wind = [p.wind_most_m_s for p in products if p.wind_most_m_s is not None]
    cold = [p.temp_least_c for p in products if p.temp_least_c is not None]
    hot = [p.temp_most_c for p in products if p.temp_most_c is not None]
    dry_h = max([spec.rain_free_hours, *(p.rain_free_hours for p in products)], default=0.0)
    if default is None and not (wind or cold or hot or dry_h > 0):
        return None
    rule = default or ANY_AIR
    if wind:
        rule = replace(rule, wind_max_m_s=min(wind), wind_marginal_m_s=min(rule.wind_marginal_m_s, min(wind)))
    if cold:
        rule = replace(rule, temp_min_c=max(cold))
    if hot:
        rule = replace(rule, temp_max_c=min(hot))
    return replace(rule, rain_free_h=round(dry_h)) if dry_h > 0 else rule
