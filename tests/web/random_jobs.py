"""Random features of every kind, unit and method, measured as a person would."""

from __future__ import annotations

import random
from dataclasses import dataclass

from tests.web.workshop import Job, Json, Workshop

STEEL, OTHERS = "carbon steel", ("aluminium 6061", "brass", "stainless steel 316")
TOUCHES = ("shop", "barely_warm", "warm", "too_hot")
RULES = ("u_guard", "1645", "plain")


@dataclass(frozen=True)
class Sort:
    """A sort of feature; offsets from the middle of the limits that are worth trying.  [unit]"""

    designation: str
    unit: str
    method: str = "direct"
    kind: str = ""
    slides: tuple[str, ...] = ("cross_slide",)
    offsets: tuple[float, ...] = (0.0, 0.3)
    tool: Json | None = None
    angle: float = 29.5
    rule: str = ""


PLAIN_MM, PLAIN_IN = (0.0, 0.004, 0.2, -0.02), (0.0, 0.0003, 0.02)
WIRES_MM, WIRES_IN = (0.0, 0.02, 0.4, 0.9, 1.4), (0.0, 0.002, 0.018, 0.035, 0.06)
SORTS = (
    Sort("25 h6", "mm", offsets=PLAIN_MM, slides=("cross_slide", "compound")),
    Sort("12.70 +0.00/-0.02", "mm", offsets=PLAIN_MM),
    Sort("0.7874 +0.0005/-0.0000", "in", offsets=PLAIN_IN, slides=("cross_slide", "compound")),
    Sort("40 H7", "mm", kind="bore", offsets=(0.0, -0.004, -0.3)),
    Sort("30.00/30.10", "mm", kind="length", slides=("carriage", "compound"), angle=80.0),
    Sort("0.400 +0.002/-0.002", "in", kind="groove_diameter", offsets=PLAIN_IN),
    Sort("5/8-18 UNF-2A", "in", "over_wires", slides=("compound",), offsets=WIRES_IN),
    Sort(
        "5/8-18 UNF-2A", "in", "over_wires", slides=("compound", "cross_slide"),
        offsets=WIRES_IN, tool={"flat": "0.007"}, rule="exact",
    ),
    Sort(
        "M20x1.5-6g", "mm", "over_wires", slides=("compound",), offsets=WIRES_MM,
        tool={"nose_radius": "0.15"},
    ),
    Sort(
        "M20x1.5-6g", "mm", "over_wires", slides=("compound",), offsets=(1.0, 1.08, 1.15, 1.2),
        tool={"flat": "0.6"},
    ),
    Sort("Tr40x14(P7)-7e", "mm", "over_wires", offsets=(0.0, 0.1), tool={"flat": "2.0"}),
    Sort("1-5 ACME-2G", "in", "over_wires", offsets=(0.0, 0.003, 0.05), tool={"flat": "0.06"}),
    Sort("M20x1.5-6g", "mm", "thread_micrometer", slides=("compound",), offsets=PLAIN_MM),
    Sort("M20x1.5-6H", "mm", "over_balls", offsets=(0.0, -0.02, -0.4, -0.7, -1.3)),
    Sort("M20x1.5-6H", "mm", "over_balls", offsets=(0.0, -0.02), rule="exact"),
)  # fmt: skip


def temperature(pick: random.Random) -> Json:
    note = pick.choice(("none", "C", "F", "touch"))
    if note == "none":
        return {}
    if note == "touch":
        return {"temperature": {"touch": pick.choice(TOUCHES)}}
    degrees = round(pick.uniform(16, 45), 1)
    more: Json = {}
    if pick.random() < 0.5:
        more = {"instrument_temperature": {"value": round(pick.uniform(18, 26), 1), "unit": "C"}}
    value = degrees if note == "C" else round(degrees * 1.8 + 32, 1)
    return {"temperature": {"value": value, "unit": note}} | more


def set_up(shop: Workshop, sort: Sort, pick: random.Random) -> tuple[Job, float]:
    """(the job, what its instrument shows at the middle of the limits)."""
    target = shop.targets(sort.designation, sort.unit, **({"kind": sort.kind} if sort.kind else {}))
    feature: Json = {"method": sort.method, "slide": pick.choice(sort.slides)}
    if sort.kind:
        feature["kind"] = sort.kind
    if sort.rule:
        feature["rule"] = sort.rule
    if sort.tool:
        feature["tool"] = sort.tool
    limits = target["limits"]
    own = limits.get("size") or limits["pitch_diameter"]
    middle = (own["low"] + own["high"]) / 2
    if sort.method in ("over_wires", "over_balls"):
        wires = target["wires"]
        share = pick.uniform(0.2, 0.6)
        wire = wires["best"] + share * (wires["largest"] - wires["best"])
        wire_text = f"{wire:.4f}" if sort.unit == "in" else f"{wire:.3f}"
        over = shop.targets(sort.designation, sort.unit, wire=wire_text)["over_wires"]
        middle = (over["low"] + over["high"]) / 2
        if pick.random() < 0.4:
            feature["wire_set_id"] = wire_set(shop, sort.unit, wire_text, pick)
        else:
            feature["wire"] = wire_text
    feature["material"] = pick.choice((STEEL, *OTHERS))
    job = shop.job(sort.designation, sort.unit, {"angle_deg": sort.angle}, **feature)
    return job, middle


def wire_set(shop: Workshop, unit: str, wire: str, pick: random.Random) -> int:
    places = len(wire.partition(".")[2])
    step = 10.0**-places
    measured = [f"{float(wire) + pick.choice((-1, 0, 1)) * step:.{places}f}" for _ in range(3)]
    body = {
        "name": "Set",
        "unit": unit,
        "nominal": wire,
        "measured": measured,
        "sized": pick.choice(("under_load", "zero_force")),
    }
    return int(shop.post("/api/wire-sets", body, 201)["id"])


def measured_job(shop: Workshop, sort: Sort, pick: random.Random) -> tuple[Job, Json]:
    """A job with one to four readings in one or two states, and the last answer."""
    rule = {"unit": sort.unit, "rule": pick.choice(RULES), "past_limit_percent": "0.5"}
    if pick.random() < 0.5:
        rule |= {"shop_temperature": str(pick.randint(17, 25)), "temperature_unit": "C"}
    shop.client.post("/shop", data=rule)
    job, middle = set_up(shop, sort, pick)
    places = 4 if sort.unit == "in" else 3
    if pick.random() < 0.5:
        check = {"instrument_id": str(newest_instrument(shop)), "unit": sort.unit}
        check |= {"value": f"{pick.choice((-2, 1, 3)) * 10.0**-places:.{places}f}"}
        assert shop.client.post("/crib/checks", data=check).status_code == 200
    offsets = sorted(pick.sample(sort.offsets, k=min(2, len(sort.offsets))), key=abs)
    answer: Json = {}
    step: str | None = None
    for offset in reversed(offsets[: pick.choice((1, 2))]):
        for _ in range(pick.choice((1, 1, 2, 3))):
            value = middle + offset + pick.choice((-1, 0, 1)) * 10.0**-places
            answer = say(job, sort, value, step, pick)
            step = None
        step = f"{abs(offset) / 3 + 10.0**-places:.{places}f}"
    return job, answer


def say(job: Job, sort: Sort, value: float, step: str | None, pick: random.Random) -> Json:
    if sort.unit == "in" and pick.random() < 0.2 and step is None:
        body = job.body(f"{value * 25.4:.3f}", confirm=True, **temperature(pick)) | {"unit": "mm"}
        return job.send(body)
    places = 4 if sort.unit == "in" else 3
    return job.read(f"{value:.{places}f}", step, confirm=True, **temperature(pick))


def newest_instrument(shop: Workshop) -> int:
    page = shop.client.get("/crib").text
    return max(int(text.split('"')[0]) for text in page.split('name="instrument_id" value="')[1:])
