"""What the passes taught, for the eye and for the next piece."""

from __future__ import annotations

import pytest

from server.advice.learned import (
    learned,
    prior_as_numbers,
    prior_from_numbers,
    sharpened,
    starting_prior,
)
from server.advice.model import Cut, CutKind, Entry, Job, Reading

JOB = Job(CutKind.BORE, 0.0125, -0.0125, 0.025, reading_scatter_mm=0.0005)


def in_mm(length_mm: float) -> str:
    return f"{length_mm:.3f} mm"


def bored(phi: float) -> list[Entry]:
    stock = tool = 0.6
    history: list[Entry] = [Reading(stock, 0.0005)]
    for step in (0.2, 0.15, 0.1, 0.05):
        tool -= step
        stock = tool + phi * (stock - tool)
        history += [Cut(step), Reading(stock, 0.0005)]
    return history


def test_the_panel_shows_dialled_removed_and_fitted() -> None:
    found = learned(bored(0.4), JOB, in_mm)
    assert found is not None
    assert [p.dialled_mm for p in found.passes] == [0.2, 0.15, 0.1, 0.05]
    assert sum(p.removed_mm for p in found.passes) == pytest.approx(
        0.6 - bored(0.4)[-1].stock_mm  # type: ignore[union-attr]
    )
    for p in found.passes:
        assert p.fitted_mm == pytest.approx(p.removed_mm, abs=0.012)
    assert found.left_behind == pytest.approx(0.4, abs=0.06)
    assert "still stands" in found.sentence


def test_there_is_no_panel_before_a_cut_was_measured() -> None:
    assert learned([], JOB, in_mm) is None
    assert learned([Reading(0.5, 0.001), Cut(0.2)], JOB, in_mm) is None


def test_finished_pieces_sharpen_the_prior_and_move_it() -> None:
    start = prior = starting_prior(CutKind.BORE)
    for _ in range(4):
        prior = sharpened(prior, bored(0.2), JOB)
    assert prior.odds_spread < start.odds_spread
    assert abs(prior.left_behind_odds - 0.25) < abs(start.left_behind_odds - 0.25)
    assert 1 < prior.pieces < 4


def test_earlier_pieces_fade() -> None:
    prior = starting_prior(CutKind.BORE)
    for _ in range(6):
        prior = sharpened(prior, bored(0.2), JOB)
    for _ in range(6):
        prior = sharpened(prior, bored(0.5), JOB)
    assert prior.left_behind_odds > 0.6


def test_a_piece_without_a_measured_cut_teaches_nothing() -> None:
    prior = starting_prior(CutKind.TURN)
    assert sharpened(prior, [], JOB) == prior
    assert sharpened(prior, [Reading(0.5, 0.001)], JOB) == prior


@pytest.mark.parametrize("kind", list(CutKind))
def test_a_prior_is_stored_and_read_back(kind: CutKind) -> None:
    prior = sharpened(starting_prior(kind), bored(0.3), JOB)
    assert prior_from_numbers(prior_as_numbers(prior)) == prior


def test_a_damaged_prior_is_refused() -> None:
    numbers = prior_as_numbers(starting_prior(CutKind.TURN))
    with pytest.raises(ValueError, match="lacks"):
        prior_from_numbers({k: v for k, v in numbers.items() if k != "offset_mm"})
    with pytest.raises(ValueError, match="odds_spread"):
        prior_from_numbers(numbers | {"odds_spread": 0.0})
    with pytest.raises(ValueError, match="offset_mm"):
        prior_from_numbers(numbers | {"offset_mm": float("nan")})
