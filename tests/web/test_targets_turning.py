"""The passes of a plain size on the target card: from the blank to the aim, on the dial in use."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from fastapi.testclient import TestClient

from tests.web.test_targets_page import look, words
from tests.web.workshop import Workshop

ROW = re.compile(
    r'<tr><th scope="row">(\d+)</th><td>([\d.]+)</td><td>([\d.]+)</td>'
    r"<td><b>([\d.]+)</b></td><td><small>([^<]*)</small></td></tr>"
)


def passes(html: str) -> list[tuple[Decimal, Decimal, Decimal, str]]:
    """(step, total, dial, words) of each pass; numbered from 1."""
    found = ROW.findall(html)
    assert [row[0] for row in found] == [str(n) for n in range(1, len(found) + 1)]
    return [(Decimal(s), Decimal(t), Decimal(d), w) for _, s, t, d, w in found]


def sizes(rows: list[tuple[Decimal, Decimal, Decimal, str]]) -> list[Decimal]:
    return [Decimal(said.rpartition("to ")[2]) for *_, said in rows]


@pytest.mark.parametrize(
    ("designation", "kind", "unit", "blank", "aim", "on_diameter"),
    [
        ("24.90/25.10", "outside_diameter", "mm", "31.7", "25", True),
        ("0.7500 +0.0000/-0.0010", "outside_diameter", "in", "1.25", "0.7495", True),
        ("40.00/40.20", "bore", "mm", "36", "40.1", True),
        ("30.00/30.10", "length", "mm", "33.3", "30.05", False),
    ],
)
def test_the_passes_lead_from_the_blank_to_the_aim(
    client: TestClient,
    designation: str,
    kind: str,
    unit: str,
    blank: str,
    aim: str,
    on_diameter: bool,
) -> None:
    rows = passes(look(client, designation, unit, kind=kind, blank=blank))

    line = Decimal("0.001" if unit == "in" else "0.01")  # a plain dial counts travel
    depth = abs(Decimal(blank) - Decimal(aim)) / (2 if on_diameter else 1)
    total, left = Decimal(0), depth - rows[-1][1]
    for step, depth_so_far, dial, _ in rows:
        total += step
        assert depth_so_far == dial == total
        assert dial % line == 0
    assert 0 <= left < line, "to the last whole line, toward leaving metal"
    way = 1 if kind == "bore" else -1
    took = 2 if on_diameter else 1
    assert sizes(rows) == [Decimal(blank) + way * took * row[1] for row in rows]
    said = [row[3].partition(" ")[0] for row in rows]
    assert said == ["rough"] * (len(rows) - 2) + ["semi-finish", "finish"]
    assert max(row[0] for row in rows) <= Decimal("1.0" if unit == "mm" else "0.040")


def test_the_dial_of_the_lathe_that_is_picked_is_used(client: TestClient, shop: Workshop) -> None:
    lathe = shop.lathe("mm", counts="diameter", graduation="0.05")
    html = look(client, "24.90/25.10", "mm", blank="28", lathe_id=str(lathe))
    rows = passes(html)
    assert "on the cross-slide of The long bed" in words(html)
    for step, depth, dial, _ in rows:
        assert dial == 2 * depth
        assert step <= 1
    assert rows[-1][2] == Decimal("3.00")
    assert sizes(rows)[-1] == Decimal("25.000")


@pytest.mark.parametrize(
    ("blank", "more", "said"),
    [
        ("24.5", {}, "This blank has no metal to cut: type a size above the aim, 25.000 mm."),
        ("thick", {}, "thick"),
        ("28", {"slide": "carriage"}, "carriage"),
        ("900000", {}, "passes"),
    ],
)
def test_a_blank_that_can_not_be_turned_is_said(
    client: TestClient, blank: str, more: dict[str, str], said: str
) -> None:
    html = look(client, "24.90/25.10", "mm", blank=blank, **more)
    problem = words(html)
    assert said in problem
    assert passes(html) == []
    assert "24.900" in problem, "the card itself still stands"


def test_no_passes_before_the_blank_is_typed_and_none_of_it_for_a_thread(
    client: TestClient,
) -> None:
    assert "Passes" not in words(look(client, "24.90/25.10", "mm"))
    with_blank = passes(look(client, "5/8-18 UNF-2A", blank="0.7"))
    assert with_blank == passes(look(client, "5/8-18 UNF-2A")) != []
