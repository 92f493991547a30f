"""True causes of changes: silence, work, missing machines and people, ground that became less fit, and what follows.

No outside source: plans by hand, so that the cause of every row is known beforehand.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from scheduler.events.news import ALL, News
from scheduler.planning.diff import Change, compare
from scheduler.planning.plan import Plan
from tests.planning import builders as make
from tests.planning.test_diff import block, plan

EVENING = make.at(0, "18:00")
RAIN = News("e1", "0.40 in of rain on the whole farm", ground=frozenset({ALL}))


def after(old: Plan, new: Plan, chances: dict[str, float]) -> Plan:
    """Return the new plan, made when people knew the old one, with the odds of now for its blocks."""
    return new.model_copy(update={"before": old.id, "chance_before": chances})


def only(old: Plan, new: Plan, *news: News) -> Change:
    (row,) = compare(old, new, news, make.farm(3)).rows
    return row


def test_what_nobody_reported_is_not_put_on_whoever_worked_elsewhere() -> None:
    """The same person finished f1 and said so; f2 was planned for the afternoon, and nobody said anything of it."""
    old = plan(block("f1/plant/1", 0, "07:00"), block("f2/plant/1", 0, "12:00"))
    new = plan(block("f2/plant/1", 1, "08:00"), made=EVENING)
    done = News("e1", "20 ha done on f1: plant by ann", work=frozenset({("f1", "plant")}))
    row = only(old, new, done)
    assert (row.event_id, row.direct) == (None, True)
    assert row.because == "Because: nobody has reported plant in f2 done."


def test_what_should_be_going_on_and_is_not_was_not_begun() -> None:
    old = plan(block("f1/plant/1", 0, "08:00"))
    new = plan(block("f1/plant/1", 1, "08:00"), made=make.at(0, "09:00"))
    assert only(old, new).because == "Because: nobody has reported plant in f1 begun."


def test_less_done_than_planned_is_the_cause_of_the_rest() -> None:
    old = plan(block("f1/plant/1", 0, "08:00"))
    new = plan(block("f1/plant/1", 1, "08:00", area_ha=8.0), made=EVENING)
    some = News("e1", "12 ha done on f1", work=frozenset({("f1", "plant")}))
    assert only(old, new, some).because == "Because: 12 ha done on f1."


def test_what_went_as_planned_does_not_explain_why_the_rest_moves() -> None:
    """One part was done today; tomorrow's part, as large as before, moves because of the rain."""
    old = plan(block("f1/plant/1", 0, "08:00"), block("f1/plant/2", 1, "08:00", chance=0.8))
    new = plan(block("f1/plant/2", 2, "08:00"), made=EVENING)
    some = News("e0", "20 ha done on f1", work=frozenset({("f1", "plant")}))
    rows = compare(old, after(old, new, {"f1/plant/2": 0.3}), [some, RAIN], make.farm(3)).rows
    assert rows[-1].because == (
        "Because: 0.40 in of rain on the whole farm; the odds of fit ground then fell from 80% to 30%."
    )


def test_work_that_is_finished_is_news_and_no_change() -> None:
    """f1 is over before its time, which brings f2 forward; called off, it would be a change."""
    old = plan(block("f1/plant/1", 0, "08:00"), block("f2/plant/1", 0, "15:00"))
    new = plan(block("f2/plant/1", 0, "11:00"), made=make.at(0, "10:00"))
    work = frozenset({("f1", "plant")})
    over = News("e1", "plant finished on f1", work=work, finished=True)
    row = only(old, new, over)
    assert (row.field, row.event_id, row.direct) == ("f2", "e1", False)
    assert len(compare(old, new, [News("e1", "plant cancelled on f1", work=work)], make.farm(3)).rows) == 2


def test_work_that_is_over_about_when_it_should_be_is_no_cause_either() -> None:
    old = plan(block("f1/plant/1", 0, "08:00"), block("f2/plant/1", 0, "15:00"))
    soon = old.blocks[0].end - make.at(0, "00:00")
    new = plan(block("f2/plant/1", 0, "17:00"), made=make.at(0, "00:00") + soon - timedelta(minutes=20))
    over = News("e1", "plant finished on f1", work=frozenset({("f1", "plant")}), finished=True)
    assert only(old, new, over).because == "Because a better plan was found."


def test_rain_that_left_the_ground_as_fit_is_no_cause() -> None:
    old = plan(block("f1/plant/1", 1, "08:00", chance=0.8))
    new = plan(block("f1/plant/1", 2, "08:00"))
    assert (
        only(old, after(old, new, {"f1/plant/1": 0.75}), RAIN).because == "Because a better plan was found."
    )
    assert only(old, after(old, new, {"f1/plant/1": 0.65}), RAIN).event_id == "e1"


def test_odds_that_fall_below_what_the_farm_plans_with_are_a_cause_however_little_they_fell() -> None:
    farm = make.farm(3)
    least = farm.plan.fit_chance_least
    old = plan(block("f1/plant/1", 1, "08:00", chance=least))
    new = after(old, plan(block("f1/plant/1", 2, "08:00")), {"f1/plant/1": least - 0.02})
    assert compare(old, new, [RAIN], farm).rows[0].event_id == "e1"


@pytest.mark.parametrize(("issued", "said"), [(1, "the new forecast"), (0, "the weather since then")])
def test_ground_that_became_less_fit_without_rain_told(issued: int, said: str) -> None:
    old = plan(block("f1/plant/1", 1, "08:00", chance=0.9), forecast_issued_at=make.at(0))
    new = after(
        old,
        plan(block("f1/plant/1", 2, "08:00"), forecast_issued_at=make.at(issued)),
        {"f1/plant/1": 0.4},
    )
    row = only(old, new)
    assert row.because == f"Because: {said}; the odds of fit ground then fell from 90% to 40%."
    assert (row.event_id, row.direct) == (None, True)


def test_a_pace_that_reports_taught_is_the_cause_where_the_block_itself_takes_longer() -> None:
    """The planter needs a tenth longer; what it plants moves for that, what only stands behind it goes along."""
    longer = {"end": make.at(1, "13:15")}
    old = plan(block("f1/plant/1", 1, "08:00"), block("f2/spray/1", 1, "12:00", machines="sprayer"))
    new = plan(
        block("f1/plant/1", 1, "08:30", **longer),
        block("f2/spray/1", 1, "13:00", machines="sprayer"),
        paces={"planter": 1.1, "sprayer": 1.1},
    )
    planted, sprayed = compare(old, new, (), make.farm(3)).rows
    label = make.farm(3).machine_label("planter")
    said = f"by its reports {label} takes 10% longer than the plan before counted on"
    assert (planted.because, planted.direct) == (f"Because: {said}.", True)
    assert (sprayed.because, sprayed.direct) == (f"Along with: {said}.", False)


@pytest.mark.parametrize(
    ("before", "now", "end"),
    [(1.1, 1.1, "13:15"), (1.0, 1.02, "13:15"), (1.0, 0.9, "13:15"), (1.0, 1.1, "12:30")],
)
def test_no_pace_is_named_that_did_not_change_or_did_not_make_the_block_longer(
    before: float, now: float, end: str
) -> None:
    old = plan(block("f1/plant/1", 1, "08:00"), paces={"planter": before})
    new = plan(block("f1/plant/1", 1, "08:30", end=make.at(1, end)), paces={"planter": now})
    assert only(old, new).because == "Because a better plan was found."


def test_odds_known_for_another_plan_are_not_used() -> None:
    """A plan compared with one that it was not made after: rain may have been the cause, as far as is known."""
    old = plan(block("f1/plant/1", 1, "08:00", chance=0.8))
    new = plan(block("f1/plant/1", 2, "08:00")).model_copy(
        update={"before": "another", "chance_before": {"f1/plant/1": 0.8}}
    )
    assert only(old, new, RAIN).because == "Because: 0.40 in of rain on the whole farm."


def test_who_is_away_on_another_day_is_the_cause_only_by_way_of_others() -> None:
    away = News(
        "e5", "Ann is away on Monday", things=frozenset({"ann"}), span=(make.at(0), make.at(0, "23:00"))
    )
    old = plan(block("f1/plant/1", 0, "08:00"), block("f2/plant/1", 3, "08:00"))
    new = plan(block("f1/plant/1", 3, "08:00"), block("f2/plant/1", 4, "08:00"))
    rows = {row.field: row for row in compare(old, new, [away], make.farm(3)).rows}
    assert rows["f1"].because == "Because: Ann is away on Monday." and rows["f1"].direct
    assert rows["f2"].because == "Along with: Ann is away on Monday." and not rows["f2"].direct


def test_a_machine_out_of_order_for_good_is_the_cause_of_all_that_it_had_to_do() -> None:
    down = News("e5", "Planter is out of order", things=frozenset({"planter"}), span=(make.at(1), None))
    old = plan(block("f1/plant/1", 0, "08:00"), block("f2/plant/1", 3, "08:00"))
    new = plan(block("f1/plant/1", 0, "09:00"), block("f2/plant/1", 4, "08:00"))
    rows = {row.field: row for row in compare(old, new, [down], make.farm(3)).rows}
    assert rows["f2"].direct and not rows["f1"].direct


def test_a_product_that_comes_late_is_the_cause_of_work_that_needs_it() -> None:
    farm = make.farm(3)
    product = next(rate.product for rate in farm.spec("f1", "plant").products)  # type: ignore[union-attr]
    late = News("e5", "Seed comes on Wed 12 May instead", things=frozenset({product}))
    old = plan(block("f1/plant/1", 0, "08:00"), block("f3/scout/1", 0, "09:00", "bob", "car"))
    new = plan(block("f1/plant/1", 2, "08:00"), block("f3/scout/1", 0, "10:00", "bob", "car"))
    rows = {row.field: row for row in compare(old, new, [late], farm).rows}
    assert rows["f1"].because == "Because: Seed comes on Wed 12 May instead."
    assert rows["f3"].because == "Because a better plan was found."


def test_what_follows_from_ground_says_the_rain_and_not_the_odds_of_another_field() -> None:
    old = plan(block("f1/plant/1", 1, "08:00", chance=0.8), block("f2/plant/1", 2, "08:00"))
    new = plan(block("f1/plant/1", 2, "08:00"), block("f2/plant/1", 1, "08:00"))
    rows = {
        row.field: row
        for row in compare(
            old, after(old, new, {"f1/plant/1": 0.2, "f2/plant/1": 1.0}), [RAIN], make.farm(3)
        ).rows
    }
    assert rows["f1"].direct and "fell from 80% to 20%" in rows["f1"].because
    assert rows["f2"].because == "Along with: 0.40 in of rain on the whole farm."


def test_silence_is_said_once_for_each_pass_with_all_its_fields() -> None:
    old = plan(
        block("f1/plant/1", 0, "07:00"),
        block("f2/plant/1", 0, "12:00"),
        block("f2/plant/2", 0, "12:00", "cy"),
    )
    new = plan(block("f1/plant/1", 1, "08:00"), block("f2/plant/1", 1, "13:00"), made=EVENING)
    found = compare(old, new, [RAIN], make.farm(3))
    assert found.unreported(make.farm(3)) == [
        "Nobody has reported plant in f1 and f2: the plan counts it as not done. If it is, report it and plan anew."
    ]
    assert compare(old, plan(*old.blocks), [RAIN], make.farm(3)).unreported() == []
    more = plan(*old.blocks, block("f3/band/1", 0, "06:00"))
    again = plan(*new.blocks, block("f3/band/1", 2, "06:00"), made=EVENING)
    (both,) = compare(more, again, [RAIN], make.farm(3)).unreported(make.farm(3))
    assert both.startswith("Nobody has reported plant in f1 and f2; band in f3: the plan")


def test_work_begun_before_its_time_names_who_began_it() -> None:
    old = plan(block("f1/plant/1", 2, "08:00"))
    new = plan(block("f1/plant/1", 0, "09:00", under_way=True), made=make.at(0, "09:30"))
    begun = News("e1", "plant on f1 begun by ann", work=frozenset({("f1", "plant")}))
    assert only(old, new, begun).because == "Because: plant on f1 begun by ann."


def test_rain_before_the_end_of_what_was_not_done_is_named_and_rain_after_it_is_not() -> None:
    old = plan(block("f1/plant/1", 0, "08:00"))
    new = plan(block("f1/plant/1", 1, "08:00"), made=EVENING)
    soon, late = (replace(RAIN, at=make.at(0, clock)) for clock in ("10:00", "13:00"))
    row = only(old, new, soon)
    assert row.because == ("Because: 0.40 in of rain on the whole farm; nobody has reported it done.")
    assert row.unreported and row.event_id == "e1"
    assert only(old, new, late).because == "Because: nobody has reported plant in f1 done."


def test_a_machine_that_broke_during_the_work_is_its_cause_and_what_was_done_is_still_asked_for() -> None:
    down = News(
        "e5", "Planter is out of order", things=frozenset({"planter"}), span=(make.at(0, "10:00"), None)
    )
    old = plan(block("f1/plant/1", 0, "08:00"))
    row = only(old, plan(block("f1/plant/1", 3, "08:00"), made=EVENING), down)
    assert row.because == "Because: Planter is out of order." and row.unreported


def test_ground_that_became_fitter_is_the_cause_of_work_that_comes_sooner_and_of_none_that_is_put_off() -> (
    None
):
    old = plan(block("f1/plant/1", 2, "08:00", chance=0.5))
    sooner, later = (plan(block("f1/plant/1", day, "08:00")) for day in (1, 3))
    row = only(old, after(old, sooner, {"f1/plant/1": 0.7}), RAIN)
    assert row.because.endswith("the odds of fit ground then rose from 50% to 70%.") and row.event_id == "e1"
    assert only(old, after(old, later, {"f1/plant/1": 0.7}), RAIN).event_id is None


def test_a_tissue_result_is_no_cause_of_work_whose_rate_it_does_not_set() -> None:
    result = News("e1", "tissue of f1: 4 % N", fields=frozenset({"f1"}), rates=True)
    old, new = plan(block("f1/plant/1", 1, "08:00")), plan(block("f1/plant/1", 2, "08:00"), made=EVENING)
    assert only(old, new, result).event_id is None
    farm = make.farm(3)
    steers = farm.model_copy(update={"tissue": farm.tissue.model_copy(update={"passes": ("plant",)})})
    (row,) = compare(old, new, (result,), steers).rows
    assert (row.event_id, row.direct) == ("e1", True)


def test_no_rain_makes_no_ground_wetter_and_a_spade_that_found_it_fit_neither() -> None:
    old = plan(block("f1/plant/1", 1, "08:00", chance=0.8))
    new = after(old, plan(block("f1/plant/1", 2, "08:00"), made=EVENING), {"f1/plant/1": 0.3})
    dry = News("e1", "no rain on the whole farm", ground=frozenset({ALL}), less_fit=False)
    row = only(old, new, dry)
    assert row.event_id is None and row.because.startswith("Because: the weather since then; the odds")
    assert only(old, new, dry, RAIN).event_id == "e1" == RAIN.id
    sooner = after(old, plan(block("f1/plant/1", 0, "20:00"), made=EVENING), {"f1/plant/1": 0.95})
    assert only(old, sooner, dry).because.startswith(
        "Because: no rain on the whole farm; the odds of fit ground then rose"
    )
    silent = plan(block("f1/plant/1", 1, "08:00"), made=EVENING)
    told = replace(dry, at=make.at(0, "09:00"))
    missed = plan(block("f1/plant/1", 0, "08:00"))
    assert only(missed, silent, told).because == "Because: nobody has reported plant in f1 done."
