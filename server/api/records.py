"""What is read out of the records: the working of a feature, lots, inspection records."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request

from server.api.asked import Id, book
from server.api.schemas import ERROR, Body, Text
from server.logbook import record
from server.logbook.lots import lot_json, lot_of
from server.logbook.repeat import copy_part
from server.logbook.rework import rework
from server.logbook.working import working_json, working_of

router = APIRouter()


class CopyIn(Body):
    name: Text = ""
    number: Text = ""


class ReworkIn(Body):
    reason: Text
    initials: Text = ""


@router.get("/pieces/{piece_id}/features/{feature_id}/working", responses=ERROR)
def get_working(request: Request, piece_id: Id, feature_id: Id) -> dict[str, Any]:
    with book(request).reading() as session:
        return working_json(working_of(session, piece_id, feature_id))


@router.get("/parts/{part_id}/lot", responses=ERROR)
def get_lot(request: Request, part_id: Id) -> dict[str, Any]:
    with book(request).reading() as session:
        return lot_json(lot_of(session, part_id))


@router.post("/parts/{part_id}/copy", status_code=201, responses=ERROR)
def post_copy(request: Request, part_id: Id, body: CopyIn | None = None) -> dict[str, int]:
    asked = body or CopyIn()
    with book(request).writing() as (session, now):
        return {"id": copy_part(session, part_id, asked.name, asked.number, now).id or 0}


@router.get("/pieces/{piece_id}/record", responses=ERROR)
def get_piece_record(request: Request, piece_id: Id) -> dict[str, Any]:
    with book(request).reading() as session:
        return record.piece_json(record.record_of_piece(session, piece_id))


@router.get("/parts/{part_id}/record", responses=ERROR)
def get_lot_record(request: Request, part_id: Id) -> dict[str, Any]:
    with book(request).reading() as session:
        return record.lot_json(record.record_of_lot(session, part_id))


@router.post("/pieces/{piece_id}/rework", responses=ERROR)
def post_rework(request: Request, piece_id: Id, body: ReworkIn) -> dict[str, Any]:
    with book(request).writing() as (session, now):
        return rework(session, piece_id, body.reason, body.initials, now)
