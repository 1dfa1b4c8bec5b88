"""The lines of the budget of a pitch diameter from a reading across two balls."""

from __future__ import annotations

import math

from server.metrology.doubt import Line
from server.metrology.doubt_lines import Warmth, Wires, direct_lines
from server.metrology.instruments import Instrument
from server.metrology.scatter import Scatter
from server.wording import say


def over_balls_lines(
    instrument: Instrument, scatter: Scatter, balls: Wires, warmth: Warmth | None = None
) -> list[Line]:
    """The budget of an internal pitch diameter.

    balls  ball diameter in the place of the wire's

    E = M - d - (P/2) / tan a + d / sin a;  dE/dM 1, dE/dd 1/sin a - 1, dE/da
    (P/2 - d cos a) / sin^2 a, which is 0 with the best ball.  The lean of a pair half a pitch
    apart adds less than a hundredth to them.
    Source: derived from the formula in `balls`.
    """
    a = balls.half_angle_rad
    ball_slope = 1 / math.sin(a) - 1
    angle_slope = (balls.pitch_mm / 2 - balls.diameter_mm * math.cos(a)) / math.sin(a) ** 2
    lines = [
        Line(
            say("ball diameter"),
            balls.half_width_mm,
            sensitivity=ball_slope,
            is_common=True,
            note=say("both balls alike; cancels in what came off"),
        ),
        Line(
            say("half angle"),
            balls.flank_angle_half_width_rad,
            sensitivity=angle_slope,
            is_common=True,
            unit="rad",
            note=say("nothing with the best ball; tool ground to a centre gauge, common practice"),
        ),
        Line(
            say("measuring force"),
            balls.force_half_width_mm,
            is_common=True,
            note=say("point contact of ball and flank under a light hand, common practice"),
        ),
    ]
    used = [line for line in lines if line.standard_uncertainty_mm > 0]
    return direct_lines(instrument, scatter, warmth) + used
