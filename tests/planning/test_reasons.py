"""Reasons are true: take away the one cause that is named, and the work is planned (or starts sooner).

No outside source: the judge is a second plan on a farm that differs in that one cause only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from scheduler.events.situation import Situation, Span, Supply
from scheduler.farm.farm import Farm
from scheduler.farm.operator import Licence
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from scheduler.windows.records import Outlook
from shared.vocabulary import Guidance, Reason
from tests.planning import builders as make

SHORT = Limits(seconds=0.3, workers=1, seed=1, deterministic=True)
Case = tuple[Situation, Outlook]


def planned(case: Case) -> Plan:
    """Return a plan after a short search."""
    return make_plan(*case, make.horizon(), SHORT)


def case_of(
    farm: Farm, chance: make.ChanceOf = make.always, reason: Reason = Reason.TOO_WET, **more: object
) -> Case:
    """Return a morning on a farm."""
    return make.situation(farm, **more), make.outlook(farm, chance=chance, reason=reason)


def people(change: Callable) -> Farm:  # type: ignore[type-arg]
    """Return the farm with changed people."""
    return make.farm(1, operators=tuple(change(p) for p in make.farm(1).operators))


def expiring(last: date) -> Farm:
    """Return a farm on which every licence ends on a day."""
    return people(lambda p: p.model_copy(update={"licences": (Licence(name="applicator", expires=last),)}))


def unskilled() -> Farm:
    """Return a farm on which nobody plants."""
    return people(lambda p: p.model_copy(update={"skills": tuple(s for s in p.skills if s != "plant")}))


def coarse() -> Farm:
    """Return a farm whose tractors steer to the decimetre only."""
    tractors = ("big", "small")
    return make.farm(
        1,
        machines=tuple(
            m.model_copy(update={"guidance": Guidance.DECIMETRE}) if m.id in tractors else m
            for m in make.machines()
        ),
    )


def never_fit(pass_id: str) -> make.ChanceOf:
    """Return odds that are poor for one pass at all hours."""
    return lambda f, p, day, hour: 0.2 if p == pass_id else make.always(f, p, day, hour)


def stock(amount: float) -> dict[str, Supply]:
    """Return supplies with so much nitrogen."""
    return {**make.situation(make.farm(1)).supplies, "n32": Supply(amount)}


PLAIN = case_of(make.farm(1))


@pytest.mark.parametrize(
    ("with_cause", "pass_id", "reason"),
    [
        pytest.param(case_of(make.farm(1), supplies=stock(0.0)), "band", Reason.STOCK, id="stock"),
        pytest.param(case_of(expiring(make.FIRST_DAY - timedelta(days=1))), "terminate", Reason.LICENCE, id="licence"),
        pytest.param(case_of(unskilled()), "plant", Reason.NO_OPERATOR, id="skill"),
        pytest.param(case_of(coarse()), "plant", Reason.LINES, id="lines"),
        pytest.param(
            case_of(make.farm(1), machine_down={"sprayer": (Span(make.at(-1)),)}), "terminate", Reason.RIG_DOWN, id="down"
        ),
        pytest.param(
            case_of(make.farm(1), operator_away={"bob": (Span(make.at(-1)),)}), "terminate", Reason.NO_OPERATOR, id="away"
        ),
        pytest.param(case_of(make.farm(1), never_fit("plant")), "plant", Reason.TOO_WET, id="wet"),
        pytest.param(
            case_of(make.farm(1), never_fit("terminate"), Reason.WIND_HIGH), "terminate", Reason.WIND_HIGH, id="wind"
        ),
        pytest.param(
            case_of(make.farm(1), operator_away={p: (Span(make.at(-1)),) for p in ("bob", "cy")}, machine_down={}),
            "terminate",
            Reason.NO_OPERATOR,
            id="two away",
        ),
    ],
)  # fmt: skip
def test_the_named_cause_is_the_one_that_stands_in_the_way(with_cause: Case, pass_id: str, reason: Reason):
    row = next(x for x in planned(with_cause).left_out if x.pass_id == pass_id)
    assert row.reason == reason.value
    assert row.text
    assert any(b.pass_id == pass_id for b in planned(PLAIN).blocks)


def test_nobody_for_the_tender():
    farm = make.farm(1, operators=(make.farm(1).operators[0], make.person("bob", "terminate")))
    row = next(x for x in planned(case_of(farm)).left_out if x.pass_id == "band")
    assert row.reason == Reason.NO_SUPPORT.value
    helped = make.farm(1, operators=(*farm.operators, make.person("dan", "tender")))
    assert any(b.pass_id == "band" for b in planned(case_of(helped)).blocks)


def test_hours_used_up():
    worked = {("bob", make.FIRST_DAY - timedelta(days=0)): 69.9 * 60}
    case = case_of(make.farm(1), worked_minutes=worked)
    row = next(x for x in planned(case).left_out if x.pass_id == "terminate")
    assert row.reason == Reason.HOURS.value


def test_what_waits_names_the_pass_it_waits_for():
    plan = planned(case_of(make.farm(1), supplies=stock(0.0)))
    row = next(x for x in plan.left_out if x.pass_id == "plant")
    assert row.reason == Reason.WAITS_FOR_PASS.value and "band" in row.text


@pytest.mark.parametrize(
    ("case", "pass_id", "word"),
    [
        pytest.param(case_of(make.farm(1), lambda f, p, d, h: 0.0 if d == 0 else make.always(f, p, d, h)), "terminate", "too wet", id="wet"),
        pytest.param(
            case_of(make.farm(1), machine_down={"sprayer": (Span(make.at(-1), make.at(1, "10:00")),)}),
            "terminate", "the rig is down", id="down",
        ),
        pytest.param(
            case_of(make.farm(1), operator_away={"bob": (Span(make.at(-1), make.at(1, "10:00")),)}),
            "terminate", "bob is away", id="away",
        ),
        pytest.param(PLAIN, "scout", "plant comes first", id="order"),
        pytest.param(
            case_of(make.farm(1), supplies={**stock(0.0), "n32": Supply(0.0, ((make.FIRST_DAY + timedelta(days=3), 9e5, "d"),))}),
            "band", "product not in stock", id="stock",
        ),
    ],
)  # fmt: skip
def test_not_sooner_names_what_refuses_the_quarter_before(case: Case, pass_id: str, word: str):
    block = next(b for b in planned(case).blocks if b.pass_id == pass_id)
    assert word in block.why_not_sooner
    plain = next(b for b in planned(PLAIN).blocks if b.pass_id == pass_id)
    assert plain.start <= block.start


def test_a_block_that_waits_for_its_rig_names_the_field():
    plan = planned(case_of(make.farm(2)))
    first, second = [b for b in plan.blocks if b.pass_id == "terminate"]
    assert f"work in {first.field} until then" in second.why_not_sooner


def test_worries_and_ready_list():
    farm = make.farm(2)
    window = make.window_of(farm.fields[0], farm.programmes[0].passes[2], 5)
    closing = replace(window, closes=make.FIRST_DAY + timedelta(days=1))

    def odds(field: str, pass_id: str, day: int, hour: int) -> float:
        shut = (field, pass_id) == ("f1", "plant") and day > 1
        return 0.0 if shut else make.always(field, pass_id, day, hour)

    outlook = replace(
        make.outlook(farm, chance=odds, windows={("f1", "plant"): closing}),
        forecast_issued_at=datetime.fromisoformat("2027-05-08T12:00:00+00:00"),
    )
    situation = make.situation(farm, supplies={**make.situation(farm).supplies, "seed": Supply(2.0e6)})
    plan = make_plan(situation, outlook, make.horizon(), SHORT)
    text = "\n".join(w.text for w in plan.worries)
    assert "the window closes on Tue 11 May" in text and "find no room" in text
    assert "short" in text and "hours old" in text
    assert [w.severity for w in plan.worries] == sorted((w.severity for w in plan.worries), reverse=True)
    kinds = {item.kind for item in plan.ready}
    assert kinds == {"product", "rig"}


def test_work_that_costs_more_than_it_saves_is_left_out_for_its_price():
    farm = make.farm(1)
    window = make.window_of(farm.fields[0], farm.programmes[0].passes[3], 5)
    worthless = replace(window, loss_undone=1.0, loss_points=((make.FIRST_DAY, 0.0),))
    situation = make.situation(farm)
    plan = make_plan(
        situation, make.outlook(farm, windows={("f1", "scout"): worthless}), make.horizon(), SHORT
    )
    row = next(x for x in plan.left_out if x.pass_id == "scout")
    assert row.reason == Reason.PRICE.value
    assert "costs more than leaving it" in row.text
