"""The compiled loop is the written one, and kept machine code is thrown away when any of its sources
changes.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np

from scheduler.workability import compiled, judging, soil_loop
from scheduler.workability import layout as at
from scheduler.workability.evapotranspiration import et0_of_hours
from scheduler.workability.fit_rules import fit_rule
from scheduler.workability.ground import Ground, SoilOptions
from scheduler.workability.soil_water import run_soil_water
from scheduler.workability.verdicts import _numbers, judge
from shared.vocabulary import Operation
from tests.workability.weather import PLACE, spring


def test_the_loop_run_as_plain_python_gives_the_same(monkeypatch):
    """Every compiled function replaced by its source, a week of one field: same water to the last digit."""
    weather = spring([12, 0, 30, 0, 0, 3, 0])
    fast = run_soil_water([Ground()], weather, PLACE)
    for name in dir(soil_loop):
        plain = getattr(getattr(soil_loop, name), "py_func", None)
        if plain is not None:
            monkeypatch.setattr(soil_loop, name, plain)
    monkeypatch.setattr("scheduler.workability.soil_water.march", soil_loop.march)
    slow = run_soil_water([Ground()], weather, PLACE, options=SoilOptions())
    np.testing.assert_allclose(slow.final.values, fast.final.values, rtol=0, atol=1e-9)
    np.testing.assert_allclose(slow.totals_mm[..., at.RAIN :], fast.totals_mm, rtol=0, atol=1e-9)
    assert np.isfinite(et0_of_hours(weather, PLACE)).all()


def test_the_verdicts_run_as_plain_python_are_the_same():
    weather = spring([12, 0, 30, 0, 0, 3, 0])
    trace = run_soil_water([Ground()], weather, PLACE)
    rule = fit_rule(Operation.PLANT)
    fast = judge(rule, trace, weather, PLACE)
    fitness, causes = np.empty(trace.shape, np.uint8), np.empty(trace.shape, np.uint16)
    odds = np.empty(trace.shape, np.float32)
    nothing = np.zeros(weather.temp_c.shape, np.uint8)
    judging.judge_ground.py_func(
        _numbers(rule), fast.limits, trace.judged_surface, trace.judged_subsoil, trace.snow_mm, trace.pond_mm,
        trace.soil_temp_c, trace.frozen, trace.rain_mm, nothing, nothing.astype(np.uint16), fitness, causes, odds,
    )  # fmt: skip
    np.testing.assert_array_equal(fitness, fast.fitness)
    np.testing.assert_array_equal(causes, fast.causes)


def test_a_change_in_any_kernel_file_changes_the_stamp(tmp_path):
    folder = Path(compiled.__file__).parent
    for name in compiled.KERNEL_FILES:
        shutil.copy(folder / f"{name}.py", tmp_path)
    assert compiled.source_stamp(tmp_path) == compiled.STAMP
    with open(tmp_path / "runoff.py", "a", encoding="utf-8") as file:
        file.write("\n# a new line\n")
    assert compiled.source_stamp(tmp_path) != compiled.STAMP


def test_every_file_with_compiled_code_is_in_the_stamp():
    folder = Path(compiled.__file__).parent
    users = {path.stem for path in folder.glob("*.py") if "@compiled" in path.read_text(encoding="utf-8")}
    assert users <= set(compiled.KERNEL_FILES)
    assert soil_loop.march._cache._cache_file._source_stamp == (compiled.STAMP, 0)
