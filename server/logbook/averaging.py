"""Which readings of one state may be averaged."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence

from server.logbook.sizes import Sized, shown_by

REPEATS_WITHIN_STEPS = 2.0  # a warm part that reads smaller by more has cooled; common practice


def noted_alike(readings: Sequence[Sized]) -> list[list[Sized]]:
    """The same, noted as equally warm in one kind of words, the last taken last."""
    return grouped(readings, lambda each: (shown_by(each.instrument), each.wires, each.note_kind))


def alike(readings: Sequence[Sized]) -> list[list[Sized]]:
    """Readings with one instrument over one set of wires, the last taken last."""
    return grouped(readings, lambda each: (shown_by(each.instrument), each.wires))


def grouped(readings: Sequence[Sized], whose: Callable[[Sized], Hashable]) -> list[list[Sized]]:
    groups: dict[Hashable, list[Sized]] = {}
    for reading in readings:
        key = whose(reading)
        groups[key] = [*groups.pop(key, []), reading]
    return list(groups.values())


def not_cooled_since(readings: Sequence[Sized]) -> list[Sized]:
    """Of readings noted alike, those that may be averaged with the last: known as well, and where
    the part was felt to be warm, not larger by more than hands repeat to."""
    last = readings[-1]
    known = best_known(readings)
    if last.temperature.is_number or not last.says_warm:
        return known
    step_mm = max(last.instrument.resolution_mm, last.instrument.hand_scatter_mm)
    most_mm = last.at_20_mm + REPEATS_WITHIN_STEPS * step_mm
    return [reading for reading in known if reading.at_20_mm <= most_mm + 1e-9]


def best_known(readings: Sequence[Sized]) -> list[Sized]:
    """A thermometer narrows a touch: what warmth leaves much wider than the last reading is not
    averaged with it, nor taken for scatter."""
    widest_mm = readings[-1].high_mm - readings[-1].low_mm + readings[-1].instrument.resolution_mm
    return [reading for reading in readings if reading.high_mm - reading.low_mm <= widest_mm]
