"""What is left to do, and with which rigs and people it could be done.

Question answered: *which passes remain in which fields, and who and what could do each?* Input: a situation and
an outlook; output: one `Job` per remaining pass of a field, with its rig options and the rigs refused for their
lines. Guidance lines are settled here: where a pass must follow the lines of another one that is still open, both
keep only rigs that fit together.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.events.situation import LEAST_HA, PassState, Situation
from scheduler.farm.farm import Farm
from scheduler.farm.land import Field
from scheduler.farm.operator import Operator
from scheduler.farm.pairing import share_lines
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig, pace, rigs_of
from scheduler.farm.roads import reaches
from scheduler.windows.records import Outlook, RigKey
from shared.vocabulary import LoadClass, Operation

ON_FOOT: RigKey = (LoadClass.LIGHT, False)


def key_of(rig: Rig | None) -> RigKey:
    """Return what fitness knows of a rig; of None, of people on foot."""
    return ON_FOOT if rig is None else (rig.load_class, rig.tracks)


@dataclass(frozen=True)
class RigOption:
    """A rig (None: on foot) for a job, with the minutes of work for what is left, and of set-up per visit."""

    rig: Rig | None
    minutes: float
    setup_minutes: float

    @property
    def id(self) -> str | None:
        """Rig id, None on foot."""
        return None if self.rig is None else self.rig.id

    @property
    def key(self) -> RigKey:
        """What fitness knows of the rig."""
        return key_of(self.rig)


@dataclass(frozen=True)
class Job:
    """One remaining pass in one field.

    Attributes
    ----------
    left_ha : float
        Area to do [ha].
    options : tuple of RigOption
    wrong_lines : tuple of str
        Rigs that could do it, were it not for the lines of the partner pass.
    """

    field: Field
    spec: PassSpec
    state: PassState
    left_ha: float
    options: tuple[RigOption, ...]
    wrong_lines: tuple[str, ...] = ()

    @property
    def key(self) -> tuple[str, str]:
        """Field and pass."""
        return self.field.id, self.spec.id


def rate_factor(situation: Situation, field_id: str, spec: PassSpec) -> float:
    """Return what tissue results make of the rate of a pass; 1 for passes that they do not steer."""
    return situation.farm.tissue_factor(spec, field_id, situation.rate_factor)


def remaining_jobs(situation: Situation, outlook: Outlook) -> list[Job]:
    """Return every remaining pass of every field, fields and passes in the order of the farm files."""
    rigs = rigs_of(situation.farm)
    jobs: list[Job] = []
    for field in situation.farm.fields:
        specs = field_passes(situation, field)
        open_here = [_job(situation, outlook, rigs, field, spec) for spec in specs]
        jobs += _settle_lines(situation.farm, specs, [job for job in open_here if job is not None], situation)
    return jobs


def field_passes(situation: Situation, field: Field) -> list[PassSpec]:
    """Return the passes of a field in programme order, passes added by news included."""
    specs = list(situation.farm.programme_of(field).passes)
    return [spec for spec in specs if (field.id, spec.id) in situation.passes]


def _job(
    situation: Situation, outlook: Outlook, rigs: tuple[Rig, ...], field: Field, spec: PassSpec
) -> Job | None:
    left = situation.left_ha(field.id, spec.id)
    if left < LEAST_HA:
        return None
    state = situation.passes[(field.id, spec.id)]
    factor = rate_factor(situation, field.id, spec)
    known = outlook.fit.get((field.id, spec.id), {})
    if spec.on_foot:
        walk = pace(situation.farm, None, spec, field).minutes(left)
        return Job(field, spec, state, left, (RigOption(None, walk, spec.foot_minutes),))
    options = []
    for rig in rigs:
        if not rig.does(spec.operations) or rig.worker.width_m is None or rig.worker.speed_km_h is None:
            continue
        if not rig.comes_to(field.id) or not reaches(situation.farm, rig, field):
            continue
        if known and (rig.load_class, rig.tracks) not in known:
            continue
        work = pace(situation.farm, rig, spec, field, factor).minutes(left)
        options.append(RigOption(rig, work, rig.worker.setup_minutes))
    return Job(field, spec, state, left, tuple(options))


# ---- guidance lines --------------------------------------------------------------------------------------


def _settle_lines(farm: Farm, specs: list[PassSpec], jobs: list[Job], situation: Situation) -> list[Job]:
    by_pass = {job.spec.id: job for job in jobs}
    for spec in specs:
        job = by_pass.get(spec.id)
        if not spec.same_lines_as or job is None:
            continue
        partner = by_pass.get(spec.same_lines_as)
        laid = _laid_by(farm, situation, job.field.id, spec.same_lines_as)
        if laid is not None:
            by_pass[spec.id] = _keep(job, {o.id for o in job.options if o.rig and share_lines(o.rig, laid)})
            if partner is not None:
                by_pass[partner.spec.id] = _keep(
                    partner, {o.id for o in partner.options if o.rig and share_lines(o.rig, laid)}
                )
        elif partner is not None:
            ours, theirs = _best_match(job, partner)
            by_pass[spec.id] = _keep(job, ours)
            if ours:
                by_pass[partner.spec.id] = _keep(partner, theirs)
    return [by_pass[job.spec.id] for job in jobs]


def _laid_by(farm: Farm, situation: Situation, field_id: str, pass_id: str) -> Rig | None:
    """Return the rig that has already begun the partner pass, if known."""
    state = situation.passes.get((field_id, pass_id))
    if state is None or state.cancelled or state.last_rig is None or state.done_ha <= 0:
        return None
    return next((rig for rig in rigs_of(farm) if rig.id == state.last_rig), None)


def _best_match(job: Job, partner: Job) -> tuple[set[str | None], set[str | None]]:
    """Return the largest two sets of rigs of which every pair fits together; empty when none does."""
    fits = {
        p.id: frozenset(o.id for o in job.options if o.rig and p.rig and share_lines(o.rig, p.rig))
        for p in partner.options
    }
    best: tuple[set[str | None], set[str | None]] = (set(), set())
    for ours in sorted({f for f in fits.values() if f}, key=lambda f: sorted(map(str, f))):
        theirs = {p for p, f in fits.items() if f >= ours}
        if len(ours) * len(theirs) > len(best[0]) * len(best[1]):
            best = (set(ours), theirs)
    return best


def _keep(job: Job, ids: set[str | None]) -> Job:
    kept = tuple(option for option in job.options if option.id in ids)
    lost = tuple(str(option.id) for option in job.options if option.id not in ids)
    return replace(job, options=kept, wrong_lines=job.wrong_lines + lost)


# ---- people ----------------------------------------------------------------------------------------------


def skilled(person: Operator, operations: tuple[Operation, ...], rig: Rig | None) -> bool:
    """Return whether a person handles the machine or knows every job of the pass, and may drive it."""
    if rig is not None and rig.worker.driven_by and person.id not in rig.worker.driven_by:
        return False
    if rig is not None and rig.worker.id in person.skills:
        return True
    return all(operation.value in person.skills for operation in operations)


def supports(person: Operator, rig: Rig) -> bool:
    """Return whether a person may drive the rig's tender."""
    return rig.tender is not None and ("tender" in person.skills or rig.tender.id in person.skills)


def needs_support(rig: Rig | None) -> bool:
    """Return whether a rig's tender needs a driver of its own."""
    return rig is not None and rig.tender is not None and rig.worker.driver_for_tender


def licences_for(farm: Farm, spec: PassSpec) -> tuple[str, ...]:
    """Return the licences that the operator of a pass must hold."""
    named = {spec.licence, *(farm.product_by_id[item.product].licence for item in spec.products)}
    return tuple(sorted(name for name in named if name))


def operators_by_day(
    farm: Farm, spec: PassSpec, rig: Rig | None, first: date, days: int
) -> Mapping[tuple[str, ...], tuple[int, ...]]:
    """Return the day indices on which each set of people may do a pass; licences run out on their day."""
    wanted = licences_for(farm, spec)
    able = [person for person in farm.operators if skilled(person, spec.operations, rig)]
    groups: dict[tuple[str, ...], list[int]] = {}
    for k in range(days):
        day = first + timedelta(days=k)
        names = tuple(p.id for p in able if all(p.holds(licence, day) for licence in wanted))
        if names:
            groups.setdefault(names, []).append(k)
    return {names: tuple(found) for names, found in groups.items()}
