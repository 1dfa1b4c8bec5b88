"""Script typed into any text field is text on every page that shows it."""

from __future__ import annotations

from typing import Any

import pytest

from tests.web.strict import Loose, check_strict
from tests.web.workshop import Workshop, new_key


def planted(where: str) -> str:
    return f"""<script>alert("{where}")</script>'"><img src=x onerror=alert(1)>{{{{7*7}}}}"""


SHORT = "<b>\"'&"  # where only a few letters fit


@pytest.fixture
def infested(shop: Workshop) -> list[str]:
    """Everything that takes text has been given script; the texts, to look for."""
    client = shop.client
    texts: list[str] = []

    def text(where: str, longest: int = 200) -> str:
        found = planted(where)[:longest]
        texts.append(found)
        return found

    def form(path: str, **fields: str) -> None:
        answer = client.post(path, data=fields, follow_redirects=False)
        assert answer.status_code == 303, (path, answer.text[:400])

    slide = {"counts": "diameter", "graduation": "0.02"}
    for number, via in enumerate(("api", "form")):
        unit = {"unit": "mm"}
        material = text(f"{via} material", 60)
        form(
            "/shop/materials",
            name=material,
            expansion="11.5",
            source=text(f"{via} source"),
        )
        if via == "api":
            body: dict[str, Any] = {"name": text("api lathe"), "cross_slide": slide}
            lathe = shop.post("/api/lathes", body | unit | {"compound": slide}, 201)["id"]
            body = {"name": text("api instrument"), "kind": "micrometer", "resolution": "0.001"}
            instrument = shop.post("/api/instruments", body | unit, 201)["id"]
            body = {"name": text("api wires"), "nominal": "0.8"}
            shop.post("/api/wire-sets", body | unit, 201)
            body = {"name": text("api part"), "number": text("api number", 80)}
            part = shop.post("/api/parts", body | unit | {"material": material}, 201)["id"]
            label = text("api label", 80)
            shop.feature(part, "25 h6", lathe, instrument, label=label)
            piece = shop.piece(part, serial=text("api serial", 80))
        else:
            form(
                "/crib/lathes",
                name=text("form lathe"),
                cross_slide_counts="diameter",
                cross_slide_graduation="0.02",
                compound_counts="travel",
                compound_graduation="0.02",
                angle_from="axis",
                **unit,
            )
            form(
                "/crib/instruments",
                name=text("form instrument"),
                kind="micrometer",
                resolution="0.001",
                **unit,
            )
            form("/crib/wires", name=text("form wires"), nominal="0.8", **unit)
            form(
                "/parts",
                name=text("form part"),
                number=text("form number", 80),
                material=material,
                **unit,
            )
            form(
                "/parts/2/features",
                label=text("form label", 80),
                designation="25 h6",
                method="direct",
                slide="cross_slide",
                lathe_id="2",
                instrument_id="2",
                **unit,
            )
            form("/parts/2/pieces", serial=text("form serial", 80))
            form(
                "/crib/checks",
                instrument_id="2",
                value="0.001",
                operator=text("form checker", 20),
                **unit,
            )
            piece = 2
        form("/shop/operators", initials=SHORT[number:], name=text(f"{via} operator", 60))
        feature = number + 1

        def log(
            kind: str, piece: int = piece, feature: int = feature, via: str = via, **fields: str
        ) -> None:
            body = {"feature_id": str(feature), "entry_key": new_key(), **fields} | {
                "note": text(f"{via} {kind} note"),
                "operator": text(f"{via} {kind}", 20),
            }
            if via == "form":
                form(f"/pieces/{piece}/{kind}", **body)
            else:
                given: dict[str, Any] = body | {"feature_id": feature}
                shop.post(f"/api/pieces/{piece}/{kind}", given, 201)

        log("readings", value="25.400", unit="mm", station=text(f"{via} station", 40))
        log("passes", dial_step="0.1", unit="mm")
        log("events", event="rezeroed")
        log("readings", value="25.300", unit="mm", confirm="true")
        struck = {"reason": text(f"{via} struck"), "operator": text(f"{via} striker", 20)}
        entry = shop.get(f"/api/pieces/{piece}/history")["features"][0]["entries"][-1]["id"]
        if via == "form":
            form(f"/readings/{entry}/strike", **struck)
        else:
            shop.post(f"/api/readings/{entry}/strike", struck, 200)
        end = {"as": "scrap", "reason": text(f"{via} scrapped"), "initials": text(f"{via} end", 20)}
        if via == "form":
            form(f"/pieces/{piece}/finish", **end)
        else:
            shop.post(f"/api/pieces/{piece}/finish", end, 200)
    return [*texts, SHORT]


def test_script_stored_in_any_text_field_is_shown_as_text(
    shop: Workshop, infested: list[str]
) -> None:
    shown: list[str] = []
    query = planted("searched")
    for path, params in (
        ("/", {}),
        ("/", {"q": query}),
        ("/", {"q": "alert"}),
        ("/targets", {"designation": query}),
        ("/targets", {"designation": "M10", "wire": query, "aim": query}),
        ("/parts/1", {}),
        ("/parts/2", {}),
        ("/crib", {}),
        ("/shop", {}),
        ("/shop/sharing", {}),
        ("/shop/audit", {}),
        ("/pieces/1/lathe", {}),
        ("/pieces/2/lathe", {}),
        ("/pieces/1/history", {}),
        ("/pieces/2/history", {}),
        ("/pieces/1/finish", {}),
        ("/pieces/1/working", {}),
    ):
        answer = shop.client.get(path, params=params)
        assert answer.status_code in (200, 422), (path, answer.status_code)
        assert answer.headers["content-type"].startswith("text/html")
        assert "<script>alert(" not in answer.text, path
        check_strict(answer)
        shown += Loose(answer.text).words
    everything = "\n".join(shown)
    assert len(infested) > 40
    seldom_shown = ("api station", "form station")
    missing = [
        text
        for text in infested
        if text not in everything and not any(name in text for name in seldom_shown)
    ]
    assert missing == [], "these are shown on no page, or not as they were typed"
    assert "{{7*7}}" in everything


def test_script_that_was_refused_is_shown_as_text(shop: Workshop) -> None:
    """Every form gives back what was typed, whatever it was."""
    job = shop.job("25 h6", "mm")
    piece = f"/pieces/{job.piece_id}"
    names = """name number material unit initials expansion source kind resolution max_error due
        nominal measured cross_slide_counts cross_slide_graduation compound_counts rule serial
        compound_graduation compound_angle_deg angle_from designation label method slide wire aim
        nose_radius flat crest_diameter value dial_step temperature_value temperature_unit touch
        station note operator reason as code make new_part standard cut advised_step
        shop_temperature past_limit_percent event gauge""".split()
    forms = {
        "/parts": "part",
        "/shop": "shop",
        "/shop/operators": "operator",
        "/shop/materials": "material",
        "/crib/lathes": "lathe",
        "/crib/instruments": "instrument",
        "/crib/wires": "wire",
        "/crib/checks": "check-1",
        f"/parts/{job.part_id}/features": "feature",
        f"{piece}/readings": "log",
        f"{piece}/passes": "pass",
        f"{piece}/events": "event",
        f"{piece}/gauges": "gauge",
        f"{piece}/setup": "setup",
        f"{piece}/finish": "finish",
        "/targets": "card",
        "/pair": "pair",
        "/shop/sharing/codes": "code",
    }
    ids = {"lathe_id": "1", "instrument_id": "1", "feature_id": str(job.feature_id)}
    for path, form in forms.items():
        fields = {name: planted(name) for name in names} | ids | {"form": form}
        answer = shop.client.post(path, data=fields | {"entry_key": new_key()})
        assert 400 <= answer.status_code < 500, (path, answer.status_code)
        assert "<script>alert(" not in answer.text, path
        check_strict(answer)


def test_the_csv_of_a_history_runs_nothing_in_a_spreadsheet(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm", label="=cmd|' /C calc'!A0")
    job.read("25.400", note="@SUM(1+1)*cmd", operator="+1")
    answer = shop.client.get(f"/pieces/{job.piece_id}/history.csv")

    assert answer.headers["content-type"].startswith("text/csv")
    assert "attachment" in answer.headers["content-disposition"]
    assert "'=cmd" in answer.text
    assert "'@SUM" in answer.text
