"""Pictures through matplotlib: water, progress, windows, days. Readable in grey: hatching, line styles and words carry what colour does.

The figures are made without pyplot; one at a time, since settings of the library hold for the whole program. SVG carries text as text,
no date and no random ids: same input, same bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta
from io import BytesIO
from threading import Lock
from typing import Any

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.dates import DateFormatter, DayLocator, HourLocator, date2num
from matplotlib.figure import Figure

from shared.pictures import Days, Picture, Progress, Water, Windows
from shared.units import to_people

DARK, MIDDLE, LIGHT, WARM = "#1b3a4b", "#5b8fa8", "#c9dde6", "#b8651b"
HATCHES = ("", "///", "...", "xx", "\\\\\\", "++", "oo", "--")
DOTS_PER_INCH = 130
_ONE_AT_A_TIME = Lock()


def draw(picture: Picture, form: str, system: str, zone: Any) -> bytes:
    """Return a picture.

    Parameters
    ----------
    form : str
        ``svg``, ``png`` or ``pdf``.
    system : str
        ``us`` or ``metric``.
    zone : tzinfo
        The farm's.
    """
    makers: dict[type, Callable[[Any, str, Any], Figure]] = {
        Water: _water,
        Windows: _windows,
        Days: _days,
        tuple: _progress,
    }
    with (
        _ONE_AT_A_TIME,
        matplotlib.rc_context(
            {"svg.fonttype": "none", "svg.hashsalt": "fitground", "font.size": 9, "hatch.linewidth": 0.6}
        ),
    ):
        figure, out = makers[type(picture)](picture, system, zone), BytesIO()
        dates: dict[str, Any] = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(form, {})
        FigureCanvasAgg(figure)
        figure.savefig(out, format=form, dpi=DOTS_PER_INCH, metadata=dates)
    return out.getvalue()


def _figure(width: float, height: float, title: str) -> Figure:
    figure = Figure(figsize=(width, height), layout="constrained")
    figure.suptitle(title, fontsize=12, fontweight="bold", x=0.01, ha="left")
    return figure


def _by_day(axis: Any, zone: Any, every: int = 2) -> None:
    axis.xaxis.set_major_locator(DayLocator(interval=every, tz=zone))
    axis.xaxis.set_major_formatter(DateFormatter("%a\n%d %b", tz=zone))
    axis.grid(axis="x", color="0.88", linewidth=0.6)
    axis.set_axisbelow(True)
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)


def _moment(day: Any, zone: Any) -> float:
    return float(date2num(datetime.combine(day, time(0), zone)))


def _water(water: Water, system: str, zone: Any) -> Figure:
    figure = _figure(9, 5, water.title)
    rain, wet = figure.subplots(2, 1, sharex=True, height_ratios=(1, 1.3))
    unit, scale = to_people(1.0, "rain_mm", system)[1], to_people(1.0, "rain_mm", system)[0]
    x = [_moment(day, zone) for day in water.days]
    past = water.past
    rain.bar(
        x[:past], [v * scale for v in water.rain_mm[:past]], width=0.8, align="edge", color=DARK, label="fell"
    )
    ahead = [v * scale for v in water.rain_mm[past:]]
    rain.bar(x[past:], ahead, width=0.8, align="edge", color=MIDDLE, label="may fall: the middle")
    over = [(h - m) * scale for h, m in zip(water.high_mm[past:], water.rain_mm[past:], strict=True)]
    rain.bar(
        x[past:],
        over,
        width=0.8,
        align="edge",
        bottom=ahead,
        color="white",
        edgecolor=MIDDLE,
        hatch="///",
        linewidth=0.6,
        label="nine of ten stay below",
    )
    rain.set_ylabel(f"rain ({unit})")
    rain.legend(fontsize=7, frameon=False, loc="upper left", ncols=3)
    start = x[past] if past < len(x) else x[-1]
    hours = [start + k / 24 for k in range(len(water.wetness[1]))]
    low, middle, high = water.wetness
    wet.fill_between(hours, low, high, color=LIGHT, label="eight of ten possible weathers")
    wet.plot(hours, middle, color=DARK, linewidth=1.4, label="the middle")
    wet.axhline(1.0, color=WARM, linestyle="--", linewidth=1)
    wet.text(x[0], 1.01, "field capacity", color=WARM, fontsize=7, va="bottom")
    wet.set_ylabel("surface wetness\n(share of field capacity)")
    wet.legend(fontsize=7, frameon=False, loc="lower left")
    for axis in (rain, wet):
        axis.axvline(start, color="black", linewidth=0.8)
        _by_day(axis, zone)
    wet.text(start, wet.get_ylim()[0], " today", fontsize=7, va="bottom")
    return figure


def _progress(lines: tuple[Progress, ...], system: str, zone: Any) -> Figure:
    figure = _figure(9, max(2.2, 1.7 * len(lines)) + 0.5, "Season: area done and planned")
    unit = to_people(1.0, "area_ha", system)[1]
    for axis, one in zip(
        figure.subplots(max(1, len(lines)), 1, sharex=True, squeeze=False)[:, 0], lines, strict=False
    ):
        x = [_moment(day, zone) for day in one.days]
        back = len(one.done)
        done, plan, sure = (
            [to_people(v, "area_ha", system)[0] for v in row] for row in (one.done, one.plan, one.sure)
        )
        axis.plot(x[:back], done, color="black", linewidth=2, label="done")
        ahead = x[back - 1 : back - 1 + len(plan)]
        axis.fill_between(
            ahead,
            sure,
            plan,
            color=LIGHT,
            hatch="...",
            edgecolor=MIDDLE,
            linewidth=0,
            label="what the odds leave of it",
        )
        axis.plot(ahead, plan, color=MIDDLE, linestyle="--", linewidth=1.4, label="planned")
        axis.axvline(x[back - 1], color="black", linewidth=0.8)
        total = to_people(one.total_ha, "area_ha", system)[0]
        axis.set_ylim(0, total * 1.08)
        axis.axhline(total, color="0.6", linewidth=0.6)
        axis.set_ylabel(unit)
        axis.set_title(f"{one.name}: {done[-1]:,.0f} of {total:,.0f} {unit} done", fontsize=9, loc="left")
        _by_day(axis, zone, 4)
    if lines:
        figure.axes[0].legend(fontsize=7, frameon=False, loc="upper left", ncols=3)
    return figure


def _windows(found: Windows, system: str, zone: Any) -> Figure:
    figure = _figure(9, 1.6 + 0.26 * max(1, len(found.bars)), found.title)
    axis = figure.subplots()
    today, until = _moment(found.today, zone), _moment(found.until + timedelta(days=1), zone)
    for place, bar in enumerate(found.bars):
        opens = today if bar.opens is None else max(today, _moment(bar.opens, zone))
        closes = until if bar.closes is None else min(until, _moment(bar.closes + timedelta(days=1), zone))
        if closes > opens:
            axis.barh(
                place, closes - opens, left=opens, height=0.66, color=LIGHT, edgecolor=DARK, linewidth=0.6
            )
        else:
            axis.text(today, place, " closed", va="center", fontsize=7, color=WARM)
        if bar.closes is not None and closes < until:
            axis.text(closes, place, f" {bar.closes:%d %b}", va="center", fontsize=6.5)
        for start, end in bar.planned:
            left = float(date2num(start.astimezone(UTC)))
            axis.barh(
                place,
                max(0.25, float(date2num(end.astimezone(UTC))) - left),
                left=left,
                height=0.4,
                color=DARK,
            )
    axis.set_yticks(range(len(found.bars)), [bar.label for bar in found.bars], fontsize=7)
    axis.set_ylim(len(found.bars) - 0.4, -0.6)
    axis.set_xlim(today, until)
    _by_day(axis, zone, max(2, (found.until - found.today).days // 12))
    axis.set_xlabel(
        "pale: the window; dark: planned. The dearest delay stands first.", fontsize=7, loc="left"
    )
    return figure


def _days(board: Days, system: str, zone: Any) -> Figure:
    figure = _figure(11, 1.5 + 0.62 * max(1, len(board.rows)), board.title)
    axis = figure.subplots()
    kinds = list(dict.fromkeys(piece.kind for _, row in board.rows for piece in row))
    for place, (_, row) in enumerate(board.rows):
        for piece in row:
            left, right = (float(date2num(moment.astimezone(UTC))) for moment in (piece.start, piece.end))
            number = kinds.index(piece.kind)
            axis.barh(
                place, right - left, left=left, height=0.8, color="white" if piece.chance < 0.5 else LIGHT, edgecolor=DARK,
                hatch=HATCHES[number % len(HATCHES)], linewidth=0.8, linestyle=":" if piece.chance < 0.5 else "-",
            )  # fmt: skip
            axis.text(left + 0.01, place, piece.text, fontsize=5.5, rotation=90 if right - left < 0.28 else 0, va="center", clip_on=True, bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.8})  # fmt: skip
    axis.set_yticks(range(len(board.rows)), [name for name, _ in board.rows])
    axis.invert_yaxis()
    axis.set_xlim(_moment(board.first, zone), _moment(board.first + timedelta(days=board.days), zone))
    _by_day(axis, zone, 1)
    axis.xaxis.set_minor_locator(HourLocator(byhour=(6, 12, 18), tz=zone))
    from matplotlib.patches import Patch

    marks: list[Any] = [
        Patch(facecolor=LIGHT, edgecolor=DARK, hatch=HATCHES[k % len(HATCHES)], label=kind)
        for k, kind in enumerate(kinds)
    ]
    marks.append(Patch(facecolor="white", edgecolor=DARK, linestyle=":", label="may well not run"))
    figure.legend(handles=marks, fontsize=7, frameon=False, loc="outside lower left", ncols=5)
    return figure
