"""Demands as people say them: which pass of which fields, and until when; what is not clear is refused.

The sentences are made up; how they are meant is common speech, no source.
"""

from __future__ import annotations

import pytest

from scheduler.whatif.demand import read_demands
from shared.errors import ReportRefused
from tests.crew.builders import morning
from tests.service.farms import at

SITUATION = morning()[1]
NOW = at(10, "05:00")
CORN = [one.id for one in SITUATION.farm.fields if one.crop == "corn"]


def read(text: str) -> tuple[set[tuple[str, str]], str]:
    found = read_demands(text, SITUATION, NOW)
    (until,) = {f"{one.until:%a %d %H:%M}" for one in found}
    return {(one.field, one.pass_id) for one in found}, until


OPEN = {key for key in SITUATION.passes if key[1] == "plant" and SITUATION.left_ha(*key) > 0}
OPEN_CORN = {key for key in OPEN if key[0] in CORN}


@pytest.mark.parametrize(
    ("said", "keys", "until"),
    [
        ("can we finish planting by friday?", OPEN, "Sat 15 00:00"),
        ("can we finish planting corn by friday noon", OPEN_CORN, "Fri 14 12:00"),
        ("all corn planted by the 20th", OPEN_CORN, "Fri 21 00:00"),
        ("plant soybeans by end of may 20", OPEN - OPEN_CORN, "Fri 21 00:00"),
        (
            "heron and far west planted by sat noon",
            {("heron", "plant"), ("far-west", "plant")},
            "Sat 15 12:00",
        ),
        ("plant heron, far-west by sat", {("heron", "plant"), ("far-west", "plant")}, "Sun 16 00:00"),
        ("is kiln planted by mon", {("kiln", "plant")}, "Tue 11 00:00"),
        ("can we get east eighty banded by tomorrow 6 pm", {("east-eighty", "band")}, "Tue 11 18:00"),
        # Terminated comes first there: the other spraying is not due.
        ("spray stone row by wed", {("stone-row", "terminate")}, "Thu 13 00:00"),
    ],
)
def test_a_question_is_the_demand_that_it_means(said: str, keys: set[tuple[str, str]], until: str) -> None:
    assert read(said) == (keys, until)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("plant kiln by fri and heron by sat", "says two times"),
        ("plant mars by fri", "the pass 'plant mars' is not known"),
        ("kiln by fri", "the pass 'kiln' is not known"),
        ("planter broke by fri", "the pass 'planter broke' is not known"),
        ("terminate kiln by fri", "is not known"),
        ("plant stone row by mon 3 am", "that is over"),
        ("plant kiln, mill by fri", "'mill' can be mill-flat or upper-mill; say which."),
    ],
)
def test_what_is_no_demand_is_refused(said: str, why: str) -> None:
    with pytest.raises(ReportRefused) as caught:
        read(said)
    assert why in str(caught.value) and str(caught.value).endswith(".")
