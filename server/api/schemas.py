"""The JSON bodies of the HTTP contract.  What a person typed travels as text."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field


def number_as_text(value: Any) -> Any:
    """A client may send 0.001 where the contract has "0.001"."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return repr(value)


Typed = Annotated[str, Field(max_length=8000)]
TypedOrNumber = Annotated[str, BeforeValidator(number_as_text), Field(max_length=8000)]
Unit = Literal["in", "mm"]
RowId = Annotated[int, Field(ge=1, le=2**31 - 1)]
Text = Annotated[str, Field(max_length=8000)]


class Body(BaseModel):
    model_config = ConfigDict(extra="forbid", str_strip_whitespace=False)


class TargetIn(Body):
    designation: Text
    unit: Unit
    wire: TypedOrNumber | None = None
    rule: Literal["handbook", "exact"] | None = None
    kind: Text | None = None


class CrossSlideIn(Body):
    counts: Literal["diameter", "travel"]
    graduation: TypedOrNumber


class CompoundIn(Body):
    counts: Literal["diameter", "travel"] = "travel"
    graduation: TypedOrNumber
    angle_deg: float = 0.0
    angle_from: Literal["cross_slide", "axis"] = "cross_slide"


class CarriageIn(Body):
    graduation: TypedOrNumber


class LatheIn(Body):
    name: Text
    unit: Unit
    cross_slide: CrossSlideIn
    compound: CompoundIn
    carriage: CarriageIn | None = None


class InstrumentIn(Body):
    name: Text
    kind: Text
    unit: Unit
    resolution: TypedOrNumber
    max_error: TypedOrNumber | None = None
    last_checked: Text | None = None
    due: Text | None = None


class WireSetIn(Body):
    name: Text
    unit: Unit
    nominal: TypedOrNumber
    measured: list[TypedOrNumber] = Field(default_factory=list, max_length=3)
    sized: Literal["under_load", "zero_force"] = "under_load"


class PartIn(Body):
    name: Text
    number: Text = ""
    material: Text
    unit: Unit


class ToolIn(Body):
    nose_radius: TypedOrNumber | None = None
    flat: TypedOrNumber | None = None


class FeatureCompoundIn(Body):
    angle_deg: float
    angle_from: Literal["cross_slide", "axis"]


class FeatureIn(Body):
    label: Text
    designation: Text
    kind: Text | None = None
    method: Annotated[str, Field(min_length=1, max_length=8000)]
    unit: Unit | None = None
    wire: TypedOrNumber | None = None
    wire_set_id: RowId | None = None
    aim: TypedOrNumber | None = None
    slide: Literal["cross_slide", "compound", "carriage"]
    lathe_id: RowId
    instrument_id: RowId
    tool: ToolIn | None = None
    crest_diameter: TypedOrNumber | None = None
    compound: FeatureCompoundIn | None = None
    rule: Literal["handbook", "exact"] | None = None


class SetupIn(Body):
    slide: Literal["cross_slide", "compound", "carriage"]
    compound: FeatureCompoundIn | None = None


class PieceIn(Body):
    serial: Text = ""


class TemperatureIn(Body):
    value: float | None = None
    unit: Literal["C", "F"] = "C"
    touch: Literal["shop", "barely_warm", "warm", "too_hot"] | None = None


class ReadingIn(Body):
    feature_id: RowId
    value: Typed
    unit: Unit
    dial_step: TypedOrNumber | None = None
    dial_step_unit: Unit | None = Field(
        default=None, description="Of the dial that was moved, where it is not the `unit`."
    )
    slide: Literal["cross_slide", "compound", "carriage"] | None = None
    temperature: TemperatureIn | None = None
    instrument_temperature: TemperatureIn | None = None
    instrument_id: RowId | None = None
    wire: TypedOrNumber | None = None
    entry_key: Text
    station: Text = Field(
        default="",
        description=(
            "Where it was taken: the distance from the chuck in the `unit` of this reading, or "
            "with its own (25 mm, 1.5 in), the angle around the axis in degrees after @ (25 @90), "
            "or any name. Numbers of two stations or more give the taper."
        ),
    )
    note: Text = ""
    operator: Text = ""
    confirm: bool = False
    last_seq: Annotated[int, Field(ge=0, le=2**31 - 1)] | None = None


class PassIn(Body):
    feature_id: RowId
    slide: Literal["cross_slide", "compound", "carriage"] | None = None
    dial_step: TypedOrNumber
    unit: Unit | None = None
    entry_key: Text
    note: Text = ""
    operator: Text = ""


class EventIn(Body):
    feature_id: RowId | None = None
    event: Literal["tool_changed", "rezeroed", "rechucked"]
    entry_key: Text
    note: Text = ""
    operator: Text = ""


class GaugeIn(Body):
    feature_id: RowId
    gauge: Literal["go", "not_go"]
    enters: bool
    entry_key: Text
    note: Text = ""
    operator: Text = ""


class StrikeIn(Body):
    reason: Text
    operator: Text = ""


class FinishIn(Body):
    initials: Text = ""
    reason: Text = ""
    as_: Literal["good", "scrap", "concession"] = Field(default="good", alias="as")

    model_config = ConfigDict(extra="forbid", populate_by_name=True)


class ErrorDetail(BaseModel):
    code: str
    message: str
    field: str


class ErrorOut(BaseModel):
    error: ErrorDetail
    problems: list[ErrorDetail] | None = None


ERROR: dict[int | str, dict[str, Any]] = {
    status: {"model": ErrorOut, "description": words}
    for status, words in {
        400: "The body is no text at all, or the request is not for this server",
        401: "The device that asks is not paired",
        403: "From another site, or more than the device's role allows",
        404: "There is no such thing",
        409: "It can't be done as things stand",
        413: "Too large",
        422: "Something in the request can't be read or can't be",
    }.items()
}
