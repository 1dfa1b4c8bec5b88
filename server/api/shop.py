"""The shop and its instruments: decision rule, temperature, materials, zero checks."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Request
from pydantic import Field

from server.api.asked import Id, book
from server.api.schemas import ERROR, Body, Text, TypedOrNumber, Unit
from server.logbook import crib, shop, shop_materials
from server.metrology.decision import GuardRule

router = APIRouter()
Coefficient = Annotated[
    TypedOrNumber, Field(description="Expansion coefficient in µm/(m·°C); steel is 11 to 12.5")
]


class ShopIn(Body):
    """What is left out stays as it is."""

    unit: Unit | None = None
    decision_rule: GuardRule | None = Field(
        default=None,
        description=(
            "u_guard: ISO 14253-1 with a guard band of the whole doubt; 1645: conformance at 95 %, "
            "g = 1.645 u; plain: no guard band. In force for every verdict from now on; finished "
            "pieces keep theirs."
        ),
    )
    past_chance_bound: float | None = Field(
        default=None, description="Accepted chance to go past a limit, per piece, 0.0001 to 0.2"
    )


class ShopTemperatureIn(Body):
    value: TypedOrNumber
    unit: Literal["C", "F"] = "C"


class MaterialIn(Body):
    name: Text
    expansion_low: Coefficient
    expansion_high: TypedOrNumber | None = Field(
        default=None, description="The same unit; left out: as the low one"
    )
    is_metal: bool = Field(default=True, description="False: touch words don't hold for it")
    source: Text = ""


class ZeroCheckIn(Body):
    value: TypedOrNumber = Field(description="What the instrument shows, in `unit`")
    unit: Unit
    standard: TypedOrNumber | None = Field(
        default=None, description="Size of the standard it was tried on; left out: closed, at zero"
    )
    operator: Text = ""


@router.get("/shop", responses=ERROR)
def get_shop(request: Request) -> dict[str, Any]:
    logbook = book(request)
    with logbook.reading() as session:
        return crib.shop_json(session, logbook.now())


@router.post("/shop", responses=ERROR)
def post_shop(request: Request, body: ShopIn) -> dict[str, Any]:
    with book(request).writing() as (session, now):
        crib.set_shop(session, now, body.unit, body.decision_rule, body.past_chance_bound)
        return crib.shop_json(session, now)


@router.post("/shop/temperature", status_code=201, responses=ERROR)
def post_temperature(request: Request, body: ShopTemperatureIn) -> dict[str, Any]:
    with book(request).writing() as (session, now):
        row = shop.note_shop_temperature(session, body.value, body.unit, now)
        return {"day": row.day, "value": row.value, "unit": row.unit}


@router.get("/materials", responses=ERROR)
def get_materials(request: Request) -> list[dict[str, Any]]:
    with book(request).reading() as session:
        return crib.materials_json(session)


@router.post("/materials", status_code=201, responses=ERROR)
def post_material(request: Request, body: MaterialIn) -> dict[str, int]:
    high = body.expansion_low if body.expansion_high is None else body.expansion_high
    with book(request).writing() as (session, now):
        row = shop_materials.add_material(
            session, body.name, body.expansion_low, high, body.is_metal, body.source, now
        )
        return {"id": row.id or 0}


@router.get("/instruments", responses=ERROR)
def get_instruments(request: Request) -> list[dict[str, Any]]:
    """Those in use, with their zero, their check and how they repeat."""
    logbook = book(request)
    with logbook.reading() as session:
        return crib.instruments_json(session, logbook.now())


@router.post("/instruments/{instrument_id}/zero-checks", status_code=201, responses=ERROR)
def post_zero_check(request: Request, instrument_id: Id, body: ZeroCheckIn) -> dict[str, Any]:
    """What it shows wrong is taken off every reading from now on, until the next check."""
    with book(request).writing() as (session, now):
        row = crib.check_zero(
            session,
            instrument_id,
            body.value,
            body.unit,
            body.operator,
            now,
            standard=body.standard or "",
        )
        return {"id": row.id, "zero": row.value, "unit": row.unit}
