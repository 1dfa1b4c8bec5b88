"""The run of a lot: final sizes in, coordinates out.  The scale is linear, larger sizes above."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.metrology.units import shown
from server.pages.drawings import Frame, GridLine

_HEIGHT, _LEFT, _TOP, _FOOT = 250, 74, 14, 206
_MOST_NUMBERS = 24  # piece numbers written under the columns


@dataclass(frozen=True, kw_only=True)
class RunPoint:
    """One piece.  [mm]"""

    number: str
    size_mm: float
    doubt_mm: float
    is_open: bool = False
    is_lost: bool = False  # scrapped


@dataclass(frozen=True, kw_only=True)
class Run:
    """What the drawing shows of one feature.  [mm]

    line    sizes on the drift line at the first and the last piece it goes through, with their
            columns counted from 0; None where no drift is sure
    next_mm where the next piece should come to
    """

    low_mm: float
    high_mm: float
    aim_mm: float
    unit: str
    places: int
    points: tuple[RunPoint, ...]
    line: tuple[int, float, int, float] | None = None
    next_mm: float | None = None
    words: str = ""


@dataclass(frozen=True, kw_only=True)
class RunMark:
    x: float
    y: float
    top: float
    bottom: float
    number: str
    is_open: bool
    is_lost: bool


@dataclass(frozen=True, kw_only=True)
class RunDrawing(Frame):
    marks: tuple[RunMark, ...]
    line: tuple[float, float, float, float] | None
    next_x: float
    next_y: float | None


def draw_run(run: Run, width: int = 720) -> RunDrawing:
    """Coordinates: a column for each piece and one more for the next."""
    right = width - 14
    per_mm, top_mm = _scale(run)

    def at(size_mm: float) -> float:
        return min(max(round(_TOP + (top_mm - size_mm) * per_mm, 1), _TOP), _FOOT)

    step = (right - _LEFT) / (len(run.points) + 1)

    def column(index: float) -> float:
        return round(_LEFT + (index + 0.5) * step, 1)

    skip = -(-len(run.points) // _MOST_NUMBERS) or 1
    marks = tuple(
        RunMark(
            x=column(index),
            y=at(point.size_mm),
            top=at(point.size_mm + point.doubt_mm),
            bottom=at(point.size_mm - point.doubt_mm),
            number=point.number if index % skip == 0 else "",
            is_open=point.is_open,
            is_lost=point.is_lost,
        )
        for index, point in enumerate(run.points)
    )
    line = None
    if run.line is not None:
        first, start_mm, last, end_mm = run.line
        line = column(first), at(start_mm), column(last), at(end_mm)
    return RunDrawing(
        width=width,
        height=_HEIGHT,
        left=_LEFT,
        right=right,
        foot=_FOOT,
        band_top=at(run.high_mm),
        band_height=round(at(run.low_mm) - at(run.high_mm), 1),
        band_width=right - _LEFT,
        aim=at(run.aim_mm),
        marks=marks,
        grid=_grid(run, at(run.high_mm), at(run.aim_mm), at(run.low_mm)),
        line=line,
        next_x=column(len(run.points)),
        next_y=None if run.next_mm is None else at(run.next_mm),
        words=run.words,
    )


def _scale(run: Run) -> tuple[float, float]:
    """(drawing units for a mm, size at the top).  A piece in work far off stands on the edge."""
    sizes: Sequence[float] = [
        end
        for p in run.points
        if not p.is_open
        for end in (p.size_mm - p.doubt_mm, p.size_mm + p.doubt_mm)
    ]
    nexts = [] if run.next_mm is None else [run.next_mm]
    low_mm = min([run.low_mm, *sizes, *nexts])
    high_mm = max([run.high_mm, *sizes, *nexts])
    room_mm = max((high_mm - low_mm) * 0.08, 1e-5)
    return (_FOOT - _TOP) / (high_mm - low_mm + 2 * room_mm), high_mm + room_mm


def _grid(run: Run, *at: float) -> tuple[GridLine, ...]:
    lines: list[GridLine] = []
    for y, size_mm in zip(at, (run.high_mm, run.aim_mm, run.low_mm), strict=True):
        if all(abs(y - line.y) >= 15 for line in lines):
            lines.append(GridLine(y=y, label=shown(size_mm, run.unit, run.places)))
    return tuple(lines)
