"""Nothing on a screen is plain English: all of it goes through the catalogue of messages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.demo import fill_if_empty
from server.metrology.decision import GuardRule
from server.metrology.instruments import InstrumentKind
from server.pages.words import INSTRUMENT_WORDS, SLIDE_WORDS
from server.records.database import Database
from server.settings import Settings
from tests.conftest import Clock
from tests.web.other_words import addresses, left_over, names_of, speak_wide, wide
from tests.web.workshop import BASE_URL, LOOPBACK, Job, Workshop, new_key

KEY = {"entry_key": new_key(), "form": "log", "feature_id": "1"}
READING = {**KEY, "value": "0.7890", "unit": "in"}
REFUSED: list[tuple[str, dict[str, str]]] = [
    ("/pieces/2/readings", {**READING, "value": "12,700"}),
    ("/pieces/2/readings", {**READING, "value": ""}),
    ("/pieces/2/readings", {**READING, "value": "7.890"}),
    ("/pieces/2/readings", {**READING, "temperature_value": "900"}),
    ("/pieces/2/readings", {**READING, "unit": "ft"}),
    ("/pieces/2/readings", {**READING, "instrument_id": "999"}),
    ("/pieces/2/passes", {**KEY, "dial_step": "x"}),
    ("/pieces/2/events", {**KEY, "event": "x"}),
    ("/pieces/2/setup", {**KEY, "form": "setup", "compound_angle_deg": "200"}),
    ("/pieces/2/finish", {"as": "good", "form": "finish"}),
    ("/pieces/2/finish", {"as": "scrap", "form": "finish"}),
    ("/readings/1/strike", {"reason": ""}),
    ("/pieces/999/readings", READING),
    ("/targets", {"designation": "5/8-18 UNF-7A", "form": "make"}),
    ("/targets", {"designation": "25 h6", "form": "make", "make": "feature", "lathe_id": "99"}),
    ("/parts", {"name": "", "form": "part"}),
    ("/parts", {"name": "x", "material": "butter", "unit": "in", "form": "part"}),
    ("/parts", {"name": "x", "material": "coper", "unit": "in", "form": "part"}),
    ("/parts/1/features", {"label": "", "designation": "25 h6", "form": "feature"}),
    ("/crib/lathes", {"name": "", "form": "lathe"}),
    ("/crib/instruments", {"name": "Mic", "resolution": "0", "form": "instrument"}),
    ("/crib/wires", {"name": "W", "nominal": "-1", "form": "wires"}),
    ("/crib/checks", {"instrument_id": "1", "found": "x", "form": "check"}),
    ("/shop", {"unit": "ft", "form": "shop"}),
    ("/shop", {"unit": "in", "shop_temperature": "400", "temperature_unit": "F", "form": "shop"}),
    ("/shop/operators", {"initials": "", "form": "operator"}),
    ("/shop/materials", {"name": "Lead", "expansion_low": "9", "expansion_high": "3"}),
    ("/language", {"language": "xx"}),
    ("/pair", {"code": "000000"}),
]
DRAWN = (
    *("5/8-18 UNF-2A", "5/8-18 UNF-7A", "1/4-20 UNJC-3A", "M10x1.5-6g", "M10x1.5-9g", "M10-6H"),
    *("Tr40x14(P7)-7e LH", "3/4-6 ACME-2G", "1/2 BSW medium", "G1/2 A", "2 BA", "25 h6", "25 h99"),
    *("40 H7/g6", "1.000 RC4", "12.70 +0.00/-0.02", "12.70 +0.00/-", "tenpenny", "M3x0.9"),
)
CLASSES = ("RC4 hole", "RC4 shaft", "RC4", "medium", "normal")  # as they are written on drawings
CODES = {*SLIDE_WORDS, *INSTRUMENT_WORDS, *(rule.value for rule in GuardRule)}  # to be sent


@pytest.fixture
def wide_client(settings: Settings, database: Database, clock: Clock) -> Iterator[TestClient]:
    fill_if_empty(database, settings)
    app = create_app(settings, database)
    speak_wide(app)
    with TestClient(app, base_url=BASE_URL, client=LOOPBACK) as opened:
        more_of_the_shop(Workshop(opened, clock))
        yield opened


def more_of_the_shop(shop: Workshop) -> None:
    """What the demo lacks: instruments of every kind without a stated error, in both units; a
    slide that was changed, a part that was copied, settings that were."""
    lathe = shop.lathe()
    for unit, hole, step, size in (
        ("mm", "25 H7", "0.01", "24.5"),
        ("in", "0.5000 +0.0010/-0", "0.001", "0.49"),
    ):
        part = shop.part(unit, name="Bush")
        piece = shop.piece(part)
        for number, kind in enumerate(INSTRUMENT_WORDS):
            if kind is InstrumentKind.LIMIT_GAUGE:
                continue
            new = {"name": f"No. {number}", "kind": kind, "unit": unit, "resolution": step}
            instrument = shop.post("/api/instruments", new, 201)["id"]
            more = {"label": f"Hole {number}", "kind": "bore"}
            feature = shop.feature(part, hole, lathe, instrument, **more)["id"]
            Job(shop, part, feature, piece, unit).read(size, temperature={"touch": "warm"})
        shop.post(f"/api/features/{feature}/setup", {"slide": "compound"}, 200)
        shop.post(f"/api/parts/{part}/copy", {"name": "Bush again"}, 201)
    for rule in reversed(GuardRule):
        shop.post("/api/shop", {"decision_rule": rule}, 200)


def test_every_screen_is_told(wide_client: TestClient, database: Database) -> None:
    names = [*names_of(database), "zzz"]
    asked = addresses(database)
    assert len(asked) > 50
    plain = {
        (address, text)
        for address in asked
        for text in left_over(wide_client.get(address).text, names)
    }
    assert plain == set()


def test_every_target_card_is_told(wide_client: TestClient, database: Database) -> None:
    names = [*names_of(database), *DRAWN, *CLASSES]
    plain = {
        (drawn, text)
        for drawn in DRAWN
        for text in left_over(
            wide_client.get("/targets", params={"designation": drawn, "unit": "in"}).text, names
        )
    }
    assert plain == set()


def test_every_refusal_is_told(wide_client: TestClient, database: Database) -> None:
    names = [*names_of(database), *CODES]
    plain = set()
    for address, sent in REFUSED:
        answer = wide_client.post(address, data=sent)
        assert 400 <= answer.status_code < 500, f"{address} {sent} was not refused"
        plain |= {(address, text) for text in left_over(answer.text, [*names, *sent.values()])}
    assert plain == set()


def test_a_plain_word_is_found() -> None:
    page = f"<p>{wide('Stock left')} Latch pin</p><p title='Seen'>{wide('Log')} 12 mm</p>"
    assert left_over(page, ["Latch pin"]) == ["Seen"]
    assert left_over(page, []) == [f"{wide('Stock left')} Latch pin", "Seen"]
    assert left_over("<script>let it = 'be'</script><p>0.5 mm</p>", []) == []
