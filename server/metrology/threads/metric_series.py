"""Standard diameters and pitches of ISO metric threads, and what lies near a pair that is not."""

from __future__ import annotations

import math
from decimal import Decimal
from functools import cache

from server.metrology.tables import rows


@cache
def _pitches() -> dict[Decimal, dict[Decimal, str]]:
    found: dict[Decimal, dict[Decimal, str]] = {}
    for row in rows("iso965_series"):
        pitches = found.setdefault(Decimal(row["nominal_mm"]), {})
        pitches[Decimal(row["pitch_mm"])] = row["series"]
    return found


def combinations() -> dict[Decimal, dict[Decimal, str]]:
    """Series, coarse or fine, by basic major diameter and pitch [mm].  Source: ISO 261."""
    return _pitches()


def coarse_pitch(diameter: Decimal) -> Decimal | None:
    """Coarse pitch of a diameter; None where ISO 261 gives it none.  [mm]"""
    for pitch, series in _pitches().get(diameter, {}).items():
        if series == "coarse":
            return pitch
    return None


def is_standard(diameter: Decimal, pitch: Decimal) -> bool:
    """True where ISO 261 has the diameter [mm] with this pitch [mm]."""
    return pitch in _pitches().get(diameter, {})


def written(diameter: Decimal, pitch: Decimal) -> str:
    """Diameter and pitch [mm] as a drawing writes them.

    >>> written(Decimal("10.0"), Decimal("1.50"))
    'M10x1.5'
    """
    return f"M{diameter.normalize():f}x{pitch.normalize():f}"


def nearest(diameter: Decimal, pitch: Decimal | None, count: int = 3) -> tuple[str, ...]:
    """Standard threads near a diameter and pitch [mm], best first, without a class.

    >>> nearest(Decimal(10), Decimal("1.6"), 2)
    ('M10x1.5', 'M10x1.25')
    """
    size = min(max(diameter, Decimal(1)), Decimal(300))

    def distance(pair: tuple[Decimal, Decimal]) -> tuple[float, float]:
        by_size = abs(math.log(pair[0] / size))
        by_pitch = 0.0 if not pitch else abs(math.log(pair[1] / pitch))
        return 3 * by_size + by_pitch, -float(pair[1])

    pairs = [
        (given, step)
        for given, pitches in _pitches().items()
        for step, series in pitches.items()
        if pitch or series == "coarse" or given == diameter
    ]
    return tuple(written(*pair) for pair in sorted(pairs, key=distance)[:count])
