"""The table of DEVELOPERS.md: every published value compared, the few that differ known."""

from __future__ import annotations

import pytest

from tests.bench.published_counts import FAMILIES, Family, count, table

KNOWN = {  # family: (published values at least, how many differ)
    "Unified, ASME B1.1": (695, 4),
    "ISO metric, ISO 965": (634, 0),
    "Acme and stub Acme, ASME B1.5": (74, 2),
    "ISO trapezoidal, ISO 2903": (311, 5),
    "Whitworth, BS 84": (30, 6),
    "Parallel pipe G, ISO 228-1": (360, 0),
    "British Association, BS 93": (85, 0),
    "Fits, ISO 286": (985, 2),
    "Fits, ANSI B4.1": (1317, 0),
    "Wire tables, H28 and ASME B1.2": (120, 5),
}


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)
def test_no_family_loses_a_value_or_gains_a_difference(family: Family) -> None:
    found = count(family)
    values, differ = KNOWN[family.name]
    assert found.values >= values
    assert found.differ == differ
    assert not differ or family.why


def test_the_table_names_every_family_and_the_sum() -> None:
    lines = table().splitlines()
    assert len(lines) == len(FAMILIES) + 3
    assert int(lines[-1].split("|")[2]) >= 4000
