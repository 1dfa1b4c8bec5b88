"""What working.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.logbook.working import Section
from server.logbook.working_steps import Step
from server.pages.view_base import NO_VERDICT, Fact, Page, Verdict
from server.wording import say


@dataclass(frozen=True, kw_only=True)
class BudgetRow:
    """A line of the budget; step carries its formula and numbers."""

    name: str
    step: Step
    spread: str  # "1.270 µm"
    shape: str
    sensitivity: str
    contribution: str  # "0.733"
    share: str  # percent of u squared
    dof: str
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class LearnedRow:
    """One interval between readings, in the feature's unit."""

    number: str
    dialled: str
    removed: str
    fitted: str
    cuts: str


@dataclass(frozen=True, kw_only=True)
class PlanRow:
    number: str
    what: str  # "Roughing"
    dial: str  # "0.012 in on the cross-slide"
    after: str  # where the size should stand, or the depth
    measure: bool = False


@dataclass(frozen=True, kw_only=True)
class WorkingPage(Page):
    """working.html at /pieces/{id}/working?feature=ID; prints."""

    help: str = "working"
    piece_name: str
    part_name: str
    part_url: str
    feature_label: str
    designation: str
    source: str
    unit: str
    micro: str  # µin or µm
    size: str = ""
    doubt: str = ""
    verdict: Verdict = NO_VERDICT
    state_words: str = ""  # what the size is of, where a cut came after it
    tabs: tuple[Fact, ...] = ()  # label, value = address, note = "current"
    readings: tuple[Section, ...] = ()
    budget: tuple[BudgetRow, ...] = ()
    after_budget: tuple[Section, ...] = ()  # doubt, decision, stock, infeed
    learned_sentence: str = ""
    learned_facts: tuple[Fact, ...] = ()
    learned: tuple[LearnedRow, ...] = ()
    fitted_words: str = ""
    plan: tuple[PlanRow, ...] = ()
    plan_after: str = say("Size after it")
    plan_words: str = ""
    lathe_url: str
    history_url: str
    json_url: str
