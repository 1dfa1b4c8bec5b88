"""How a cut responds: learned from passes and readings."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from server.advice.hypothesis import Hypothesis, above, bite, depth_share, update
from server.advice.model import Change, Cut, CutKind, Entry, Job, Reading, Reset
from server.advice.physics import prior_for
from server.advice.response import Posterior, posterior

SURE_MM = 0.0005


def job(kind: CutKind = CutKind.TURN, **changes: float) -> Job:
    return Job(kind, 0.02, -0.02, 0.01, reading_scatter_mm=SURE_MM, **changes)


def believed(history: list[Entry], a_job: Job) -> Posterior:
    return posterior(history, a_job, prior_for(a_job, None))


def mean_phi(post: Posterior) -> float:
    return sum(h.weight * h.odds / (1 + h.odds) for h in post.hypotheses)


def bending(phi: float, stock: float, steps: list[float]) -> list[Entry]:
    """A lathe that copies phi of the engaged depth and errs in nothing else."""
    tool, history = stock, [Reading(stock, SURE_MM)]
    for step in steps:
        tool -= step
        stock = tool + phi * (stock - tool)
        history += [Cut(step), Reading(stock, SURE_MM)]
    return history


# Equal radial steps of 100 um, then spring passes; computed from the error-copying recurrence
# x(n) = phi x(n-1), common practice in machining texts.
COPIED = [
    (0.1, [90, 99, 99.9], [10, 1]),
    (0.2, [80, 96, 99.2], [20, 4]),
    (0.3, [70, 91, 97.3], [30, 9]),
    (0.4, [60, 84, 93.6], [39, 16]),
]


@pytest.mark.parametrize(("phi", "cuts_um", "springs_um"), COPIED)
def test_cuts_of_a_bending_lathe_teach_its_share_left_behind(
    phi: float, cuts_um: list[float], springs_um: list[float]
) -> None:
    stock, history = 1.0, [Reading(1.0, SURE_MM)]
    for removed_um in cuts_um:
        stock -= 2 * removed_um / 1000
        history += [Cut(0.2), Reading(stock, SURE_MM)]
    post = believed(history, job())
    assert mean_phi(post) == pytest.approx(phi, abs=0.06)
    history += [Cut(0.0)]
    left, variance = believed(history, job()).stock()
    assert variance**0.5 < 0.015
    assert stock - left == pytest.approx(2 * springs_um[0] / 1000, abs=2 * variance**0.5)


def test_a_lathe_that_takes_what_is_dialled_is_believed() -> None:
    post = believed(bending(0.0, 0.6, [0.2, 0.15, 0.1]), job())
    assert mean_phi(post) < 0.06
    ahead = believed([*bending(0.0, 0.6, [0.2, 0.15, 0.1]), Cut(0.1)], job())
    assert ahead.stock()[0] == pytest.approx(0.05, abs=0.004)


def test_passes_without_a_reading_between_count() -> None:
    phi, tool, stock = 0.3, 0.8, 0.8
    history: list[Entry] = [Reading(stock, SURE_MM)]
    for steps in ([0.1, 0.1, 0.1], [0.1, 0.0]):
        for step in steps:
            tool -= step
            stock = tool + phi * (stock - tool)
            history.append(Cut(step))
        history.append(Reading(stock, SURE_MM))
    post = believed(history, job())
    assert mean_phi(post) == pytest.approx(phi, abs=0.08)
    assert [len(i.depths_mm) for i in post.intervals] == [3, 2]


def test_spring_passes_that_take_nothing_teach_that_thin_metal_is_not_cut() -> None:
    history = bending(0.25, 0.5, [0.2])
    before = believed(history, job()).least_cut_mm()
    standing = history[-1]
    assert isinstance(standing, Reading)
    for _ in range(3):
        history += [Cut(0.0), Reading(standing.stock_mm, SURE_MM)]
    assert believed(history, job()).least_cut_mm() > before


def test_a_reading_that_teaches_nothing_changes_nothing_later() -> None:
    plain = bending(0.2, 0.6, [0.2, 0.1])
    with_corner = [*plain[:3], Reading(0.9, SURE_MM, teaches=False), *plain[3:]]
    assert believed(with_corner, job()).stock() == believed(plain, job()).stock()


def test_a_rough_reading_serves_until_a_true_one() -> None:
    rough = [Cut(0.5), Reading(0.4, SURE_MM, teaches=False)]
    mean, variance = believed(rough, job()).stock()
    assert mean == pytest.approx(0.4)
    assert variance > (10 * SURE_MM) ** 2
    post = believed([*rough, Cut(0.1), Reading(0.35, SURE_MM)], job())
    assert post.stock()[0] == pytest.approx(0.35)
    assert post.first_reading_mm == 0.35


def test_a_far_reading_is_a_surprise_and_teaches_nothing_until_confirmed() -> None:
    learned = bending(0.1, 0.6, [0.2, 0.15])
    sound = believed(learned, job())
    surprised = believed([*learned, Cut(0.05), Reading(0.5, SURE_MM)], job())
    assert surprised.surprise is not None
    assert mean_phi(surprised) == pytest.approx(mean_phi(sound), abs=1e-6)
    misread = [*learned, Cut(0.05), Reading(0.5, SURE_MM), Reading(0.198, SURE_MM)]
    assert believed(misread, job()).surprise is None
    assert believed(misread, job()).stock()[0] == pytest.approx(0.198, abs=0.002)
    confirmed = [*learned, Cut(0.05), Reading(0.5, SURE_MM), Reading(0.5005, SURE_MM)]
    assert believed(confirmed, job()).surprise is None
    assert believed(confirmed, job()).stock()[0] == pytest.approx(0.5, abs=0.002)


@pytest.mark.parametrize("what", list(Change))
def test_an_event_starts_the_offset_again(what: Change) -> None:
    history = bending(0.2, 0.6, [0.2, 0.1, 0.1])
    _, before = believed([*history, Cut(0.05)], job()).stock()
    _, after = believed([*history, Reset(what), Cut(0.05)], job()).stock()
    assert after > 4 * before


def test_in_a_thread_the_share_left_behind_grows_with_depth() -> None:
    assert depth_share(1.5, 1.0) == 0.15
    assert depth_share(0.5, 1.0) == 0.5
    assert depth_share(0.0, 1.0) == 1.0
    assert depth_share(0.5, None) == 1.0
    shallow = believed([Reading(0.9, SURE_MM), Cut(0.2)], job(CutKind.THREAD, total_depth_mm=1.2))
    deep = believed([Reading(0.3, SURE_MM), Cut(0.2)], job(CutKind.THREAD, total_depth_mm=1.2))
    assert 0.9 - shallow.stock()[0] > 0.3 - deep.stock()[0]


def test_no_reading_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one reading"):
        believed([Cut(0.1)], job())


@pytest.mark.parametrize("z", [-2.5, -1.0, 0.0, 0.7, 2.0])
def test_truncated_normal_agrees_with_scipy(z: float) -> None:
    mean, variance = stats.truncnorm.stats(-z, np.inf, moments="mv")
    shift, lost = above(z)
    assert shift == pytest.approx(float(mean), rel=1e-9)
    assert 1 - lost == pytest.approx(float(variance), abs=1e-9 if z > -2 else 0.02)


def test_one_hypothesis_is_a_kalman_filter() -> None:
    """Against the matrix form, far from the least cut and without a misread in sight."""
    odds, q2, dial = 0.25, 4e-6, -0.3
    h = Hypothesis(1.0, 0, odds, 0.0, q2, -1.0)
    h.x, h.c, h.xx, h.xc, h.cc = 0.6, 0.59, 1e-6, 1e-6, 4e-4
    phi = odds / (1 + odds)
    f = np.array([[phi, 1 - phi], [0.0, 1.0]])
    state = f @ np.array([0.6, 0.59]) + np.array([(1 - phi) * dial, 0.0006])
    cov = f @ np.array([[1e-6, 1e-6], [1e-6, 4e-4]]) @ f.T + np.diag([q2, 0.0005**2])
    bite(h, h.x - dial - h.c, 0.02, 1.0)
    assert (h.x, h.c) == pytest.approx(tuple(state))
    r, s2 = float(state[0]) + 0.003, 1e-6
    gain = cov[:, 0] / (cov[0, 0] + s2)
    state = state + gain * 0.003
    cov = cov - np.outer(gain, cov[0])
    update(h, r, s2)
    assert (h.x, h.c) == pytest.approx(tuple(state), rel=1e-3)
    expected = (cov[0, 0], cov[0, 1], cov[1, 1])
    assert (h.xx, h.xc, h.cc) == pytest.approx(
        expected, rel=0.3
    )  # one misread in a hundred is kept in mind
