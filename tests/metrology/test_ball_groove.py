"""Balls in a groove of an internal thread that is still too narrow for them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology import ball_groove, balls, designation
from server.metrology.groove import ContactCase
from server.metrology.infeed import ToolTip, total_infeed_mm
from server.metrology.model import OutOfRange, Rule, ThreadTarget

TIP = ToolTip(flat_mm=0.05)


def thread() -> ThreadTarget:
    target = designation.read("M20x1.5-6H")
    assert isinstance(target, ThreadTarget)
    return target


def brute_centre_distance(depth_mm: float, bore_mm: float, ball_mm: float, a: float) -> float:
    """Centres of two balls pressed outward, by pushing a circle against sampled groove walls."""
    q, half = ball_mm / 2, TIP.flat_mm / 2 + depth_mm * math.tan(a)
    walls = [(half, bore_mm / 2)]
    steps = 4000
    for i in range(steps + 1):
        down = depth_mm * i / steps
        walls.append((half - down * math.tan(a), bore_mm / 2 + down))
    # The centre may go out until the circle first meets a point (x, r): r - sqrt(q^2 - x^2).
    furthest = min(r - math.sqrt(q * q - x * x) for x, r in walls if x < q)
    return 2 * min(furthest, bore_mm / 2 + depth_mm - q)


@settings(max_examples=60)
@given(share=st.floats(0.05, 0.98))
def test_the_size_is_that_of_the_groove_as_it_is(share: float) -> None:
    target = thread()
    a, ball_mm, bore_mm = target.half_angle_rad, 0.9, target.minor_diameter.middle_mm
    full_mm = total_infeed_mm(
        bore_mm, target.pitch_diameter.middle_mm, target.pitch_mm, a, TIP, internal=True
    )
    depth_mm = share * full_mm
    # The tip's flat is P/2 wide less what the flanks close in: where the groove would be cut to.
    below = (target.pitch_mm / 2 - TIP.flat_mm) / (2 * math.tan(a))
    size_mm = bore_mm + 2 * (depth_mm - below)
    centres = brute_centre_distance(depth_mm, bore_mm, ball_mm, a)
    reading_mm = math.hypot(centres, target.pitch_mm / 2) + ball_mm

    found = ball_groove.contact_case(reading_mm, bore_mm, target, ball_mm, Rule.HANDBOOK)

    opening = TIP.flat_mm + 2 * depth_mm * math.tan(a)
    expected = ContactCase.FLANK if opening >= ball_mm * math.cos(a) else ContactCase.CORNER
    assert found.case is expected
    assert found.pitch_diameter_mm == pytest.approx(size_mm, abs=2e-4)


def test_a_narrow_groove_taken_for_a_finished_one_would_look_nearer_to_size() -> None:
    target = thread()
    ball_mm, bore_mm = 0.9, target.minor_diameter.middle_mm
    seats = ball_groove.seating_reading_mm(bore_mm, target, ball_mm, Rule.HANDBOOK, TIP)
    assert seats is not None
    early = seats - 0.1

    found = ball_groove.contact_case(early, bore_mm, target, ball_mm, Rule.HANDBOOK)
    lie = balls.pitch_diameter_mm(early, target, ball_mm, Rule.HANDBOOK)

    assert found.case is ContactCase.CORNER
    assert found.pitch_diameter_mm is not None
    assert found.pitch_diameter_mm < lie
    assert found.infeed_to_seat_mm is not None
    assert found.infeed_to_seat_mm > 0


def test_the_case_changes_at_the_seating_reading_without_a_jump() -> None:
    target = thread()
    ball_mm, bore_mm = 0.9, target.minor_diameter.middle_mm
    seats = ball_groove.seating_reading_mm(bore_mm, target, ball_mm, Rule.HANDBOOK, TIP)
    assert seats is not None

    below, above = (
        ball_groove.contact_case(seats + side, bore_mm, target, ball_mm, Rule.HANDBOOK)
        for side in (-1e-6, 1e-6)
    )

    assert (below.case, above.case) == (ContactCase.CORNER, ContactCase.FLANK)
    assert below.pitch_diameter_mm == pytest.approx(above.pitch_diameter_mm, abs=1e-5)


def test_a_reading_below_the_bore_is_refused() -> None:
    target = thread()
    with pytest.raises(OutOfRange):
        ball_groove.contact_case(
            target.minor_diameter.middle_mm - 0.1,
            target.minor_diameter.middle_mm,
            target,
            0.9,
            Rule.HANDBOOK,
        )
