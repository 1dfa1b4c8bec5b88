"""How long one full target card takes in process, median of many.

    python -m tests.bench.card_time [--count 300]

A full card: designation read, every wire set of a small crib judged, both over-wire rules, aims,
flattening, infeed, pass plan, relief, groove seconds and plating.  Prints microseconds.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Mapping

from server.logbook.card_typed import asked
from server.logbook.cards import card
from server.logbook.crib_wires import OwnedWires
from server.metrology.wires import Wires
from tests.metrology.card_samples import DESIGNATIONS

TYPED = {"plating": "0.0002", "rpm": "60", "tool_width": "0.03"}


def crib() -> tuple[OwnedWires, ...]:
    """Sixteen sets, 0.4 mm to 6 mm."""
    sizes_mm = [0.4 * 1.2**i for i in range(16)]
    return tuple(
        OwnedWires(i, f"set {i}", Wires(size, (size + 0.001, size - 0.001)), True, False)
        for i, size in enumerate(sizes_mm, 1)
    )


def one_card(designation: str, owned: tuple[OwnedWires, ...]) -> float:
    fields: Mapping[str, str] = {"designation": designation, **TYPED}
    started = time.perf_counter()
    card(asked(fields, "in"), owned)
    return time.perf_counter() - started


def median_us(designation: str, count: int) -> float:
    owned = crib()
    one_card(designation, owned)  # tables read once
    return statistics.median(one_card(designation, owned) for _ in range(count)) * 1e6


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=300)
    count = parser.parse_args().count
    medians = {sample.designation: median_us(sample.designation, count) for sample in DESIGNATIONS}
    for designation, median in medians.items():
        print(f"{median:8.0f} us  {designation}")
    print(f"{statistics.median(medians.values()):8.0f} us  median of the designations")
    print(f"{max(medians.values()):8.0f} us  slowest")


if __name__ == "__main__":
    main()
