"""No fault whatever is sent: any body to any address of the contract."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.web.conftest import World, modest, the_job
from tests.web.workshop import SHAFT_THREAD, Job, Json, new_key

junk = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**30), 10**30),
    st.integers(-2, 12),
    st.floats(),
    st.text(max_size=30),
    st.text("0123456789.,+-/ xXMGTr#UNFABHhg(P)e±Ø", max_size=16),
    st.sampled_from(
        [
            "1e400",
            "NaN",
            "9" * 5000,
            "16,5",
            "0.00000001",
            "4999",
            "M10",
            "25 h6",
            "40 H7",
            "\x00",
            "=1+1",
            "99999-1 UN-2A",
            "0.0001 ±0.00001",
        ]
    ),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.sampled_from(["value", "touch", "unit", "angle_deg"]), st.integers()),
)


def valid_bodies(job: Job) -> dict[str, Json]:
    lathe = {
        "name": "Lathe",
        "unit": "mm",
        "cross_slide": {"counts": "diameter", "graduation": "0.02"},
        "compound": {
            "counts": "travel",
            "graduation": "0.02",
            "angle_deg": 29.5,
            "angle_from": "cross_slide",
        },
    }
    feature = {
        "label": "Thread",
        "designation": SHAFT_THREAD,
        "method": "over_wires",
        "wire": "0.8128",
        "slide": "compound",
        "lathe_id": 1,
        "instrument_id": 1,
        "aim": "14.86",
        "crest_diameter": "15.7",
        "tool": {"nose_radius": "0.1"},
        "compound": {"angle_deg": 29.5, "angle_from": "cross_slide"},
        "rule": "exact",
        "kind": "external_thread",
    }
    reading = {
        "feature_id": job.feature_id,
        "value": "25.4",
        "unit": "mm",
        "dial_step": "0.1",
        "slide": "cross_slide",
        "temperature": {"value": 21.5, "unit": "C"},
        "instrument_temperature": {"value": 20},
        "instrument_id": 1,
        "wire": "0.8",
        "entry_key": "key",
        "station": "A",
        "note": "note",
        "confirm": True,
        "last_seq": 0,
    }
    piece = f"/api/pieces/{job.piece_id}"
    return {
        "/api/targets": {
            "designation": SHAFT_THREAD,
            "unit": "in",
            "wire": "0.032",
            "rule": "exact",
        },
        "/api/lathes": lathe,
        "/api/instruments": {
            "name": "M",
            "kind": "micrometer",
            "unit": "mm",
            "resolution": "0.001",
            "max_error": "0.002",
        },
        "/api/wire-sets": {"name": "W", "unit": "mm", "nominal": "0.8", "measured": ["0.8"] * 3},
        "/api/parts": {"name": "P", "material": "carbon steel", "unit": "mm"},
        f"/api/parts/{job.part_id}/features": feature,
        f"/api/features/{job.feature_id}/setup": {
            "slide": "cross_slide",
            "compound": {"angle_deg": 5.74, "angle_from": "axis"},
        },
        f"/api/parts/{job.part_id}/pieces": {"serial": "1"},
        f"{piece}/readings": reading,
        f"{piece}/passes": {"feature_id": job.feature_id, "dial_step": "0.1", "entry_key": "key"},
        f"{piece}/events": {"event": "rezeroed", "entry_key": "key"},
        f"{piece}/gauges": {
            "feature_id": job.feature_id,
            "gauge": "go",
            "enters": True,
            "entry_key": "key",
        },
        "/api/readings/1/strike": {"reason": "why"},
        f"{piece}/finish": {"initials": "AB", "reason": "why", "as": "good"},
        "/api/sharing/codes": {"role": "log"},
        "/api/pair": {"code": "123456", "name": "tablet", "initials": "AB"},
    }


PATHS = range(16)


@pytest.mark.parametrize("which", PATHS)
@settings(modest, max_examples=25)
@given(data=st.data())
def test_no_body_makes_a_fault(world: World, which: int, data: st.DataObject) -> None:
    job = the_job(world)
    path, valid = list(valid_bodies(job).items())[which]
    body: Any = dict(valid)
    if "entry_key" in body:
        body["entry_key"] = new_key()
    if data.draw(st.integers(0, 9)) == 0:
        body = data.draw(junk)
    else:
        for name in data.draw(st.sets(st.sampled_from(sorted(valid)), min_size=1, max_size=3)):
            body[name] = data.draw(junk)
    response = world.shop.client.post(
        path, content=json.dumps(body), headers={"content-type": "application/json"}
    )

    assert response.status_code < 500
    answer = response.json()
    if response.status_code >= 400:
        assert set(answer["error"]) == {"code", "message", "field"}
    else:
        json.dumps(answer, allow_nan=False)


def test_every_post_endpoint_of_the_contract_is_among_those_sent_to(world: World) -> None:
    sent = list(valid_bodies(the_job(world)))
    kinds = {"".join(letter for letter in path if not letter.isdigit()) for path in sent}

    assert len(PATHS) == len(sent)
    assert {
        "/api/targets",
        "/api/lathes",
        "/api/instruments",
        "/api/parts",
        "/api/parts//features",
        "/api/parts//pieces",
        "/api/pieces//readings",
        "/api/pieces//passes",
        "/api/pieces//events",
        "/api/readings//strike",
        "/api/pieces//finish",
    } <= kinds
