"""How long one advice takes, in process.

    python -m tests.bench.advice_time [--rounds 200]

prints the median and the 95th percentile in milliseconds of processor time, for each kind of job
after each reading.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Sequence

from server.advice.model import Cut, CutKind, Entry, Job, Reading
from server.advice.nextcut import next_cut

_CASES: dict[str, tuple[Job, list[Entry]]] = {
    "thread": (
        Job(CutKind.THREAD, 0.0597, -0.0597, 0.0508, 0.004, 0.001, 0.002, total_depth_mm=1.72),
        [
            Reading(0.40, 0.002), Cut(0.2540), Reading(0.18, 0.002), Cut(0.1016),
            Reading(0.075, 0.002),
        ],
    ),
    "turn": (
        Job(CutKind.TURN, 0.0127, -0.0127, 0.0127, 0.004, 0.001, 0.001),
        [
            Reading(0.60, 0.001), Cut(0.2794), Reading(0.355, 0.001), Cut(0.1651),
            Reading(0.183, 0.001), Cut(0.1270), Reading(0.051, 0.001), Cut(0.0),
            Reading(0.046, 0.001),
        ],
    ),
    "fine": (
        Job(CutKind.TURN, 0.0065, -0.0065, 0.0025, 0.001, 0.0003, 0.0004),
        [
            Reading(0.25, 0.0004), Cut(0.12), Reading(0.15, 0.0004), Cut(0.07),
            Reading(0.079, 0.0004), Cut(0.04), Reading(0.034, 0.0004),
        ],
    ),
    "bore": (
        Job(CutKind.BORE, 0.0125, -0.0125, 0.01, 0.003, 0.001, 0.001),
        [
            Reading(0.50, 0.001), Cut(0.25), Reading(0.37, 0.001), Cut(0.14),
            Reading(0.23, 0.001),
        ],
    ),
}  # fmt: skip


def timed(history: Sequence[Entry], job: Job, rounds: int) -> list[float]:
    """Milliseconds of processor time, one a round."""
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        next_cut(history, job, "stock_left", str)
        taken.append(1000 * (time.process_time() - start))
    return taken


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rounds", type=int, default=200)
    rounds = parser.parse_args().rounds
    everything: list[float] = []
    for name, (job, history) in _CASES.items():
        for end in range(1, len(history) + 1, 2):
            taken = timed(history[:end], job, rounds)
            everything += taken
            worst = statistics.quantiles(taken, n=20)[-1]
            print(
                f"{name:7} {end // 2 + 1} readings  median {statistics.median(taken):5.2f} ms  "
                f"95 % {worst:5.2f} ms"
            )
    print(f"all     median {statistics.median(everything):5.2f} ms")


if __name__ == "__main__":
    main()
