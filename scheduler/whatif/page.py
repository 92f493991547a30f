"""A study's answer as a page: ranked table, cost bars, area curves; one file that opens without a network and prints in grey."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined

from scheduler.whatif.outcome import Outcome
from scheduler.whatif.tell import PARTS, SAME, against, finish, main_passes, present_of, ranked, sure_of

SHADES = ("#3b2f26", "#7d6f61", "#b5a995", "#d9cfbd", "#0b5a5e", "#5c9a9c", "#a3c7c7", "#e8e0cf", "#c96f2e")
"""Dark to light and two other hues: told apart in grey by order and by the words beside them."""
DASHES = ("", "7 3", "2 3", "9 3 2 3", "1 4", "12 4")
WIDTH, BAR_H, CURVE_H = 760, 26, 190


@dataclass(frozen=True)
class Piece:
    """A part of a bar: where it starts, how long, its shade and words."""

    x: float
    width: float
    shade: str
    text: str


@dataclass(frozen=True)
class Curve:
    """Area done by the end of each day, as a path, with the way that it belongs to."""

    name: str
    path: str
    dash: str
    end_x: float
    end_y: float


def study_page(question: str, outcomes: Sequence[Outcome], units: str, as_of: str) -> str:
    """Return the page of a study."""
    rows, present = ranked(outcomes), present_of(outcomes)
    sound = [one for one in rows if not one.refused]
    shown = main_passes(outcomes, 3)
    labels = {row.pass_id: row.label for one in sound for row in one.passes}
    parts = [name for name in PARTS if any(one.money.get(name, 0.0) >= 1 for one in sound)]
    environment = Environment(
        loader=PackageLoader("scheduler.whatif", "templates"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    return environment.get_template("study.html").render(
        question=question or "What if", as_of=as_of, rows=rows, present=present, shown=shown, labels=labels,
        against=against, sure=max(SAME, sure_of(outcomes)), ends=_ends(rows, shown, units), parts=[(PARTS[p], SHADES[k % len(SHADES)]) for k, p in enumerate(parts)],
        bars=_bars(sound, parts), whiskers=_whiskers(sound), width=WIDTH, bar_h=BAR_H, curve_h=CURVE_H,
        curves=[(labels[name], _curves(sound, name), _ticks(sound)) for name in shown],
    )  # fmt: skip


def _ends(rows: Sequence[Outcome], shown: Sequence[str], units: str) -> dict[str, dict[str, str]]:
    return {
        one.name: {row.pass_id: finish(row, units) for row in one.passes if row.pass_id in shown}
        for one in rows
    }


def _scale(sound: Sequence[Outcome]) -> float:
    tops = [max(one.total, one.odds.p90 if one.odds else 0.0) for one in sound]
    return (WIDTH - 10) / max([*tops, 1.0])


def _bars(sound: Sequence[Outcome], parts: Sequence[str]) -> dict[str, list[Piece]]:
    scale, out = _scale(sound), {}
    for one in sound:
        x, pieces = 0.0, []
        for k, name in enumerate(parts):
            value = max(0.0, one.money.get(name, 0.0))
            pieces.append(
                Piece(
                    round(x, 1),
                    round(value * scale, 1),
                    SHADES[k % len(SHADES)],
                    f"{PARTS[name]} ${value:,.0f}",
                )
            )
            x += value * scale
        out[one.name] = pieces
    return out


def _whiskers(sound: Sequence[Outcome]) -> dict[str, tuple[float, float, float]]:
    scale = _scale(sound)
    return {
        one.name: (
            round(one.odds.p10 * scale, 1),
            round(one.odds.expected * scale, 1),
            round(one.odds.p90 * scale, 1),
        )
        for one in sound
        if one.odds is not None
    }


def _curves(sound: Sequence[Outcome], pass_id: str) -> list[Curve]:
    most = max((row.left_ha for one in sound for row in one.passes if row.pass_id == pass_id), default=1.0)
    out = []
    for k, one in enumerate(sound):
        row = next((row for row in one.passes if row.pass_id == pass_id), None)
        if row is None or not row.done_ha:
            continue
        step = (WIDTH - 200) / len(row.done_ha)
        points = [(0.0, 0.0), *((step * (d + 1), area) for d, area in enumerate(row.done_ha))]
        at = [(x, CURVE_H - 20 - (CURVE_H - 36) * area / max(most, 1e-9)) for x, area in points]
        path = "M" + " L".join(f"{x:.1f},{y:.1f}" for x, y in at)
        out.append(Curve(one.name, path, DASHES[k % len(DASHES)], at[-1][0], at[-1][1]))
    return _apart(out)


def _apart(curves: list[Curve]) -> list[Curve]:
    """Move the names at the ends apart, so that none covers another."""
    placed: list[Curve] = []
    for curve in sorted(curves, key=lambda one: one.end_y):
        y = max(curve.end_y, placed[-1].end_y + 12 if placed else 0.0)
        placed.append(Curve(curve.name, curve.path, curve.dash, curve.end_x, y))
    return placed


def _ticks(sound: Sequence[Outcome]) -> list[tuple[float, str]]:
    days = next((one.days for one in sound if one.days), ())
    step = (WIDTH - 200) / max(1, len(days))
    return [(round(step * k, 1), f"{day:%a} {day.day}") for k, day in enumerate(days) if k % 2 == 0]
