"""Ladder and history plot: sizes in, coordinates out; the templates draw them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from server.metrology.units import MM_PER_INCH, shown


@dataclass(frozen=True, kw_only=True)
class Rung:
    """One reading on the ladder.  [mm]"""

    size_mm: float
    doubt_mm: float
    number: str  # "4"
    verdict: str = "none"  # verdict code
    is_last: bool = False
    is_struck: bool = False


@dataclass(frozen=True, kw_only=True)
class Ladder:
    """What the ladder drawing at the lathe shows.  [mm]; labels ready to show.

    is_internal   cutting makes the size grow: metal still on is drawn on the left all the same
    """

    low_mm: float
    high_mm: float
    aim_mm: float
    low: str
    high: str
    aim: str
    unit: str
    is_internal: bool = False
    rungs: tuple[Rung, ...] = ()  # oldest first; the drawing keeps the last few that fit
    landing_mm: tuple[float, float, float] | None = None  # expected, low, high
    words: str = ""  # the drawing in one sentence, for a screen reader


@dataclass(frozen=True, kw_only=True)
class Point:
    """One entry on the history plot.  [mm]"""

    number: str
    size_mm: float
    doubt_mm: float
    predicted_mm: float | None = None
    warm_state: str = ""  # settled, drifting, wait
    is_struck: bool = False
    is_final: bool = False


@dataclass(frozen=True, kw_only=True)
class Plot:
    """Size against pass for one feature.  [mm]"""

    low_mm: float
    high_mm: float
    aim_mm: float
    unit: str
    places: int  # decimals on the size axis
    points: tuple[Point, ...]  # oldest first
    is_internal: bool = False
    words: str = ""  # the plot in one sentence


# Both scales are linear inside the limits and close up far from them (inverse hyperbolic sine of
# the distance from the aim in half tolerances): the band stays readable beside the first cuts.

_CLEAR = 3.0  # half tolerances drawn beyond the aim on the side where metal is gone


@dataclass(frozen=True, kw_only=True)
class _Scale:
    """Size to position; metal still on has the small positions.  [mm -> drawing units]"""

    aim_mm: float
    half_mm: float
    sign: float  # +1 where metal on means a larger size
    start: float
    per_unit: float
    reach: float

    def at(self, size_mm: float) -> float:
        stock = self.sign * (size_mm - self.aim_mm) / self.half_mm
        return round(self.start + (self.reach - math.asinh(stock)) * self.per_unit, 1)


def _scale(
    low_mm: float,
    high_mm: float,
    aim_mm: float,
    sizes_mm: Sequence[float],
    is_internal: bool,
    start: float,
    length: float,
) -> _Scale:
    half_mm = max((high_mm - low_mm) / 2, 1e-6)
    sign = -1.0 if is_internal else 1.0
    stocks = [sign * (size - aim_mm) / half_mm for size in sizes_mm]
    reach = math.asinh(max([6.0, *(1.3 * s for s in stocks)]))
    clear = math.asinh(max([_CLEAR, *(-1.3 * s for s in stocks)]))
    return _Scale(
        aim_mm=aim_mm,
        half_mm=half_mm,
        sign=sign,
        start=start,
        per_unit=length / (reach + clear),
        reach=reach,
    )


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A reading on the ladder, in drawing units."""

    at: float
    near: float  # doubt whisker ends
    far: float
    is_wide: bool  # the doubt is wide enough to be drawn
    number: str  # "" where a newer number would be covered
    verdict: str
    is_last: bool
    is_struck: bool


@dataclass(frozen=True, kw_only=True)
class LadderDrawing:
    width: int
    height: int
    metal: float  # limit on the side where metal is on
    gone: float  # limit on the side where metal is gone
    band: float  # between them
    aim: float
    metal_label: str
    gone_label: str
    aim_label: str
    marks: tuple[Mark, ...]
    landing: tuple[float, float, float] | None  # expected, metal-on end, metal-gone end
    landing_width: float
    words: str


def draw_ladder(ladder: Ladder, width: int = 700, readings: int = 6) -> LadderDrawing:
    """Coordinates of the ladder: metal still on at the left, cutting goes to the right."""
    rungs = ladder.rungs[-readings:]
    sizes = [r.size_mm for r in rungs] + list(ladder.landing_mm or ())
    scale = _scale(
        ladder.low_mm, ladder.high_mm, ladder.aim_mm, sizes, ladder.is_internal, 12, width - 24
    )
    ends = (ladder.low_mm, ladder.low), (ladder.high_mm, ladder.high)
    (gone_mm, gone_label), (metal_mm, metal_label) = ends[::-1] if ladder.is_internal else ends
    metal, gone = scale.at(metal_mm), scale.at(gone_mm)
    landing = None
    if ladder.landing_mm is not None:
        expected, one, other = (scale.at(size) for size in ladder.landing_mm)
        landing = expected, min(one, other), max(one, other)
    return LadderDrawing(
        width=width,
        height=106,
        metal=metal,
        gone=gone,
        band=round(gone - metal, 1),
        aim=scale.at(ladder.aim_mm),
        metal_label=metal_label,
        gone_label=gone_label,
        aim_label=ladder.aim,
        marks=_marks(rungs, scale),
        landing=landing,
        landing_width=round(landing[2] - landing[1], 1) if landing else 0.0,
        words=ladder.words,
    )


def _marks(rungs: Sequence[Rung], scale: _Scale) -> tuple[Mark, ...]:
    drawn: list[Mark] = []
    covered: list[float] = []
    for rung in reversed(rungs):
        at = scale.at(rung.size_mm)
        is_clear = all(abs(at - other) >= 26 for other in covered)
        if is_clear:
            covered.append(at)
        ends = scale.at(rung.size_mm - rung.doubt_mm), scale.at(rung.size_mm + rung.doubt_mm)
        drawn.append(
            Mark(
                at=at,
                near=min(ends),
                far=max(ends),
                is_wide=max(ends) - min(ends) >= 9,
                number=rung.number if is_clear else "",
                verdict=rung.verdict,
                is_last=rung.is_last,
                is_struck=rung.is_struck,
            )
        )
    return tuple(reversed(drawn))


@dataclass(frozen=True, kw_only=True)
class PlotMark:
    """A reading on the history plot, in drawing units."""

    x: float
    y: float
    top: float
    bottom: float
    number: str
    predicted: float | None
    warm_state: str
    is_struck: bool
    is_final: bool


@dataclass(frozen=True, kw_only=True)
class GridLine:
    y: float
    label: str


@dataclass(frozen=True, kw_only=True)
class Frame:
    """The tolerance band with its grid, in px of the drawing."""

    width: int
    height: int
    left: int
    right: int
    foot: int
    band_top: float
    band_height: float
    band_width: int
    aim: float
    grid: tuple[GridLine, ...]
    words: str


@dataclass(frozen=True, kw_only=True)
class PlotDrawing(Frame):
    path: str  # through the readings that count
    marks: tuple[PlotMark, ...]


_PLOT_HEIGHT, _LEFT, _TOP, _FOOT = 300, 64, 14, 252


def draw_plot(plot: Plot, width: int = 720) -> PlotDrawing:
    """Coordinates of the history plot: one column for each reading, metal still on at the top."""
    right = width - 14
    sizes = [p.size_mm for p in plot.points]
    sizes += [p.predicted_mm for p in plot.points if p.predicted_mm is not None]
    scale = _scale(
        plot.low_mm,
        plot.high_mm,
        plot.aim_mm,
        sizes,
        plot.is_internal,
        _TOP,
        _FOOT - _TOP,
    )
    step = (right - _LEFT) / (len(plot.points) or 1)
    marks = tuple(_plot_mark(p, _LEFT + (i + 0.5) * step, scale) for i, p in enumerate(plot.points))
    limits = sorted((scale.at(plot.low_mm), scale.at(plot.high_mm)))
    return PlotDrawing(
        width=width,
        height=_PLOT_HEIGHT,
        left=_LEFT,
        right=right,
        foot=_FOOT,
        band_top=limits[0],
        band_height=round(limits[1] - limits[0], 1),
        band_width=right - _LEFT,
        aim=scale.at(plot.aim_mm),
        path=" ".join(f"{m.x},{m.y}" for m in marks if not m.is_struck),
        marks=marks,
        grid=_grid(plot, scale),
        words=plot.words,
    )


def _plot_mark(point: Point, x: float, scale: _Scale) -> PlotMark:
    ends = scale.at(point.size_mm - point.doubt_mm), scale.at(point.size_mm + point.doubt_mm)
    return PlotMark(
        x=round(x, 1),
        y=scale.at(point.size_mm),
        top=min(ends),
        bottom=max(ends),
        number=point.number,
        predicted=None if point.predicted_mm is None else scale.at(point.predicted_mm),
        warm_state=point.warm_state,
        is_struck=point.is_struck,
        is_final=point.is_final,
    )


def _grid(plot: Plot, scale: _Scale) -> tuple[GridLine, ...]:
    """The limits, the aim, and round distances from the aim up to the first reading."""
    lines: list[GridLine] = []
    step_mm = MM_PER_INCH / 1000 if plot.unit == "in" else 0.01
    rounds = [plot.aim_mm + scale.sign * step_mm * n for n in _ROUND_STEPS]
    for size_mm in [plot.low_mm, plot.high_mm, plot.aim_mm, *rounds]:
        y = scale.at(size_mm)
        if _TOP <= y <= _FOOT and all(abs(y - line.y) >= 15 for line in lines):
            lines.append(GridLine(y=y, label=shown(size_mm, plot.unit, plot.places)))
    return tuple(lines)


_ROUND_STEPS = (2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000)
