"""The model against numbers nobody here made: weekly reports of Iowa, moisture and temperature of
reference stations.

Fitted on 1988-2004 only; every figure here is for 2005-2012. ``pytest -s`` prints the table of figures.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from scheduler.workability.calibrate import score
from scheduler.workability.district import FITTED, HANDBOOK
from scheduler.workability.workdays import judge_district, workdays
from tests.workability.open_data import AMES, ames, baselines, stations, weeks


@pytest.fixture(scope="module")
def judged():
    """Daily chance by fitted and by handbook settings, and the reports."""
    days, reports = ames(), weeks()
    sums = {}
    for settings in (FITTED, HANDBOOK):
        district = judge_district(days, AMES, None, settings)
        sums[settings.name] = (reports.sums(district.chance(), days.first_day), district.chance())
    return days, reports, sums


def spring_score(judged, name):
    _, reports, sums = judged
    unseen = ~reports.seen & reports.spring
    return score(sums[name][0][unseen], reports.told[unseen])


def test_fitted_settings_on_unseen_springs(judged):
    """April-June 2005-2012: r 0.87 or more, bias within 0.2 day a week; the error as reached, so that it cannot
    get worse unseen (wanted is less, see the next test)."""
    result = spring_score(judged, FITTED.name)
    assert result.weeks == 104
    assert result.r >= 0.87
    assert abs(result.bias) <= 0.2
    assert result.mae <= 0.65


@pytest.mark.xfail(
    reason="not reached: 0.63. Two weeks of June 2009, with next to no rain at the station while the district "
    "reported 2.0 and 3.3 suitable days, make 0.07 of it",
    strict=True,
)
def test_error_that_is_wanted_on_unseen_springs(judged):
    assert spring_score(judged, FITTED.name).mae <= 0.60


def test_handbook_settings_on_unseen_springs(judged):
    assert spring_score(judged, HANDBOOK.name).mae <= 0.75


def test_better_than_every_simple_rule_recomputed_here(judged):
    days, reports, sums = judged
    unseen = ~reports.seen & reports.spring
    ours = score(sums[FITTED.name][0][unseen], reports.told[unseen])
    for name, predicted in baselines(days, reports).items():
        theirs = score(predicted[unseen], reports.told[unseen])
        print(f"{name:28s} r {theirs.r:5.2f}  error {theirs.mae:5.2f}  bias {theirs.bias:+5.2f}")
        assert ours.mae < theirs.mae and ours.r > theirs.r, name
    for name in sums:
        result = spring_score(judged, name)
        print(f"{name[:28]:28s} r {result.r:5.3f}  error {result.mae:5.3f}  bias {result.bias:+5.2f}")


def test_the_odds_mean_what_they_say(judged):
    """Reliability on 2005-2012, all weeks: the mean of the reports follows the mean of the chances in
    every fifth.
    """
    _, reports, sums = judged
    unseen = ~reports.seen
    chance, told = sums[FITTED.name][0][unseen] / 7, reports.told[unseen] / 7
    edges = np.quantile(chance, np.linspace(0, 1, 6))
    for low, high in itertools.pairwise(edges):
        inside = (chance >= low) & (chance <= high)
        print(
            f"chance {chance[inside].mean():.2f} -> reported {told[inside].mean():.2f} ({inside.sum()} weeks)"
        )
        assert abs(chance[inside].mean() - told[inside].mean()) < 0.08
    brier = float(((chance - told) ** 2).mean())
    base = float(((told - reports.told[reports.seen].mean() / 7) ** 2).mean())
    print(f"squared error of the weekly share {brier:.4f}, of its climatological mean {base:.4f}")
    assert brier < 0.35 * base


def test_a_record_without_its_winters_does_nearly_as_well(judged):
    """A station that is read from March to October: each spring starts anew at field capacity, and hardly errs more."""
    days, reports, _ = judged
    seasons = [_season(days, year) for year in range(2005, 2013)]
    district = judge_district(seasons, AMES, None, FITTED)
    unseen = ~reports.seen & reports.spring
    ends = [district.end_index(reports.endings[k]) for k in np.flatnonzero(unseen)]
    up_to = district.sums()
    found = score(np.array([up_to[end] - up_to[end - 7] for end in ends]), reports.told[unseen])
    print(f"without winters: error {found.mae:.3f}, r {found.r:.3f}")
    assert found.mae <= spring_score(judged, FITTED.name).mae + 0.03


def _season(days, year):
    """March to October of a year."""
    a, b = ((date(year, *on) - days.first_day).days for on in ((3, 1), (11, 1)))
    columns = {name: getattr(days, name)[:, a:b] for name in ("rain_mm", "tmax_c", "tmin_c", "solar_mj_m2")}
    return replace(days, first_day=date(year, 3, 1), **columns)


def test_season_totals_follow_the_reports(judged):
    """April-June sums by year; the reports' own count of weeks is used on both sides."""
    _, reports, sums = judged
    spring = reports.spring
    year = np.array([day.year for day in reports.endings])
    totals = np.array([
        (sums[FITTED.name][0][spring & (year == y)].sum(), reports.told[spring & (year == y)].sum())
        for y in range(2005, 2013)
    ])  # fmt: skip
    assert np.corrcoef(totals.T)[0, 1] > 0.85
    assert np.abs(totals[:, 0] - totals[:, 1]).mean() < 6.0


def test_surface_wetness_follows_measured_moisture():
    """5 cm moisture of reference stations, April-June 2020: median r 0.90 or more, default ground at every
    station.
    """
    results = []
    for station in stations():
        spring = np.arange(station.days.days)
        known = ~np.isnan(station.moisture_5cm) & (spring >= 91) & (spring < 182)
        if known.sum() < 40:
            continue
        wetness = np.array([day.surface_wetness for day in workdays(station.days, station.place).days])
        results.append(float(np.corrcoef(wetness[known], station.moisture_5cm[known])[0, 1]))
    print("r by station:", np.round(results, 2), "median", round(float(np.median(results)), 3))
    assert len(results) >= 10
    assert np.median(results) >= 0.90


def test_soil_temperature_follows_the_stations():
    """5 cm, whole year 2020: median error 1.8 degC or less; the ground of the stations is grass."""
    errors = []
    for station in stations():
        known = ~np.isnan(station.soil_5cm_c)
        if known.sum() < 200:
            continue
        soil = np.array([day.soil_temp_c for day in workdays(station.days, station.place).days])
        errors.append(float(np.abs(soil - station.soil_5cm_c)[known].mean()))
    print("error by station:", np.round(errors, 2), "median", round(float(np.median(errors)), 2))
    assert len(errors) >= 10
    assert np.median(errors) <= 1.8


def test_spring_counts_of_a_wet_and_a_dry_year_stand_where_they_should(judged):
    """10 April-20 May in central Illinois 1980-2010: mean 20 of 41 days, 9.2 to 31.7 (Univ. Illinois FEFO
    10-11).

    Iowa's neighbour, so the range is used with four days of room; 1993 was the wettest spring of the record.
    """
    days, _, sums = judged
    chance = sums[FITTED.name][1]
    counts = {}
    for year in range(1988, 2011):
        first = (np.datetime64(f"{year}-04-10") - np.datetime64(days.first_day)).astype(int)
        counts[year] = float(chance[first : first + 41].sum())
    values = np.array(list(counts.values()))
    assert values.min() >= 5.2 and values.max() <= 35.7
    assert 16 <= values.mean() <= 28
    assert counts[1993] < values.mean() - values.std()
