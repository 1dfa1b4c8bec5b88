"""Which of the shop's own wires measure a thread, and which is nearest to the best size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session

from server.logbook.setup import wires_of
from server.logbook.shop import wire_rows
from server.metrology.model import ThreadTarget
from server.metrology.wires import WireRange, Wires, WireUnusable


@dataclass(frozen=True)
class OwnedWires:
    """One wire set of the tool crib.  [mm]"""

    set_id: int
    name: str
    wires: Wires
    is_measured: bool
    at_zero_force: bool


@dataclass(frozen=True)
class SortedWires:
    """Sets at hand for one thread: usable ones, nearest to best first, and the others with why."""

    usable: tuple[OwnedWires, ...]
    unusable: tuple[tuple[OwnedWires, WireUnusable], ...]

    @property
    def nearest(self) -> OwnedWires | None:
        return self.usable[0] if self.usable else None


def owned_wires(session: Session) -> tuple[OwnedWires, ...]:
    """The sets in use."""
    found = []
    for row in wire_rows(session):
        wires = wires_of("", row.unit, row)
        if wires is not None:
            found.append(
                OwnedWires(
                    row.id or 0, row.name, wires, bool(row.measured), row.sized == "zero_force"
                )
            )
    return tuple(found)


def sort_wires(
    target: ThreadTarget, owned: Sequence[OwnedWires], wire_range: WireRange
) -> SortedWires:
    """A set fits where each of its wires does."""
    usable, unusable = [], []
    for each in owned:
        wrong = [size for size in each.wires.each_mm if not wire_range.holds(size)]
        if wrong:
            unusable.append((each, WireUnusable(wrong[0], wire_range, target.unit)))
        else:
            usable.append(each)
    usable.sort(key=lambda each: abs(each.wires.effective_mm - wire_range.best_mm))
    return SortedWires(tuple(usable), tuple(unusable))
