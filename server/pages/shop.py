"""Shop: units, temperature, decision rule, language, materials, operators."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session

from server import __version__
from server.logbook import shop, shop_materials
from server.logbook.problems import refuse
from server.logbook.rework import ScrapReason, scrap_reasons
from server.metrology import materials
from server.metrology.decision import GuardRule
from server.metrology.units import from_celsius
from server.pages.forms import Fields
from server.pages.language import LANGUAGES
from server.pages.parts import NO_PROBLEMS
from server.pages.render import book, carried_out, page, see_other, theme_of
from server.pages.view_shop import ScrapLine
from server.pages.views import MaterialRow, OperatorRow, Problem, ShopPage
from server.pages.words import DECISION_RULES, TEMPERATURE_UNITS, UNITS, day
from server.wording import either, joined, say, say_n

router = APIRouter()
A_YEAR_S = 365 * 24 * 3600

RULE_WORDS = {
    GuardRule.FULL: say("A size is in limits only when it is inside by more than its doubt."),
    GuardRule.NINETY_FIVE: say("A size is in limits when it is so with at least 95 % chance."),
    GuardRule.PLAIN: say("The size as read decides; up to half of the parts on a limit are wrong."),
}


@router.get("/shop")
def get_shop(request: Request) -> Response:
    return shop_page(request)


def shop_page(
    request: Request,
    typed: dict[str, str] | None = None,
    problems: tuple[Problem, ...] = NO_PROBLEMS,
    status: int = 200,
) -> Response:
    logbook = book(request)
    with logbook.reading() as session:
        row = shop.shop_row(session)
        degrees = shop.shop_temperature_c(session, logbook.now().date().isoformat())
        unit = shop.temperature_unit(session)
        own = shop_materials.own_materials(session)
        view = ShopPage(
            title=say("Shop"),
            nav="shop",
            theme=theme_of(request),
            typed=typed or {},
            problems=problems,
            unit=row.unit,
            units=UNITS,
            temperature_unit=unit,
            temperature_units=TEMPERATURE_UNITS,
            shop_temperature=f"{from_celsius(degrees, unit):.1f}".removesuffix(".0"),
            rule=row.decision_rule,
            rules=DECISION_RULES,
            rule_words=RULE_WORDS[GuardRule(row.decision_rule)],
            past_limit_percent=f"{row.past_chance_bound * 100:g}",
            materials=tuple(material_row(each, is_own=True) for each in own)
            + tuple(material_row(each, is_own=False) for each in materials.all_materials()),
            operators=tuple(
                OperatorRow(initials=each.initials, words=each.name)
                for each in shop.operator_rows(session)
            ),
            scrap=tuple(scrap_line(each) for each in scrap_reasons(session)),
            about=say(
                "Midlimit {version} on {engine}.",
                version=__version__,
                engine=logbook.database.engine_version,
            ),
        )
    return page(request, view, status)


def scrap_line(found: ScrapReason) -> ScrapLine:
    lost = say("{features} past the limit", features=joined(found.features))
    last = say("last on {date}", date=day(found.last_at))
    return ScrapLine(
        reason=found.reason,
        count=say_n(found.count, "{n} piece", "{n} pieces"),
        words=joined([last, lost if found.features else ""]),
    )


def material_row(material: materials.Material, *, is_own: bool) -> MaterialRow:
    return MaterialRow(
        name=material.words,
        expansion=say(
            "{middle} ({low} to {high})",
            middle=f"{material.expansion_per_c * 1e6:.1f}",
            low=f"{material.low_per_c * 1e6:.1f}",
            high=f"{material.high_per_c * 1e6:.1f}",
        ),
        basis=material.basis,
        source=material.source,
        is_own=is_own,
    )


def changed(
    request: Request,
    form: str,
    fields: dict[str, str],
    change: Callable[[Session, datetime], object],
) -> Response:
    return carried_out(
        request, {"form": form} | fields, change, partial(shop_page, request), "/shop"
    )


@router.post("/shop")
def post_shop(request: Request, fields: Fields) -> Response:
    def change(session: Session, now: datetime) -> None:
        shop.change_shop(
            session,
            fields.get("unit", ""),
            fields.get("rule", ""),
            fields.get("past_limit_percent", ""),
            now,
        )
        if fields.get("shop_temperature", "").strip():
            shop.note_shop_temperature(
                session,
                fields["shop_temperature"],
                fields.get("temperature_unit", ""),
                now,
            )

    return changed(request, "shop", fields, change)


@router.post("/shop/operators")
def post_operator(request: Request, fields: Fields) -> Response:
    return changed(
        request,
        "operator",
        fields,
        lambda session, now: shop.add_operator(
            session, fields.get("initials", ""), fields.get("name", ""), now
        ),
    )


@router.post("/shop/materials")
def post_material(request: Request, fields: Fields) -> Response:
    growth = fields.get("expansion", "")
    return changed(
        request,
        "material",
        fields,
        lambda session, now: shop_materials.add_material(
            session,
            fields.get("name", ""),
            fields.get("expansion_low", "") or growth,
            fields.get("expansion_high", "") or growth,
            fields.get("is_plastic") != "true",
            fields.get("source", ""),
            now,
        ),
    )


@router.post("/language")
def post_language(request: Request, fields: Fields) -> Response:
    """The language of the screens, for the device that asks."""
    language = fields.get("language", "")
    if language not in LANGUAGES:
        words = say("Choose {languages}.", languages=either(LANGUAGES.values()))
        raise refuse(422, "not_a_choice", words, "language")
    answer = see_other("/shop")
    answer.set_cookie(
        "language",
        language,
        max_age=A_YEAR_S,
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )
    return answer
