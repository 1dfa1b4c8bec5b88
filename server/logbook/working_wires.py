"""The working from a reading over wires at 20 degrees C to the pitch diameter."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.logbook import sizes
from server.logbook.setup import Setup
from server.logbook.sizes import Contact
from server.logbook.working_steps import Given, Scale, Step, angle
from server.metrology import groove
from server.metrology import wires as wire_rules
from server.metrology.groove import ContactCase
from server.metrology.model import Rule, ThreadTarget
from server.wording import joined, say, sentence

WIRE_SOURCE = say("NBS Handbook H28, ASME B1.2 (formula recalled)")
CONTACT_SOURCE = say("wire against helical flank, solved; equations derived for this program")
GROOVE_SOURCE = say("plane geometry of the groove")
CASE_WORDS = {
    ContactCase.ROOT.value: say("The wires rest on the root of the groove: a rough size."),
    ContactCase.CORNER.value: say("They rest on the corners of the crest: a rough size."),
    ContactCase.FLANK.value: say("They sit on the flanks."),
    ContactCase.FLUSH.value: say("They do not stand above the crest: no size to rely on."),
    "uncut": say("They do not reach into the groove yet: a rough size."),
}


@dataclass(frozen=True)
class OverWires:
    """From a reading over wires to the pitch diameter."""

    setup: Setup
    target: ThreadTarget
    wires: wire_rules.Wires
    scale: Scale
    at_20_mm: float
    contact: Contact

    def length(self, symbol: str, words: str, value_mm: float) -> Given:
        return self.scale.length(symbol, words, value_mm)

    @property
    def rule(self) -> Rule:
        return sizes.rule_in_force(self.setup, self.target, self.wires)

    @property
    def crest_mm(self) -> float:
        return sizes.crest_under_wires_mm(self.setup, self.target)

    @property
    def flattening_mm(self) -> float:
        return sizes.flattening_applied_mm(self.setup, self.target, self.wires)

    @property
    def half_angle(self) -> Given:
        return angle("a", say("half angle"), self.target.half_angle_rad)

    @property
    def pitch(self) -> Given:
        return self.length("P", say("pitch"), self.target.pitch_mm)

    @property
    def wire(self) -> Given:
        return self.length("w", say("wire"), self.wires.effective_mm)

    @property
    def crest(self) -> Given:
        words = (
            say("crest diameter, assumed") if self.setup.crest_is_assumed else say("crest diameter")
        )
        return self.length("D", words, self.crest_mm)

    @property
    def reading(self) -> Given:
        return self.length("M20", say("reading at 20 °C"), self.at_20_mm)

    @property
    def size(self) -> Given:
        return self.scale.result("E", say("pitch diameter"), self.contact.size_mm)

    def steps(self) -> list[Step]:
        by_case = {
            ContactCase.CORNER.value: self._corner,
            ContactCase.ROOT.value: self._root,
            "uncut": self._uncut,
        }
        return [
            *self._effective(),
            self._seat(),
            *by_case.get(self.contact.case, self._flank)(),
        ]

    def _effective(self) -> list[Step]:
        single, first, second = self.wires.each_mm
        if single == first == second:
            return []
        return [
            Step(
                say("One wire that would read the same"),
                self.scale.result("w", say("wire"), self.wires.effective_mm),
                "w1 / 2 + (w2 + w3) / 4",
                (
                    self.length("w1", say("single wire"), single),
                    self.length("w2", say("first of the pair"), first),
                    self.length("w3", say("second of the pair"), second),
                ),
                WIRE_SOURCE,
            )
        ]

    def _seat(self) -> Step:
        seat_mm = groove.seating_reading_mm(
            self.crest_mm, self.wires.effective_mm, self.target.half_angle_rad
        )
        carried = (
            say("Flanks carry them from S down; the helix raises that a little.")
            if self.rule is Rule.EXACT
            else say("Flanks carry them from S down.")
        )
        return Step(
            say("Where the wires come to sit on the flanks"),
            self.scale.result("S", say("reading at and below which they sit"), seat_mm),
            "D + w × (1 + sin(a))",
            (self.crest, self.wire, self.half_angle),
            GROOVE_SOURCE,
            joined((CASE_WORDS[self.contact.case], carried), " "),
        )

    def _flank(self) -> list[Step]:
        a, p, w_mm = self.target.half_angle_rad, self.target.pitch_mm, self.wires.effective_mm
        constant_mm = wire_rules.constant_mm(w_mm, p, a)
        steps = [
            Step(
                say("What the wires add"),
                self.scale.result("K", say("reading less pitch diameter"), constant_mm),
                "w × (1 + 1 / sin(a)) − P / (2 × tan(a))",
                (self.wire, self.half_angle, self.pitch),
                WIRE_SOURCE,
            ),
            self._lead_term(),
        ]
        taken = self._flattening()
        steps += taken
        terms = "M20 + y − K" if taken else "M20 − K"
        inputs = [self.reading, self.length("K", say("what the wires add"), constant_mm)]
        if taken:
            inputs.append(self.length("y", say("flattening"), self.flattening_mm))
        if self.rule is Rule.HANDBOOK:
            source = say("{source}, handbook rule", source=WIRE_SOURCE)
            return [*steps, Step(say("Pitch diameter"), self.size, terms, tuple(inputs), source)]
        handbook_mm = wire_rules.pitch_diameter_mm(
            self.at_20_mm, self.target, self.wires, Rule.HANDBOOK, self.flattening_mm
        )
        extra_mm = self.contact.size_mm - handbook_mm
        steps.append(
            Step(
                say("What the exact contact changes"),
                self.scale.result("e", say("exact less handbook"), extra_mm),
                source=CONTACT_SOURCE,
                note=say("No closed formula: the contact is solved until it repeats itself."),
            )
        )
        inputs.append(self.length("e", say("exact less handbook"), extra_mm))
        source = say("exact contact of wire and flank")
        return [
            *steps,
            Step(say("Pitch diameter"), self.size, f"{terms} + e", tuple(inputs), source),
        ]

    def _lead_term(self) -> Step:
        lowest_mm, _ = self.target.pitch_diameter.both()
        term_mm = wire_rules.lead_term_mm(
            self.wires.effective_mm, lowest_mm, self.target.lead_mm, self.target.half_angle_rad
        )
        limit = self.scale.length("", "", wire_rules.LEAD_TERM_LIMIT_MM)
        return Step(
            say("What the handbook rule leaves out"),
            self.scale.result("c", say("lead term"), term_mm),
            "w × (L / (π × El))² × cos(a) / (2 × tan(a))",
            (
                self.wire,
                self.length("L", say("lead"), self.target.lead_mm),
                self.length("El", say("low limit of the pitch diameter"), lowest_mm),
                self.half_angle,
            ),
            WIRE_SOURCE,
            joined(
                (
                    sentence(self._rule_words()),
                    say(
                        "Where none is set: handbook rule while c is under {limit}, else the "
                        "exact contact.",
                        limit=f"{limit.text} {limit.unit}",
                    ),
                ),
                " ",
            ),
        )

    def _rule_words(self) -> str:
        is_set = self.setup.rule is not None
        if self.rule is Rule.HANDBOOK:
            return (
                say("The handbook rule is in force, as set for this feature")
                if is_set
                else say("The handbook rule is in force, by the thread")
            )
        return (
            say("The exact rule is in force, as set for this feature")
            if is_set
            else say("The exact rule is in force, by the thread")
        )

    def _flattening(self) -> list[Step]:
        if not self.flattening_mm:
            return []
        return [
            Step(
                say("What the measuring force takes off the reading"),
                self.scale.result("y", say("flattening"), self.flattening_mm),
                source=say("Hertz contact; Puttock and Thwaite (recalled); force of ASME B1.2"),
                note=say("Added back, since these wires are certified to zero force."),
            )
        ]

    def _corner(self) -> list[Step]:
        tip, tan_a = self.setup.tip, math.tan(self.target.half_angle_rad)
        found = groove.contact_case(
            self.at_20_mm,
            self.crest_mm,
            self.target,
            self.wires,
            self.rule,
            tip,
            self.flattening_mm,
        )
        wire_mm = self.wires.effective_mm
        if tip is not None and found.depth_mm is not None:
            b_mm = groove.half_opening_mm(found.depth_mm, self.target.half_angle_rad, tip)
        else:
            b_mm = wire_mm / 2 * math.cos(self.target.half_angle_rad)
            b_mm -= (found.infeed_to_seat_mm or 0.0) * tan_a
        return [
            *self._flattening(),
            *self._opening(b_mm),
            *self._from_opening(b_mm, found.depth_mm),
        ]

    def _opening(self, b_mm: float) -> list[Step]:
        opening = self.scale.result("b", say("half the opening of the groove"), b_mm)
        if self.rule is Rule.EXACT:
            note = say("No closed formula under the exact rule: halved until it repeats itself.")
            return [Step(say("Opening at the crest"), opening, source=GROOVE_SOURCE, note=note)]
        above_mm = self.at_20_mm + self.flattening_mm - self.crest_mm - self.wires.effective_mm
        inputs = [self.reading, self.crest, self.wire]
        if self.flattening_mm:
            inputs.append(self.length("y", say("flattening"), self.flattening_mm))
        stands = "(M20 + y − D − w) / 2" if self.flattening_mm else "(M20 − D − w) / 2"
        return [
            Step(
                say("How high the wire's axis stands above the crest"),
                self.scale.result("H", say("axis above the crest"), above_mm / 2),
                stands,
                tuple(inputs),
                GROOVE_SOURCE,
            ),
            Step(
                say("Opening at the crest"),
                opening,
                "√((w / 2)² − H²)",
                (self.wire, self.length("H", say("axis above the crest"), above_mm / 2)),
                GROOVE_SOURCE,
            ),
        ]

    def _from_opening(self, b_mm: float, depth_mm: float | None) -> list[Step]:
        b = self.length("b", say("half the opening of the groove"), b_mm)
        if depth_mm is None:
            inputs = (self.crest, b, self.pitch, self.half_angle)
            formula = "D − (2 × b − P / 2) / tan(a)"
            return [Step(say("Pitch diameter"), self.size, formula, inputs, GROOVE_SOURCE)]
        return [self._depth(b, b_mm, depth_mm), self._from_depth(depth_mm)]

    def _depth(self, b: Given, b_mm: float, depth_mm: float) -> Step:
        tip = self.setup.tip
        assert tip is not None
        depth = self.scale.result("h", say("depth of the groove"), depth_mm)
        radius_mm = tip.nose_radius_mm
        if b_mm < radius_mm * math.cos(self.target.half_angle_rad):
            inputs = (b, self.length("r", say("nose radius"), radius_mm))
            return Step(say("Depth of the groove"), depth, "r − √(r² − b²)", inputs, GROOVE_SOURCE)
        return Step(
            say("Depth of the groove"),
            depth,
            "(b − f / 2) / tan(a)",
            (b, self._flat(), self.half_angle),
            GROOVE_SOURCE,
        )

    def _flat(self) -> Given:
        tip = self.setup.tip
        assert tip is not None
        words = (
            say("flat that reaches as deep as the nose radius")
            if tip.nose_radius_mm
            else say("tool flat")
        )
        return self.length("f", words, tip.equivalent_flat_mm(self.target.half_angle_rad))

    def _from_depth(self, depth_mm: float) -> Step:
        return Step(
            say("Pitch diameter"),
            self.size,
            "D − 2 × h + (P / 2 − f) / tan(a)",
            (
                self.crest,
                self.length("h", say("depth of the groove"), depth_mm),
                self.pitch,
                self._flat(),
                self.half_angle,
            ),
            GROOVE_SOURCE,
        )

    def _root(self) -> list[Step]:
        found = groove.contact_case(
            self.at_20_mm,
            self.crest_mm,
            self.target,
            self.wires,
            self.rule,
            self.setup.tip,
            self.flattening_mm,
        )
        depth_mm = found.depth_mm or 0.0
        inputs = [self.crest, self.wire, self.reading]
        if self.flattening_mm:
            inputs.append(self.length("y", say("flattening"), self.flattening_mm))
        reads = "(M20 + y)" if self.flattening_mm else "M20"
        return [
            *self._flattening(),
            Step(
                say("Depth of the groove"),
                self.scale.result("h", say("depth of the groove"), depth_mm),
                f"max(0, D / 2 + w − {reads} / 2)",
                tuple(inputs),
                GROOVE_SOURCE,
            ),
            self._from_depth(depth_mm),
        ]

    def _uncut(self) -> list[Step]:
        return [
            Step(
                say("Pitch diameter, uncut"),
                self.size,
                "D + P / (2 × tan(a)) + M20 − D − 2 × w",
                (self.crest, self.pitch, self.half_angle, self.reading, self.wire),
                GROOVE_SOURCE,
                say("Only a start: the reading is above what any groove here can give."),
            )
        ]
