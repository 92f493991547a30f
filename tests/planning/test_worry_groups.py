"""Worries put together: nothing is lost, what is alike is one line, everything else stays as it was."""

from __future__ import annotations

import re
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from scheduler.planning.plan import Worry
from scheduler.planning.worries import DOUBTFUL, NO_ROOM, OF_PASSES
from scheduler.planning.worry_groups import LEAST_ALIKE, gathered
from tests.crew.builders import morning

FARM = morning()[1].farm
RYE = [field.id for field in FARM.fields if FARM.spec(field.id, "terminate")]


def worry(
    field: str, line: str = DOUBTFUL, pass_id: str = "terminate", day: int = 10, **values: str
) -> Worry:
    said = (
        {"start": f"2027-05-{day}T07:00:00-05:00", "chance": "0.5"}
        if line == DOUBTFUL
        else {"closes": f"2027-05-{day}", "left_ha": "10"}
    )
    return Worry(
        severity=1,
        text=f"{line} {field} {day}",
        field=field,
        pass_id=pass_id,
        line=line,
        values=said | values,
    )


def test_many_alike_are_one_line_with_odds_area_and_fields() -> None:
    alike = [worry(field, chance=str(0.42 + 0.02 * k)) for k, field in enumerate(RYE[:4])]
    (one,) = gathered(alike, FARM)
    names = ", ".join(FARM.field_by_id[field].label for field in RYE[:4])
    assert one.text == f"Terminate rye on Mon 10 May: odds of only 42% to 48% in 4 fields: {names}."
    (one,) = gathered([worry(field, NO_ROOM) for field in RYE], FARM)
    assert f"in {len(RYE)} fields, {len(RYE) * 10 / 0.40468564224:,.0f} ac find no room: " in one.text
    assert one.text.endswith(f" and {len(RYE) - 5} more.") and one.text.count(",") >= 5 - 1


def test_few_others_days_and_passes_stay_apart() -> None:
    mixed = [worry(RYE[0]), worry(RYE[1]), worry(RYE[2], day=11), worry(RYE[3], NO_ROOM)]
    assert gathered(mixed, FARM) == tuple(mixed)
    twice = [worry(RYE[0]), worry(RYE[0]), worry(RYE[0])]
    assert gathered(twice, FARM) == tuple(twice), "three blocks of one field are not three fields"
    plain = Worry(severity=2, text="The forecast is old.")
    assert gathered([plain] * 4, FARM) == (plain,) * 4


def test_poor_odds_of_a_day_are_one_line_whatever_the_job() -> None:
    own = [
        worry(RYE[0], chance="0.42"),
        worry(RYE[1], pass_id="plant", chance="0.37"),
        worry(RYE[2], pass_id="band"),
    ]
    other = worry(RYE[3], day=11)
    one, two = gathered([*own, other], FARM)
    assert two == other and one.text.startswith("On Mon 10 May odds of only 37% to 50%: Terminate rye in ")
    assert all(FARM.field_by_id[field].label in one.text for field in RYE[:3])
    assert gathered([*own[:2], other], FARM) == (*own[:2], other)


@given(
    st.lists(
        st.tuples(st.sampled_from(RYE), st.sampled_from(OF_PASSES), st.integers(10, 12)),
        max_size=30,
        unique=True,
    )
)
def test_every_worry_is_counted_once(drawn: list[tuple[str, str, int]]) -> None:
    day = date(2027, 5, 1)
    given_ = [worry(field, line, day=(day + timedelta(days=k - 1)).day) for field, line, k in drawn]
    out = gathered(given_, FARM)
    counts = [int(found[1]) if (found := re.search(r"in (\d+) fields", one.text)) else 1 for one in out]
    assert sum(counts) == len(given_) and len(out) <= len(given_)
    assert all(count == 1 or count >= LEAST_ALIKE for count in counts)
