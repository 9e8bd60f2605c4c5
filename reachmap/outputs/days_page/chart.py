"""Chart of the flow (observed, forecast or receding), daylight, and windows of the runs, as SVG.

It has CSS classes and no colours: these come from the style sheet, for day, night and paper.
"""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from reachmap.base.language import date_text, number_text, tr
from reachmap.base.units import FLOW, flow_words, from_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.series import DAY, HOUR
from reachmap.planner.choose import DayPlan
from reachmap.planner.day import RunDay
from reachmap.planner.days import Days
from reachmap.planner.hours import instant as instant_of
from reachmap.planner.outlook import CODES, Source
from reachmap.planner.sun import local, midnight
from reachmap.text.days import clock, day_name

LINES = {Source.READ: "read", Source.FORECAST: "forecast", Source.FALL: "fall"}


@dataclass(frozen=True, slots=True)
class Frame:
    """Size of the picture [px]: wide or for a phone; `rows` runs below the flow, `row` px each.

    `beside` px at the left hold the names; in a narrow chart the names stand above their row.
    """

    width: float
    tall: float
    rows: int
    row: float
    beside: float
    names_above: bool
    back_days: float


NARROW = 34.0
"""Bars narrower than this show only the score [px]."""

NO_ROOM = 15.0
"""Bars narrower than this have no text [px]; it is in the lists below."""

LABEL_PX = (48.0, 88.0)
"""Widths of a day below which every second day is labelled, and labels are short [px]."""

WIDE = Frame(1180, 250, 8, 27, 190, names_above=False, back_days=4.0)
PHONE = Frame(366, 200, 6, 49, 40, names_above=True, back_days=1.5)


@dataclass(frozen=True, slots=True)
class _Scale:
    """Transformation of times and flows to chart coordinates."""

    frame: Frame
    begin: np.datetime64
    end: np.datetime64
    low: float
    high: float

    def x(self, when: np.datetime64) -> float:
        """Return the x coordinate of an instant [px]."""
        share = float((when - self.begin) / (self.end - self.begin))
        room = self.frame.width - self.frame.beside - 8
        return self.frame.beside + room * min(max(share, 0.0), 1.0)

    def y(self, flow: float) -> float:
        """Return the y coordinate of a flow [px], on a logarithmic scale."""
        share = math.log(flow / self.low) / math.log(self.high / self.low)
        return 26 + (self.frame.tall - 46) * (1 - min(max(share, 0.0), 1.0))


def chart_runs(days: Days, count: int) -> list[int]:
    """Return the indices of the runs with the highest worth over the days, best first."""
    worth = []
    for number in range(len(days.facts.runs)):
        each = [one.runs[number] for one in days.days]
        worth.append(sum(run.score for run in each if run.window is not None))
    order = sorted(range(len(worth)), key=lambda number: -worth[number])
    listed = dict.fromkeys(
        _number(days, pick.run) for plan in _best_first(days) for pick in plan.picks
    )
    rest = [number for number in order if number not in listed and worth[number] > 0]
    return [*listed, *rest][:count]


def _best_first(days: Days) -> Sequence[DayPlan]:
    """Return the days' plans, that of the best day first."""
    if days.best is None:
        return days.plans
    return [days.plans[days.best], *days.plans]


def _number(days: Days, run: RunDay) -> int:
    """Return the index of a run."""
    return [one.name for one in days.facts.runs].index(run.facts.name)


def chart(days: Days, frame: Frame, letters: dict[str, str], units: UnitSystem) -> str:
    """Return the picture as SVG.

    Parameters
    ----------
    days
        The coming days.
    frame
        Its size.
    letters
        Letter of each kind of water.
    units
        In which flows are written.
    """
    runs = chart_runs(days, frame.rows)
    scale = _scale(days, frame)
    height = frame.tall + len(runs) * frame.row + 22
    parts = [
        _nights(days, scale, height),
        _flows(days.facts.page_flows, scale, units),
        _band(days, scale),
        *(_line(days, scale, source) for source in LINES),
        _now(days, scale, height),
        *(_run_row(days, scale, number, row, letters) for row, number in enumerate(runs)),
    ]
    words = html.escape(tr("Flow of {name} and when its runs are in shape", name=days.facts.name))
    return (
        f'<svg viewBox="0 0 {frame.width:g} {height:g}" role="img" aria-label="{words}" '
        f'class="chart">{"".join(parts)}</svg>'
    )


def _scale(days: Days, frame: Frame) -> _Scale:
    """Return the scale: from some days before today to the end of the last day."""
    outlook = days.outlook
    begin = outlook.now - np.timedelta64(int(frame.back_days * 86_400), "s")
    last = days.days[-1].light
    end = instant_of(last.hours[1]) + 3 * HOUR if last.hours else outlook.times[-1]
    shown = (outlook.times >= begin) & (outlook.times <= end)
    values = np.concatenate([outlook.low[shown], outlook.high[shown], days.facts.page_flows])
    values = values[np.isfinite(values) & (values > 0)]
    return _Scale(frame, begin, end, float(values.min()) * 0.9, float(values.max()) * 1.1)


def _nights(days: Days, scale: _Scale, height: float) -> str:
    """Return the nights as bands, and the labels of the days."""
    parts = []
    low = scale.x(scale.begin)
    parts.append(
        f'<rect class="night" x="{low:.1f}" y="20" width="{scale.frame.width - 8 - low:.1f}" '
        f'height="{height - 42:.1f}"/>'
    )
    for index, day in enumerate(days.days):
        if day.light.hours is None:
            continue
        begin, end = (scale.x(instant_of(one)) for one in day.light.hours)
        best = " best" if index == days.best else ""
        parts.append(
            f'<rect class="light{best}" x="{begin:.1f}" y="20" width="{end - begin:.1f}" '
            f'height="{height - 42:.1f}"/>'
        )
        apart = scale.x(scale.begin + DAY) - scale.x(scale.begin)
        if apart < LABEL_PX[0] and index % 2 and not best:
            continue
        long = apart >= LABEL_PX[1]
        name = day_name(day) if long else date_text(day.light.day, "week")
        parts.append(
            f'<text class="day{best}" x="{(begin + end) / 2:.1f}" y="14" '
            f'text-anchor="middle">{name}</text>'
        )
    return "".join([*parts, *_days_before(days, scale)])


def _days_before(days: Days, scale: _Scale) -> list[str]:
    """Return the labels of the past days."""
    parts = []
    day = local(scale.begin, days.zone).date()
    while day < days.days[0].light.day:
        noon = scale.x(instant_of(midnight(day, days.zone))) + scale.x(
            instant_of(midnight(day + timedelta(days=1), days.zone))
        )
        if noon / 2 > scale.frame.beside + 30:
            parts.append(
                f'<text class="scale" x="{noon / 2:.1f}" y="14" text-anchor="middle">'
                f"{date_text(day, 'week')}</text>"
            )
        day += timedelta(days=1)
    return parts


def _flows(flows: Sequence[float], scale: _Scale, units: UnitSystem) -> str:
    """Return the mapped flows as labelled lines, spaced so that the labels are legible."""
    parts, last = [], math.inf
    for flow in flows:
        y = scale.y(flow)
        parts.append(
            f'<line class="rule" x1="{scale.frame.beside:g}" x2="{scale.frame.width - 8:g}" '
            f'y1="{y:.1f}" y2="{y:.1f}"/>'
        )
        if last - y < 15:
            continue
        last = y
        value = number_text(from_si(flow, FLOW[units]), 0)
        words = value if scale.frame.names_above else flow_words(flow, units)
        parts.append(
            f'<text class="scale" x="{scale.frame.beside - 5:g}" y="{y + 4:.1f}" '
            f'text-anchor="end">{words}</text>'
        )
    return "".join(parts)


def _shown(days: Days, scale: _Scale) -> np.ndarray:
    """Return the indices of the hours shown."""
    times = days.outlook.times
    return np.flatnonzero((times >= scale.begin) & (times <= scale.end))


def _band(days: Days, scale: _Scale) -> str:
    """Return the uncertainty band of the flow, where it was not observed."""
    outlook = days.outlook
    index = [
        i
        for i in _shown(days, scale).tolist()
        if np.isfinite(outlook.low[i]) and outlook.source[i] != CODES[Source.READ]
    ]
    if len(index) < 2:
        return ""
    up = [(scale.x(outlook.times[i]), scale.y(float(outlook.high[i]))) for i in index]
    down = [
        (scale.x(outlook.times[i]), scale.y(max(float(outlook.low[i]), scale.low)))
        for i in reversed(index)
    ]
    return f'<polygon class="band" points="{_points([*up, *down])}"/>'


def _line(days: Days, scale: _Scale, source: Source) -> str:
    """Return the flow of one source as polylines, one for each unbroken period."""
    outlook = days.outlook
    shown = _shown(days, scale)
    mine = outlook.source[shown] == CODES[source]
    edges = np.flatnonzero(np.diff(np.r_[False, mine, False].astype(int)))
    parts = []
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        # starts at the hour before, so that the line is continuous where its source changes
        first = begin - 1 if begin and np.isfinite(outlook.flow[shown[begin - 1]]) else begin
        index = shown[first:end].tolist()
        points = _points(
            [(scale.x(outlook.times[i]), scale.y(float(outlook.flow[i]))) for i in index]
        )
        parts.append(f'<polyline class="flow {LINES[source]}" points="{points}"/>')
    return "".join(parts)


def _now(days: Days, scale: _Scale, height: float) -> str:
    """Return the line that marks the present time."""
    x = scale.x(days.outlook.now)
    day = date_text(local(days.outlook.now, days.zone).date(), "short")
    now = tr("now, {day} {clock}", day=day, clock=clock(days.outlook.now, days.zone))
    return (
        f'<line class="now" x1="{x:.1f}" x2="{x:.1f}" y1="20" y2="{height - 22:.1f}"/>'
        f'<text class="scale" x="{x:.1f}" y="{height - 6:.1f}" text-anchor="middle">'
        f"{html.escape(now)}</text>"
    )


def _run_row(days: Days, scale: _Scale, number: int, row: int, letters: dict[str, str]) -> str:
    """Return a run's windows as bars, with its name and scores."""
    frame = scale.frame
    top = frame.tall + row * frame.row
    name = days.facts.runs[number].name
    bar_top = top + (17 if frame.names_above else 2)
    bar = frame.row - (19 if frame.names_above else 5)
    parts = [_name(name, frame, top)]
    for one in days.days:
        run = one.runs[number]
        if run.window is None:
            continue
        begin, end = (scale.x(when) for when in run.window)
        wide = max(end - begin, 3)
        parts.append(
            f'<rect class="bar k-{html.escape(run.at.kind)}" x="{begin:.1f}" y="{bar_top:.1f}" '
            f'width="{wide:.1f}" height="{bar:.1f}" rx="2"/>'
        )
        lines = [letters.get(run.at.kind, ""), f"{run.score:.0f}"]
        if not frame.names_above:
            lines = [" ".join(lines) if wide > NARROW else lines[1]]
        if wide < NO_ROOM:
            lines = []
        middle = bar_top + bar / 2 + 4.5 - 6.5 * (len(lines) - 1)
        parts += [
            f'<text class="in-bar k-{html.escape(run.at.kind)}" x="{begin + wide / 2:.1f}" '
            f'y="{middle + 13 * place:.1f}" text-anchor="middle">{words}</text>'
            for place, words in enumerate(lines)
        ]
    return "".join(parts)


def _name(name: str, frame: Frame, top: float) -> str:
    """Return a run's name, left of its row or above it, cut to the available width."""
    longest = 40 if frame.names_above else 26
    words = name if len(name) <= longest else name[: longest - 1] + "…"
    x, y, anchor = (
        (2.0, top + 12, "start")
        if frame.names_above
        else (frame.beside - 8, top + frame.row / 2 + 4, "end")
    )
    title = html.escape(name)
    return (
        f'<text class="run" x="{x:g}" y="{y:.1f}" text-anchor="{anchor}">'
        f"<title>{title}</title>{html.escape(words)}</text>"
    )


def _points(pairs: Sequence[tuple[float, float]]) -> str:
    """Return points in SVG syntax."""
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in pairs)
