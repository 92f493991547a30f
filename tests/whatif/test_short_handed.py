"""The story of `scenarios/short-handed`: what its README tells is what comes out, and the page holds it all."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

from scheduler.cli.main import main
from scheduler.whatif.outcome import Outcome
from scheduler.whatif.page import study_page
from scheduler.whatif.tell import present_of, ranked
from scheduler.wiring.whatif import open_study, run_ways, saved_studies, what_if_morning
from scheduler.wiring.workspace import open_farm
from tests.whatif.test_ways import NOW

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "short-handed"


@pytest.fixture(scope="module")
def answer() -> list[Outcome]:
    workspace = open_farm(SCENARIO, quiet_log=True)
    morning = what_if_morning(workspace, NOW.replace(day=11), 1.0)
    return run_ways(morning, open_study(workspace, "planter-down").all_ways(), 1)


def test_a_planter_in_the_dry_spell_beats_longer_days_after_it(answer: list[Outcome]) -> None:
    names = [one.name for one in ranked(answer)]
    assert set(names[:2]) == {"Hire a planter", "Custom planting"} and names[-1] == "As it stands"
    present = present_of(answer)
    assert all(one.total < present.bound for one in answer if one.name in names[:2]), "the gain is proven"


def test_every_study_of_the_scenario_can_be_read() -> None:
    workspace = open_farm(SCENARIO, quiet_log=True)
    assert saved_studies(workspace) == ["planter-down", "short-of-hands"]
    assert all(open_study(workspace, name).ways for name in saved_studies(workspace))


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.outside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in ("meta", "br"):
            self.open.append(tag)
        self.outside += [value or "" for name, value in attrs if name in ("src", "href")]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.outside += [value or "" for name, value in attrs if name in ("src", "href")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_page_is_whole_and_needs_nothing_from_elsewhere(answer: list[Outcome]) -> None:
    page = study_page('Who "pays"? <script>', answer, "us", "as of now")
    reader = _Tags()
    reader.feed(page)
    assert reader.open == [] and reader.outside == [] and "<script>" not in page
    for one in answer:
        assert one.name in page and f"${one.expected:,.0f}" in page
    assert not re.search(r"\bNone\b|\bnan\b", page)


def test_the_scenario_is_replayed(tmp_path: Path) -> None:
    told = CliRunner().invoke(
        main, ["replay", str(SCENARIO), "--mornings", "2", "--seconds", "0.5", "--out", str(tmp_path)]
    )
    assert told.exit_code == 0, told.output
    assert "Ruut" in told.output and len(list(tmp_path.glob("*-morning.html"))) == 2
