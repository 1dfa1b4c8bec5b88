"""The JSON routes of the HTTP contract: text in, use case, numbers out."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse

from server import __version__
from server.api import records, schemas
from server.api import shop as shop_routes
from server.api.asked import Id, book
from server.logbook import cautions, closing, history, parts, shop, targets
from server.logbook.shop_instruments import NewInstrument, add_instrument
from server.logbook.shop_wires import NewWireSet, add_wire_set
from server.logbook.typed import EventTyped, GaugeTyped, PassTyped, ReadingTyped, TemperatureTyped

router = APIRouter(prefix="/api")
router.include_router(records.router)
router.include_router(shop_routes.router)


@router.get("/health")
def get_health(request: Request) -> dict[str, str]:
    logbook = book(request)
    logbook.check_database()
    about = {"status": "ok", "version": __version__, "database": logbook.database.engine_version}
    warning = logbook.space_warning()
    return about | {"warning": warning} if warning else about


@router.post("/targets", responses=schemas.ERROR)
def post_targets(body: schemas.TargetIn) -> dict[str, Any]:
    return targets.look_up(body.designation, body.unit, body.wire, body.rule, body.kind)


@router.post("/lathes", status_code=201, responses=schemas.ERROR)
def post_lathe(request: Request, body: schemas.LatheIn) -> dict[str, int]:
    new = shop.NewLathe(
        name=body.name,
        unit=body.unit,
        cross_slide_counts=body.cross_slide.counts,
        cross_slide_graduation=body.cross_slide.graduation.strip(),
        compound_counts=body.compound.counts,
        compound_graduation=body.compound.graduation.strip(),
        compound_angle_deg=body.compound.angle_deg,
        compound_angle_from=body.compound.angle_from,
        carriage_graduation=body.carriage.graduation.strip() if body.carriage else "",
    )
    with book(request).writing() as (session, now):
        return {"id": shop.add_lathe(session, new, now).id or 0}


@router.post("/instruments", status_code=201, responses=schemas.ERROR)
def post_instrument(request: Request, body: schemas.InstrumentIn) -> dict[str, int]:
    new = NewInstrument(
        name=body.name,
        kind=body.kind,
        unit=body.unit,
        resolution=body.resolution,
        max_error=body.max_error or "",
        last_checked=body.last_checked,
        due=body.due,
    )
    with book(request).writing() as (session, now):
        return {"id": add_instrument(session, new, now).id or 0}


@router.post("/wire-sets", status_code=201, responses=schemas.ERROR)
def post_wire_set(request: Request, body: schemas.WireSetIn) -> dict[str, int]:
    new = NewWireSet(body.name, body.unit, body.nominal, tuple(body.measured), body.sized)
    with book(request).writing() as (session, now):
        return {"id": add_wire_set(session, new, now).id or 0}


@router.post("/parts", status_code=201, responses=schemas.ERROR)
def post_part(request: Request, body: schemas.PartIn) -> dict[str, int]:
    with book(request).writing() as (session, now):
        part = parts.add_part(session, body.name, body.number, body.material, body.unit, now)
        return {"id": part.id or 0}


@router.post("/parts/{part_id}/features", status_code=201, responses=schemas.ERROR)
def post_feature(request: Request, part_id: Id, body: schemas.FeatureIn) -> dict[str, Any]:
    tool = body.tool or schemas.ToolIn()
    new = parts.NewFeature(
        label=body.label,
        designation=body.designation,
        method=body.method,
        slide=body.slide,
        lathe_id=body.lathe_id,
        instrument_id=body.instrument_id,
        kind=body.kind or "",
        unit=body.unit or "",
        wire=body.wire or "",
        wire_set_id=body.wire_set_id,
        aim=body.aim or "",
        nose_radius=tool.nose_radius or "",
        flat=tool.flat or "",
        crest_diameter=body.crest_diameter or "",
        compound_angle_deg=body.compound.angle_deg if body.compound else None,
        compound_angle_from=body.compound.angle_from if body.compound else "",
        rule=body.rule or "",
    )
    with book(request).writing() as (session, now):
        part = parts.part_of(session, part_id)
        feature = parts.add_feature(session, part, new, now)
        said = cautions.before_cutting(session, feature, shop.stamp(now)[:10])
        return {"id": feature.id, **targets.feature_json(session, feature), "warnings": said}


@router.post("/features/{feature_id}/setup", responses=schemas.ERROR)
def post_setup(request: Request, feature_id: Id, body: schemas.SetupIn) -> dict[str, Any]:
    with book(request).writing() as (session, now):
        compound = body.compound
        feature = parts.change_setup(
            session,
            feature_id,
            body.slide,
            compound.angle_deg if compound else None,
            compound.angle_from if compound else "",
            now,
        )
        return {"id": feature.id, "slide": feature.slide}


@router.post("/parts/{part_id}/pieces", status_code=201, responses=schemas.ERROR)
def post_piece(
    request: Request, part_id: Id, body: schemas.PieceIn | None = None
) -> dict[str, int]:
    with book(request).writing() as (session, now):
        part = parts.part_of(session, part_id)
        piece = parts.add_piece(session, part, body.serial if body else "", now)
        return {"id": piece.id or 0, "number": piece.number}


def temperature_typed(given: schemas.TemperatureIn | None) -> TemperatureTyped:
    if given is None:
        return TemperatureTyped()
    value = "" if given.value is None else repr(given.value)
    return TemperatureTyped(value, given.unit, given.touch or "")


@router.post("/pieces/{piece_id}/readings", status_code=201, responses=schemas.ERROR)
def post_reading(request: Request, piece_id: Id, body: schemas.ReadingIn) -> Response:
    """Log a reading; answers with what it means and what to dial next.

    `chance_conforming` is the chance that the size as it is now lies inside the limits. The chances
    in `next_cut` are those of the landing of the advised pass; where none is advised
    (`wait`, `measure_again`, a `finer_feed` without a step) they are of the size as it is now too.
    """
    typed = ReadingTyped(
        feature_id=body.feature_id,
        value=body.value,
        unit=body.unit,
        dial_step=body.dial_step,
        dial_step_unit=body.dial_step_unit or "",
        slide=body.slide or "",
        temperature=temperature_typed(body.temperature),
        instrument_temperature=temperature_typed(body.instrument_temperature),
        instrument_id=body.instrument_id,
        wire=body.wire or "",
        entry_key=body.entry_key,
        station=body.station,
        note=body.note,
        operator=body.operator,
        confirm=body.confirm,
        last_seq=body.last_seq,
    )
    answer = book(request).log_reading(piece_id, typed)
    return JSONResponse(answer.body, status_code=201 if answer.is_new else 200)


@router.post("/pieces/{piece_id}/passes", status_code=201, responses=schemas.ERROR)
def post_pass(request: Request, piece_id: Id, body: schemas.PassIn) -> Response:
    typed = PassTyped(
        feature_id=body.feature_id,
        dial_step=body.dial_step,
        unit=body.unit or "",
        slide=body.slide or "",
        entry_key=body.entry_key,
        note=body.note,
        operator=body.operator,
    )
    answer = book(request).log_pass(piece_id, typed)
    return JSONResponse(answer.body, status_code=201 if answer.is_new else 200)


@router.post("/pieces/{piece_id}/events", status_code=201, responses=schemas.ERROR)
def post_event(request: Request, piece_id: Id, body: schemas.EventIn) -> Response:
    typed = EventTyped(
        feature_id=body.feature_id,
        event=body.event,
        entry_key=body.entry_key,
        note=body.note,
        operator=body.operator,
    )
    answer = book(request).log_event(piece_id, typed)
    return JSONResponse(answer.body, status_code=201 if answer.is_new else 200)


@router.post("/pieces/{piece_id}/gauges", status_code=201, responses=schemas.ERROR)
def post_gauge(request: Request, piece_id: Id, body: schemas.GaugeIn) -> Response:
    typed = GaugeTyped(
        feature_id=body.feature_id,
        gauge=body.gauge,
        enters=body.enters,
        entry_key=body.entry_key,
        note=body.note,
        operator=body.operator,
    )
    answer = book(request).log_gauge(piece_id, typed)
    return JSONResponse(answer.body, status_code=201 if answer.is_new else 200)


@router.post("/readings/{entry_id}/strike", responses=schemas.ERROR)
def post_strike(request: Request, entry_id: Id, body: schemas.StrikeIn) -> dict[str, Any]:
    return book(request).strike(entry_id, body.reason, body.operator)


@router.post("/passes/{entry_id}/strike", responses=schemas.ERROR)
def post_strike_pass(request: Request, entry_id: Id, body: schemas.StrikeIn) -> dict[str, Any]:
    return book(request).strike(entry_id, body.reason, body.operator, ("pass",))


@router.post("/pieces/{piece_id}/finish", responses=schemas.ERROR)
def post_finish(
    request: Request, piece_id: Id, body: schemas.FinishIn | None = None
) -> dict[str, Any]:
    asked = body or schemas.FinishIn()
    return book(request).finish(
        piece_id, closing.Finish(asked.as_, initials=asked.initials, reason=asked.reason)
    )


@router.get("/pieces/{piece_id}/history", responses=schemas.ERROR)
def get_history(request: Request, piece_id: Id) -> dict[str, Any]:
    with book(request).reading() as session:
        return history.history_json(session, piece_id)
