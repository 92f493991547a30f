"""Which passes a table of ways shows: those that differ, then those that are worked.

No outside source: outcomes by hand, so that the answer is known beforehand.
"""

from __future__ import annotations

from datetime import date

from scheduler.whatif.outcome import Outcome, PassOutcome
from scheduler.whatif.tell import main_passes, study_text


def way(name: str, **done: tuple[float, float, date | None]) -> Outcome:
    """Return a way of one day; of each pass what is to do, what is done, and its end."""
    passes = tuple(
        PassOutcome(pass_id=key, label=key.title(), left_ha=left, done_ha=(some,), finished_on=end)
        for key, (left, some, end) in done.items()
    )
    return Outcome(
        name=name, changes=(), total=100.0, bound=90.0, money={}, passes=passes, missed=(), people=(), days=(date(2027, 5, 10),)
    )  # fmt: skip


DAY, NEXT = date(2027, 5, 10), date(2027, 5, 11)


def test_what_differs_comes_first_then_what_is_worked_then_what_is_large() -> None:
    rest = {"scout": (100.0, 0.0, None), "band": (40.0, 20.0, None), "terminate": (60.0, 60.0, DAY)}
    ways = [
        way("As it stands", plant=(50.0, 50.0, DAY), **rest),
        way("other", plant=(50.0, 50.0, NEXT), **rest),
    ]
    assert main_passes(ways, 4) == ["plant", "terminate", "band", "scout"]
    text = study_text("", ways, "metric", "")
    assert "scout" not in text.splitlines()[4] and "band" in text.splitlines()[4]


def test_a_pass_that_one_way_only_works_counts_as_worked() -> None:
    ways = [
        way("As it stands", a=(90.0, 0.0, None), b=(10.0, 0.0, None)),
        way("other", a=(90.0, 0.0, None), b=(10.0, 5.0, None)),
    ]
    assert main_passes(ways, 1) == ["b"]
