"""Materials are offered in the words of the screen, understood in them and kept as picked."""

from __future__ import annotations

import re
from html import unescape

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from server.metrology.materials import all_materials
from server.pages.language import LANGUAGES, teller
from server.pages.targets import DEFAULT_MATERIAL
from server.records.database import Database
from server.records.tables import PartRow
from tests.web.workshop import Workshop


def page_in(client: TestClient, address: str, language: str) -> str:
    return unescape(client.get(address, headers={"accept-language": language}).text)


def filled_in(page: str) -> str:
    found = re.search(r'<input [^>]*name="material"[^>]* value="([^"]*)"', page)
    assert found
    return found[1]


def kept(database: Database) -> list[str]:
    with database.reading() as session:
        return list(session.exec(select(PartRow.material)))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_material_that_is_offered_is_taken_and_kept_as_it_was_picked(
    client: TestClient, database: Database, language: str
) -> None:
    told = [teller(language)(material.words) for material in all_materials()]
    for address in ("/", "/start"):
        page = page_in(client, address, language)
        (listed,) = re.findall(r'<datalist id="materials">(.*?)</datalist>', page)
        assert re.findall(r'<option value="([^"]*)">', listed) == told
        assert filled_in(page) == told[0]

    for name in told:
        sent = {"name": "Pin", "material": name, "unit": "mm"}
        headers = {"accept-language": language}
        answer = client.post("/parts", data=sent, headers=headers, follow_redirects=False)
        assert answer.status_code == 303, name

    assert kept(database) == told


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_usual_material_of_a_new_part_is_in_the_words_of_the_screen(
    client: TestClient, shop: Workshop, database: Database, language: str
) -> None:
    usual = teller(language)(DEFAULT_MATERIAL)
    lathe, instrument = shop.lathe(), shop.instrument()
    page = page_in(client, "/targets?designation=25 h6&unit=mm", language)
    assert filled_in(page) == usual

    sent = {
        "designation": "25 h6",
        "unit": "mm",
        "label": "Seat",
        "method": "direct",
        "slide": "cross_slide",
        "lathe_id": str(lathe),
        "instrument_id": str(instrument),
        "new_part": "Shaft",
        "make": "feature",
        "material": "",
    }
    headers = {"accept-language": language}
    answer = client.post("/targets", data=sent, headers=headers, follow_redirects=False)

    assert answer.status_code == 303
    assert kept(database) == [usual]


def test_the_shop_says_where_each_coefficient_is_from_and_keeps_a_persons_own_words(
    client: TestClient,
) -> None:
    own = {"name": "Brass", "expansion_low": "18", "expansion_high": "19", "source": "the mill"}
    assert client.post("/shop/materials", data=own).status_code == 200

    page = page_in(client, "/shop", "de")

    assert "<b>Brass</b>" in page
    assert '<small class="source">the mill</small>' in page
    for material in all_materials():
        told = teller("de")(material.basis)
        cited = f'<small class="source">{told}: <span lang="en">{material.source}</span></small>'
        assert cited in page
