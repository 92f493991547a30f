"""Work that was reported while work that comes before it was not: a report is missing, or a pass was left out.

Question answered: *which reports should somebody look for?* The plan counts what nobody reported as not done and would send
people there; a person knows better.
"""

from __future__ import annotations

from scheduler.events.situation import FieldPass, PassState, Situation

LEAST_HA = 0.1


def skipped(situation: Situation) -> dict[FieldPass, tuple[str, ...]]:
    """Return (field, pass) of work done, in part or whole -> the passes before it that were not reported."""
    out = {}
    for (field, pass_id), state in situation.passes.items():
        done = state.finished or state.done_ha > 0
        if done and (before := skipped_before(situation, field, pass_id, wholly=state.finished)):
            out[field, pass_id] = before
    return out


def skipped_before(situation: Situation, field: str, pass_id: str, wholly: bool) -> tuple[str, ...]:
    """Return the passes before one that were not reported: of work that is `wholly` done they are too, else begun at least."""
    spec = situation.farm.spec(field, pass_id)
    found = []
    for lag in () if spec is None else spec.after:
        state = situation.passes.get((field, lag.pass_id), PassState())
        begun = state.done_ha > 0 or state.started_at is not None
        if lag.required and situation.left_ha(field, lag.pass_id) > LEAST_HA and (wholly or not begun):
            found.append(lag.pass_id)
    return tuple(found)


def unreported_before(situation: Situation) -> list[FieldPass]:
    """Return every (field, pass) that was not reported though work after it is done, each once."""
    return list(
        dict.fromkeys((field, name) for (field, _), before in skipped(situation).items() for name in before)
    )
