"""How well readings repeat, and what few of them may claim."""

from __future__ import annotations

import math

import pytest

from server.metrology.doubt import Line, Shape, budget
from server.metrology.doubt_lines import direct_lines
from server.metrology.instruments import Instrument, InstrumentKind
from server.metrology.scatter import NO_REPEATS, Repeats, scatter

MICROMETER = Instrument(InstrumentKind.MICROMETER, 0.001, 0.004)


def test_readings_that_agree_to_the_last_digit_still_scatter() -> None:
    found = scatter([20.0] * 6, 0.001)
    assert found.s_mm == 0.0005
    assert found.is_prior


def test_readings_that_scatter_speak_for_themselves() -> None:
    found = scatter([20.000, 20.004, 20.008], 0.001)
    assert found.s_mm == pytest.approx(0.004)
    assert found.dof == 2
    assert not found.is_prior
    with pytest.raises(ValueError, match="no reading"):
        scatter([], 0.001)


@pytest.mark.parametrize(
    ("sizes", "factor"), [([0, 4, 8], 2.3), ([0, 2, 4, 6], 1.7), ([0, 2, 4, 6, 8], 1.4)]
)
def test_few_repeats_take_their_own_students_t(sizes: list[int], factor: float) -> None:
    """ISO 14253-2, from memory: safety factors 2.3, 1.7 and 1.4 for three, four and five repeats.

    U of the scatter alone is 2 x factor x s / sqrt n.
    """
    found = scatter([20 + size / 1000 for size in sizes], 0.001)
    whole = budget(direct_lines(MICROMETER, found))
    assert found.stands_alone
    alone_mm = 2 * factor * found.s_mm / math.sqrt(len(sizes))
    rest = [line for line in whole.lines if line.name != "scatter of readings"]
    assert whole.doubt_mm == pytest.approx(math.hypot(alone_mm, budget(rest).doubt_mm), rel=0.02)
    assert whole.coverage_factor * whole.u_mm == pytest.approx(whole.doubt_mm)
    assert "another reading" in whole.coverage_reason
    assert whole.with_repeats(len(sizes) + 1).doubt_mm < whole.doubt_mm


@pytest.mark.parametrize(
    ("apart_steps", "pooled_steps"), [(0, 0.5**0.5), (1, 0.75**0.5), (3, 2.75**0.5), (8, 16.5**0.5)]
)
def test_two_readings_alone_are_pooled_with_a_step(apart_steps: int, pooled_steps: float) -> None:
    """By hand: half the square of their distance and the square of a step, over two."""
    pair = scatter([20.0, 20 + apart_steps / 1000], 0.001)
    assert (pair.s_mm, pair.dof) == (pytest.approx(pooled_steps / 1000), 2.0)
    assert pair.is_pair
    assert pair.stands_alone


def test_no_reading_changes_the_doubt_as_off_a_cliff() -> None:
    """A second reading three steps off does not multiply what one said, nor a third divide it."""
    sizes = [20.000, 20.003, 20.001]
    doubts = [
        budget(direct_lines(MICROMETER, scatter(sizes[:count], 0.001))).doubt_mm
        for count in (1, 2, 3)
    ]
    assert doubts[0] < doubts[2] < doubts[1] < 1.5 * doubts[0]
    agreeing = budget(direct_lines(MICROMETER, scatter([20.0, 20.001], 0.001)))
    assert doubts[0] < agreeing.doubt_mm < doubts[1]


@pytest.mark.parametrize("apart_steps", range(7))
def test_the_doubt_of_two_grows_evenly_with_their_distance(apart_steps: int) -> None:
    one, two = (
        budget(direct_lines(MICROMETER, scatter([20.0, 20.0 + steps / 1000], 0.001))).doubt_mm
        for steps in (apart_steps, apart_steps + 1)
    )
    assert 0 < two - one < 0.002


def test_what_more_readings_would_bring_is_what_they_bring() -> None:
    """with_repeats is what "would settle it" rests on; readings that scatter as is guessed."""
    apart_mm = 0.0005 * 2**0.5
    budgets = {
        count: budget(
            direct_lines(MICROMETER, scatter([20.0, 20.0 + apart_mm] * count, 0.001)), 2 * count
        )
        for count in (1, 2, 3)
    }
    single = budget(direct_lines(MICROMETER, scatter([20.0], 0.001)))
    assert single.with_repeats(1).doubt_mm == pytest.approx(single.doubt_mm)
    for start in (single, *budgets.values()):
        for count, found in budgets.items():
            if 2 * count >= start.count:
                expected = start.with_repeats(2 * count)
                assert expected.doubt_mm == pytest.approx(found.doubt_mm, rel=0.01)
                assert expected.count == 2 * count


@pytest.mark.parametrize("apart_steps", [0, 1, 3, 8])
def test_readings_more_after_two_are_expected_to_bring_the_doubt_down(apart_steps: int) -> None:
    pair = budget(direct_lines(MICROMETER, scatter([20.0, 20 + apart_steps / 1000], 0.001)), 2)
    doubts = [pair.with_repeats(count).doubt_mm for count in (2, 3, 4, 6, 10)]
    assert doubts[0] == pytest.approx(pair.doubt_mm)
    assert doubts == sorted(doubts, reverse=True)
    assert doubts[-1] < doubts[0]


def test_repeats_at_earlier_states_are_pooled() -> None:
    earlier = (
        NO_REPEATS.with_group([10.000, 10.004]).with_group([11.000]).with_group([12.0, 12.008])
    )
    assert (earlier.squares_mm2, earlier.dof) == (pytest.approx(40e-6), 2)
    single = scatter([9.0], 0.001, earlier)
    assert (single.s_mm, single.dof) == (pytest.approx(20e-6**0.5), 2)
    pair = scatter([9.0, 9.0], 0.001, earlier)
    assert (pair.s_mm, pair.dof) == (pytest.approx((40e-6 / 3) ** 0.5), 3)
    calm = scatter([9.0], 0.01, earlier)
    assert calm.is_prior


def test_a_pair_that_agreed_says_nothing_of_the_next_reading() -> None:
    earlier = NO_REPEATS.with_group([10.0, 10.001])
    assert scatter([9.0], 0.001, earlier).is_prior
    assert not scatter([9.0, 9.001], 0.001, earlier).is_pair  # two states repeated: no chance


def test_one_that_did_not_agree_does_pooled_with_a_step() -> None:
    later = scatter([9.0], 0.001, NO_REPEATS.with_group([10.0, 10.003]))
    assert (later.s_mm, later.dof) == (pytest.approx(0.001 * 2.75**0.5), 2.0)
    note = next(line.note for line in direct_lines(MICROMETER, later) if line.scatter is later)
    assert note == "two earlier readings: pooled with a step as if it had been seen"


def test_the_record_of_an_instrument_speaks_before_the_first_repeat() -> None:
    record = Repeats(12 * 0.003**2, 12)
    single = scatter([20.0], 0.001, record=record)
    assert (single.s_mm, single.dof, single.from_record) == (pytest.approx(0.003), 12, 12)
    pair = scatter([20.0, 20.001], 0.001, record=record)
    assert not pair.is_pair
    assert pair.dof == 13
    assert scatter([20.0], 0.001, record=Repeats(0.003**2, 3)).is_prior  # too few to say
    calm = Repeats(12 * 0.0002**2, 12)
    assert scatter([20.0], 0.001, record=calm).s_mm == 0.0005  # never below the guess


def test_a_job_that_scatters_twice_as_much_leaves_the_record_out() -> None:
    record = Repeats(12 * 0.001**2, 12)
    strange = scatter([20.000, 20.006], 0.001, record=record)
    assert (strange.seen.dof, strange.from_record, strange.is_pair) == (1, 0, True)
    usual = scatter([20.000, 20.002], 0.001, record=record)
    assert (usual.dof, usual.from_record) == (13, 12)


def test_a_hand_repeats_no_better_than_its_kind_of_instrument() -> None:
    found = scatter([20.0], 0.0001, least_mm=MICROMETER.hand_scatter_mm)
    assert found.s_mm == 0.001
    note = next(
        line.note for line in direct_lines(MICROMETER, found) if line.name == "scatter of readings"
    )
    assert "1 µm" in note
    assert "common practice" in note
    pair = scatter([20.0, 20.0001], 0.0001, least_mm=MICROMETER.hand_scatter_mm)
    assert pair.s_mm == pytest.approx(0.001 * ((1 + 0.005) / 2) ** 0.5)
    words = next(line.note for line in direct_lines(MICROMETER, pair) if line.scatter is pair)
    assert words.startswith("two readings: pooled with 1 µm, what hands repeat to")
    assert words.endswith("as if it had been seen")


@pytest.mark.parametrize(("dof", "printed"), [(1, 6.314), (2, 2.920), (4, 2.132), (10, 1.812)])
def test_the_one_sided_guard_widens_for_few_readings(dof: int, printed: float) -> None:
    """Student's t for 95 % on one side, handbook tables: 6.314, 2.920, 2.132, 1.812."""
    few = budget([Line("scatter", 0.002, Shape.NORMAL, dof=dof)])
    assert 1.645 * few.u_guard_mm == pytest.approx(printed * 0.002, rel=1e-3)
    known = budget([Line("scatter", 0.002, Shape.NORMAL)])
    assert known.u_guard_mm == known.u_mm
    rest = Line("instrument", 0.003, Shape.NORMAL)
    apart = budget([Line("scatter", 0.002, Shape.NORMAL, dof=dof, is_expanded_alone=True), rest])
    assert 1.645 * apart.u_guard_mm == pytest.approx(
        math.hypot(printed * 0.002, 1.645 * 0.003), rel=1e-3
    )
