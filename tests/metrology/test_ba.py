"""British Association threads against the published basic dimensions, and bad input."""

from __future__ import annotations

import math

import pytest

from server.metrology.model import DesignationError, Kind, ThreadTarget
from server.metrology.threads import ba
from tests.reference_rows import rows


def target(text: str, kind: Kind | None = None) -> ThreadTarget:
    found = ba.read(text, kind)
    assert found is not None
    return found


def test_every_published_basic_size_agrees() -> None:
    checked = 0
    for row in rows("ba"):
        nut = target(f"{row['number']} BA nut")
        assert f"{nut.pitch_mm:.4f}" == row["pitch_mm"]
        assert nut.major_diameter.low_mm == float(row["major_mm"])
        assert nut.pitch_diameter.low_mm == float(row["effective_mm"])
        assert nut.minor_diameter.low_mm == float(row["minor_mm"])
        assert nut.nominal_mm - nut.basic_pitch_diameter_mm == pytest.approx(
            float(row["depth_mm"]), abs=1e-9
        )
        checked += 5
    assert checked == 85


@pytest.mark.parametrize(
    ("text", "kind", "major", "effective", "minor"),
    [  # BS 93 formulas on 2 BA: p 0.81, 4.70, 4.215, 3.73
        ("2 BA close", None, (4.578, 4.7), (4.13, 4.215), (3.56, 3.73)),
        ("2 BA normal", None, (4.513, 4.675), (4.084, 4.19), (3.493, 3.705)),
        ("12 BA normal", None, (1.23, 1.3), (1.077, 1.13), (0.854, 0.96)),
    ],
)
def test_bolts_follow_the_printed_formulas(
    text: str,
    kind: Kind | None,
    major: tuple[float, float],
    effective: tuple[float, float],
    minor: tuple[float, float],
) -> None:
    found = target(text, kind)
    assert found.major_diameter.both() == pytest.approx(major, abs=6e-4)
    assert found.pitch_diameter.both() == pytest.approx(effective, abs=6e-4)
    assert found.minor_diameter.both() == pytest.approx(minor, abs=6e-4)


def test_nuts_have_one_class() -> None:
    found = target("2 BA", Kind.INTERNAL_THREAD)
    assert found.pitch_diameter.both() == pytest.approx((4.215, 4.342), abs=6e-4)
    assert found.minor_diameter.both() == pytest.approx((3.73, 4.034), abs=6e-4)
    assert found.major_diameter.high_mm is None


@pytest.mark.parametrize(
    ("text", "name", "kind"),
    [
        ("2 BA", "2 BA normal", Kind.EXTERNAL_THREAD),
        ("2BA", "2 BA normal", Kind.EXTERNAL_THREAD),
        ("#4 B.A. close", "4 BA close", Kind.EXTERNAL_THREAD),
        ("BA 0 nut", "0 BA nut", Kind.INTERNAL_THREAD),
        ("6 ba normal LH", "6 BA normal LH", Kind.EXTERNAL_THREAD),
    ],
)
def test_what_a_drawing_says_is_read(text: str, name: str, kind: Kind) -> None:
    found = target(text)
    assert (found.designation, found.kind) == (name, kind)
    assert found.half_angle_rad == pytest.approx(math.radians(23.75))
    assert target(name).pitch_diameter == found.pitch_diameter


@pytest.mark.parametrize("text", ["1/2 BSW", "M10", "25 h6", "BAR", "BA", "", "2 BAR"])
def test_other_families_are_left_alone(text: str) -> None:
    assert ba.read(text) is None


@pytest.mark.parametrize(
    ("text", "kind", "code", "part"),
    [
        ("17 BA", None, "not_in_standard", "17"),
        ("2 BA FOO", None, "not_in_standard", "FOO"),
        ("2 BA 2 START", None, "designation_unreadable", "2 starts"),
        ("2 BA", Kind.BORE, "designation_unreadable", "2 BA"),
    ],
)
def test_an_error_names_the_part(text: str, kind: Kind | None, code: str, part: str) -> None:
    with pytest.raises(DesignationError) as caught:
        ba.read(text, kind)
    assert (caught.value.code, caught.value.part) == (code, part)
    assert caught.value.accepted
    for offer in caught.value.nearest:
        assert ba.read(offer) is not None


def test_limits_stand_in_order_over_the_series() -> None:
    for number in range(17):
        nut = target(f"{number} BA nut")
        for fit in ba.CLASSES:
            bolt = target(f"{number} BA {fit}")
            for limits in (bolt.major_diameter, bolt.pitch_diameter, bolt.minor_diameter):
                low, high = limits.both()
                assert low < high
            assert bolt.pitch_diameter.both()[1] == pytest.approx(
                bolt.basic_pitch_diameter_mm - bolt.allowance_mm, abs=1e-9
            )
            assert bolt.pitch_diameter.both()[1] <= nut.pitch_diameter.both()[0]
