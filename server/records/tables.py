"""The tables.  What a person typed is text beside the millimetres it was read as.

Entries, strikes, answers and closings are only ever added. Times are ISO 8601 in UTC; the order
of a history is the entry's number, never its time.
"""

from __future__ import annotations

from sqlalchemy import Column, Index, Text
from sqlmodel import Field, SQLModel

SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class ShopRow(SQLModel, table=True):
    __tablename__ = "shop"
    id: int = Field(default=1, primary_key=True)
    unit: str = "mm"
    decision_rule: str = "u_guard"
    past_chance_bound: float = 0.005


class ShopTemperatureRow(SQLModel, table=True):
    __tablename__ = "shop_temperature"
    id: int | None = Field(default=None, primary_key=True)
    day: str = Field(index=True)
    value: str
    unit: str
    celsius: float
    at: str


class OperatorRow(SQLModel, table=True):
    __tablename__ = "operator"
    id: int | None = Field(default=None, primary_key=True)
    initials: str = Field(unique=True)
    name: str = ""


class MaterialRow(SQLModel, table=True):
    """A material the shop added to the built-in ones."""

    __tablename__ = "material"
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    expansion_low_per_c: float
    expansion_high_per_c: float
    is_metal: bool = True
    source: str = ""


class LatheRow(SQLModel, table=True):
    __tablename__ = "lathe"
    id: int | None = Field(default=None, primary_key=True)
    name: str
    unit: str
    cross_slide_counts: str
    cross_slide_graduation: str
    compound_counts: str
    compound_graduation: str
    compound_angle_deg: float
    compound_angle_from: str
    carriage_graduation: str = ""
    retired_at: str | None = None


class InstrumentRow(SQLModel, table=True):
    __tablename__ = "instrument"
    id: int | None = Field(default=None, primary_key=True)
    name: str
    kind: str
    unit: str
    resolution: str
    max_error: str
    last_checked: str | None = None
    due: str | None = None
    retired_at: str | None = None


class ZeroCheckRow(SQLModel, table=True):
    """What the instrument showed at zero or on its standard; taken off later readings."""

    __tablename__ = "zero_check"
    id: int | None = Field(default=None, primary_key=True)
    instrument_id: int = Field(foreign_key="instrument.id", index=True)
    value: str
    unit: str
    value_mm: float
    operator: str = ""
    at: str


class WireSetRow(SQLModel, table=True):
    __tablename__ = "wire_set"
    id: int | None = Field(default=None, primary_key=True)
    name: str
    unit: str
    nominal: str
    measured: str = ""  # up to three sizes as typed, the single wire first
    sized: str = "under_load"  # or zero_force
    retired_at: str | None = None


class PartRow(SQLModel, table=True):
    __tablename__ = "part"
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(index=True)
    number: str = Field(default="", index=True)
    material: str
    unit: str
    created_at: str


class FeatureRow(SQLModel, table=True):
    __tablename__ = "feature"
    id: int | None = Field(default=None, primary_key=True)
    part_id: int = Field(foreign_key="part.id", index=True)
    label: str
    designation: str = Field(index=True)
    kind: str
    method: str
    unit: str
    wire: str = ""
    wire_set_id: int | None = Field(default=None, foreign_key="wire_set.id")
    aim: str = ""
    slide: str
    lathe_id: int = Field(foreign_key="lathe.id")
    instrument_id: int = Field(foreign_key="instrument.id")
    tool_shape: str = ""  # nose_radius or flat
    tool_size: str = ""
    crest_diameter: str = ""
    compound_angle_deg: float | None = None
    compound_angle_from: str = ""
    rule: str = ""
    created_at: str


class PieceRow(SQLModel, table=True):
    __tablename__ = "piece"
    id: int | None = Field(default=None, primary_key=True)
    part_id: int = Field(foreign_key="part.id", index=True)
    number: int
    serial: str = ""
    opened_at: str
    closed_as: str = Field(default="", index=True)  # "", good, scrap, concession


class EntryRow(SQLModel, table=True):
    """A reading, a pass or an event as it was logged.  Never changed."""

    __tablename__ = "entry"
    __table_args__ = (Index("ix_entry_piece_id_id", "piece_id", "id"),)
    id: int | None = Field(default=None, primary_key=True)
    piece_id: int = Field(foreign_key="piece.id")
    feature_id: int | None = Field(default=None, foreign_key="feature.id")
    type: str  # reading, pass, event, gauge
    entry_key: str = Field(unique=True)
    body: str = Field(sa_column=Column(Text, nullable=False))  # the request as understood, JSON
    at: str
    operator: str = ""
    note: str = ""
    value: str = ""
    unit: str = ""
    value_mm: float | None = None
    dial_step: str | None = None
    dial_step_unit: str = ""
    dial_step_mm: float | None = None
    size_step_mm: float | None = None  # what that meant on the size, as the slides stood then
    slide: str = ""
    temperature: str = ""  # as typed, or the touch word
    temperature_unit: str = ""
    temperature_c: float | None = None
    touch: str = ""
    instrument_temperature_c: float | None = None
    instrument_id: int | None = Field(default=None, foreign_key="instrument.id")
    wire: str = ""
    wire_mm: float | None = None
    station: str = ""
    event: str = ""
    gauge_result: str = ""


class StrikeRow(SQLModel, table=True):
    __tablename__ = "strike"
    entry_id: int = Field(primary_key=True, foreign_key="entry.id")
    reason: str
    operator: str = ""
    at: str


class AnswerRow(SQLModel, table=True):
    """What was worked out and shown after a reading, with the core that did it."""

    __tablename__ = "answer"
    entry_id: int = Field(primary_key=True, foreign_key="entry.id")
    core_version: str
    size_mm: float | None = None
    doubt_mm: float | None = None
    size_low_mm: float | None = None
    size_high_mm: float | None = None
    verdict: str = ""
    warm_state: str = ""
    landing_low_mm: float | None = None
    landing_expected_mm: float | None = None
    landing_high_mm: float | None = None
    body: str = Field(sa_column=Column(Text, nullable=False))


class ClosingRow(SQLModel, table=True):
    """How a piece was finished: one row each time, so that a second look adds, never changes."""

    __tablename__ = "closing"
    id: int | None = Field(default=None, primary_key=True)
    piece_id: int = Field(foreign_key="piece.id", index=True)
    closed_as: str
    decision_rule: str
    initials: str = ""
    reason: str = ""
    verdicts: str = Field(default="{}", sa_column=Column(Text, nullable=False))
    at: str


class LearnedRow(SQLModel, table=True):
    """What a finished feature taught about its lathe, material and kind of cut."""

    __tablename__ = "learned"
    id: int | None = Field(default=None, primary_key=True)
    lathe_id: int = Field(foreign_key="lathe.id", index=True)
    material: str
    cut: str
    piece_id: int = Field(foreign_key="piece.id")
    feature_id: int = Field(foreign_key="feature.id")
    body: str = Field(sa_column=Column(Text, nullable=False))
    at: str


class ScatterRow(SQLModel, table=True):
    """How repeat readings with one instrument scattered on a finished feature."""

    __tablename__ = "scatter"
    __table_args__ = (Index("ix_scatter_instrument_id_method", "instrument_id", "method"),)
    id: int | None = Field(default=None, primary_key=True)
    instrument_id: int = Field(foreign_key="instrument.id")
    method: str
    piece_id: int = Field(foreign_key="piece.id", index=True)
    feature_id: int = Field(foreign_key="feature.id")
    squares_mm2: float
    dof: float
    at: str


class AuditRow(SQLModel, table=True):
    """Who did what: added with each change, never edited."""

    __tablename__ = "audit"
    id: int | None = Field(default=None, primary_key=True)
    at: str
    who: str = ""  # initials
    device: str = Field(default="", sa_column_kwargs={"server_default": ""})
    action: str
    about: str = ""


ENTRY, ANSWER, AUDIT = (SQLModel.metadata.tables[name] for name in ("entry", "answer", "audit"))


class SearchRow(SQLModel, table=True):
    """What a finished piece can be found by, folded; derived, and made anew with each closing."""

    __tablename__ = "search"
    piece_id: int = Field(primary_key=True, foreign_key="piece.id")
    text: str = Field(sa_column=Column(Text, nullable=False))


class RevisionRow(SQLModel, table=True):
    """Counts the changes of the shop, so that what was read of it before is known to hold."""

    __tablename__ = "revision"
    id: int = Field(default=1, primary_key=True)
    number: int = 0


class PairingRow(SQLModel, table=True):
    """A code that lets one device in, once, for a few minutes."""

    __tablename__ = "pairing"
    id: int | None = Field(default=None, primary_key=True)
    salt: str
    code_hash: str
    role: str
    made_at: str
    expires_at: str
    tries_left: int
    ended_at: str | None = None


class DeviceRow(SQLModel, table=True):
    """A paired device.  Its token is kept as a hash; ended devices stay on record."""

    __tablename__ = "device"
    id: int | None = Field(default=None, primary_key=True)
    name: str
    initials: str = ""
    role: str
    token_hash: str = Field(unique=True)
    paired_at: str
    seen_at: str
    ended_at: str | None = None
