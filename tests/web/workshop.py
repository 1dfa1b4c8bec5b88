"""A workshop talked to through the JSON API, with plain defaults for what a test is not about.

Every method posts one request, asserts its status and returns the decoded answer.
"""

from __future__ import annotations

import uuid
from typing import Any

from fastapi.testclient import TestClient

from tests.conftest import Clock

Json = dict[str, Any]
BASE_URL = "http://127.0.0.1:8020"
LOOPBACK = ("127.0.0.1", 50000)  # where the requests come from
SHAFT_THREAD = "5/8-18 UNF-2A"


def new_key() -> str:
    return str(uuid.uuid4())


def code_of(body: Json) -> str:
    """The code of an error body, whose shape is checked on the way."""
    error = body["error"]
    assert set(error) == {"code", "message", "field"}
    assert error["message"].strip()
    code: str = error["code"]
    return code


class Workshop:
    def __init__(self, client: TestClient, clock: Clock) -> None:
        self.client = client
        self.clock = clock

    def post(self, path: str, body: Any, expect: int | None = None) -> Json:
        response = self.client.post(path, json=body)
        if expect is not None:
            assert response.status_code == expect, (response.status_code, response.text)
        answer: Json = response.json()
        return answer

    def get(self, path: str, expect: int = 200) -> Json:
        response = self.client.get(path)
        assert response.status_code == expect, response.text
        answer: Json = response.json()
        return answer

    def targets(
        self, designation: str, unit: str = "in", *, expect: int = 200, **more: Any
    ) -> Json:
        return self.post("/api/targets", {"designation": designation, "unit": unit, **more}, expect)

    def lathe(
        self,
        unit: str = "in",
        *,
        counts: str = "diameter",
        graduation: str = "0.001",
        compound_counts: str = "travel",
        compound_graduation: str = "0.001",
        angle_deg: float = 29.5,
        angle_from: str = "cross_slide",
        **more: Any,
    ) -> int:
        body = {
            "name": "The long bed",
            "unit": unit,
            "cross_slide": {"counts": counts, "graduation": graduation},
            "compound": {
                "counts": compound_counts,
                "graduation": compound_graduation,
                "angle_deg": angle_deg,
                "angle_from": angle_from,
            },
            **more,
        }
        return int(self.post("/api/lathes", body, 201)["id"])

    def instrument(
        self,
        unit: str = "in",
        resolution: str = "0.0001",
        max_error: str = "0.0001",
        kind: str = "micrometer",
    ) -> int:
        body = {
            "name": "Micrometer",
            "kind": kind,
            "unit": unit,
            "resolution": resolution,
            "max_error": max_error,
        }
        return int(self.post("/api/instruments", body, 201)["id"])

    def part(self, unit: str = "in", material: str = "carbon steel", name: str = "Shaft") -> int:
        body = {"name": name, "material": material, "unit": unit}
        return int(self.post("/api/parts", body, 201)["id"])

    def feature(
        self,
        part_id: int,
        designation: str,
        lathe_id: int,
        instrument_id: int,
        *,
        expect: int = 201,
        slide: str = "cross_slide",
        method: str = "direct",
        **more: Any,
    ) -> Json:
        body = {
            "label": "Feature",
            "designation": designation,
            "method": method,
            "slide": slide,
            "lathe_id": lathe_id,
            "instrument_id": instrument_id,
            **more,
        }
        return self.post(f"/api/parts/{part_id}/features", body, expect)

    def piece(self, part_id: int, **body: Any) -> int:
        return int(self.post(f"/api/parts/{part_id}/pieces", body, 201)["id"])

    def job(
        self, designation: str, unit: str = "in", lathe: Json | None = None, **feature: Any
    ) -> Job:
        """A part with one feature and one piece, ready for its first reading."""
        lathe_given = dict(lathe or {})
        lathe_unit = lathe_given.pop("unit", unit)
        if lathe_unit == "mm":
            lathe_given = {"graduation": "0.02", "compound_graduation": "0.02"} | lathe_given
        instrument = feature.pop("instrument", None) or (
            {} if unit == "in" else {"resolution": "0.001", "max_error": "0.002"}
        )
        material = feature.pop("material", "carbon steel")
        lathe_id = self.lathe(lathe_unit, **lathe_given)
        instrument_id = self.instrument(unit, **instrument)
        part_id = self.part(unit, material)
        feature_id = self.feature(part_id, designation, lathe_id, instrument_id, **feature)["id"]
        return Job(self, part_id, feature_id, self.piece(part_id), unit)

    def thread(self, wire: str = "0.032", **more: Any) -> Job:
        """5/8-18 UNF-2A over wires on the compound at 29.5 degrees."""
        settings = {"slide": "compound", "method": "over_wires", "wire": wire} | more
        return self.job(SHAFT_THREAD, **settings)


class Job:
    """One feature of one piece."""

    def __init__(
        self, shop: Workshop, part_id: int, feature_id: int, piece_id: int, unit: str
    ) -> None:
        self.shop = shop
        self.part_id = part_id
        self.feature_id = feature_id
        self.piece_id = piece_id
        self.unit = unit

    def in_unit(self, unit: str) -> Job:
        """The same job with readings typed in another unit."""
        return Job(self.shop, self.part_id, self.feature_id, self.piece_id, unit)

    def body(self, value: str, **more: Any) -> Json:
        return {
            "feature_id": self.feature_id,
            "value": value,
            "unit": self.unit,
            "entry_key": new_key(),
            **more,
        }

    def send(self, body: Json, expect: int | None = 201) -> Json:
        return self.shop.post(f"/api/pieces/{self.piece_id}/readings", body, expect)

    def read(
        self, value: str, dial_step: str | None = None, *, expect: int = 201, **more: Any
    ) -> Json:
        step = {} if dial_step is None else {"dial_step": dial_step}
        return self.send(self.body(value, **step, **more), expect)

    def refused(self, value: str, dial_step: str | None = None, **more: Any) -> Json:
        """A reading that must not be stored: its error body, the history being as it was."""
        before = self.entries()
        step = {} if dial_step is None else {"dial_step": dial_step}
        response = self.shop.client.post(
            f"/api/pieces/{self.piece_id}/readings", json=self.body(value, **step, **more)
        )
        assert 400 <= response.status_code < 500, response.text
        assert self.entries() == before
        answer: Json = response.json()
        return answer

    def cut(self, dial_step: str, *, expect: int = 201, **more: Any) -> Json:
        body = {
            "feature_id": self.feature_id,
            "dial_step": dial_step,
            "entry_key": new_key(),
            **more,
        }
        return self.shop.post(f"/api/pieces/{self.piece_id}/passes", body, expect)

    def event(self, event: str, *, expect: int = 201, **more: Any) -> Json:
        body = {"event": event, "entry_key": new_key(), **more}
        return self.shop.post(f"/api/pieces/{self.piece_id}/events", body, expect)

    def strike(self, reading_id: int, reason: str = "misread", *, expect: int = 200) -> Json:
        return self.shop.post(f"/api/readings/{reading_id}/strike", {"reason": reason}, expect)

    def finish(self, *, expect: int = 200, **body: Any) -> Json:
        return self.shop.post(f"/api/pieces/{self.piece_id}/finish", body, expect)

    def history(self) -> Json:
        return self.shop.get(f"/api/pieces/{self.piece_id}/history")

    def entries(self) -> list[Json]:
        entries: list[Json] = self.history()["features"][0]["entries"]
        return entries
