"""Instruments: class values as defaults, and whether one is fine enough."""

from __future__ import annotations

import pytest

from server.metrology.instruments import Instrument, InstrumentKind, fineness, max_error
from server.metrology.tables import rows
from server.wording import told
from tests.web.other_words import WORD, WideWords


@pytest.mark.parametrize(
    ("kind", "resolution_mm", "size_mm", "printed_um"),
    [
        ("micrometer", 0.001, 16, 4),
        ("micrometer", 0.01, 25, 4),
        ("micrometer", 0.001, 40, 4),
        ("micrometer", 0.001, 60, 5),
        ("micrometer", 0.001, 90, 5),
        ("micrometer", 0.001, 120, 6),
        ("micrometer", 0.001, 180, 7),
        ("micrometer", 0.001, 220, 8),
        ("micrometer", 0.001, 280, 9),
        ("calliper", 0.01, 150, 20),
        ("calliper", 0.02, 300, 30),
        ("calliper", 0.05, 150, 50),
        ("calliper", 0.1, 300, 60),
        ("calliper_inside", 0.01, 150, 40),
        ("calliper_inside", 0.05, 300, 80),
    ],
)
def test_defaults_are_the_class_values(
    kind: str, resolution_mm: float, size_mm: float, printed_um: float
) -> None:
    """DIN 863 and DIN 862 class values, published in a one-page digest of both."""
    found = max_error(Instrument(InstrumentKind(kind), resolution_mm), size_mm)
    assert found.max_error_mm * 1000 == pytest.approx(printed_um)
    assert found.is_default
    assert found.source.startswith("class value of DIN 86")


@pytest.mark.parametrize("row", rows("instrument_mpe"), ids=lambda row: str(row["source"]))
def test_a_default_names_its_standard_or_common_practice(row: dict[str, str]) -> None:
    """As a whole message: where a number was looked up is for whoever reads the table."""
    standard = row["standard"]
    assert (row["basis"], row["source"].startswith(standard or "memory")) == (
        "published" if standard else "common practice",
        True,
    )
    step_mm = max(float(row["resolution_over_mm"]) * 1.5, 0.001)
    found = max_error(Instrument(InstrumentKind(row["kind"]), step_mm), float(row["size_to_mm"]))
    said = f"class value of {standard}" if standard else "common practice"
    assert found.source == said
    untold = str(told(found.source, WideWords())).replace(standard or "-", "")
    assert not WORD.search(untold)


def test_the_instruments_own_error_beats_the_default() -> None:
    found = max_error(Instrument(InstrumentKind.MICROMETER, 0.001, 0.002), 16)
    assert (found.max_error_mm, found.is_default) == (0.002, False)


def test_a_kind_without_class_values_counts_two_steps() -> None:
    found = max_error(Instrument(InstrumentKind.OTHER, 0.01), 16)
    assert (found.max_error_mm, found.is_default) == (0.02, True)
    assert found.source == "two steps of the resolution, common practice"


def test_beyond_the_last_step_the_largest_value_holds() -> None:
    assert max_error(Instrument(InstrumentKind.MICROMETER, 0.001), 900).max_error_mm == 0.009


@pytest.mark.parametrize("kind", list(InstrumentKind))
def test_every_kind_has_a_default(kind: InstrumentKind) -> None:
    assert 0 < max_error(Instrument(kind, 0.01), 20).max_error_mm < 0.1


@pytest.mark.parametrize(
    ("tolerance_mm", "is_good", "is_too_coarse", "words"),
    [
        (0.040, True, False, "10:1 rule is met"),
        (0.0399, False, False, "under 10:1 but over 4:1"),
        (0.016, False, False, "under 10:1 but over 4:1"),
        (0.0159, False, True, "Too coarse"),
    ],
)
def test_ten_to_one_and_four_to_one(
    tolerance_mm: float, is_good: bool, is_too_coarse: bool, words: str
) -> None:
    found = fineness(Instrument(InstrumentKind.MICROMETER, 0.001), 16, tolerance_mm)
    assert (found.is_good, found.is_too_coarse) == (is_good, is_too_coarse)
    assert words in found.words
    assert found.ratio == pytest.approx(tolerance_mm / 0.004)


def test_a_coarse_reading_counts_where_the_error_is_said_to_be_finer() -> None:
    found = fineness(Instrument(InstrumentKind.MICROMETER, 0.01, 0.002), 16, 0.05)
    assert found.ratio == pytest.approx(5)


def test_no_tolerance_is_an_error() -> None:
    with pytest.raises(ValueError, match="tolerance"):
        fineness(Instrument(InstrumentKind.MICROMETER, 0.001), 16, 0.0)
