"""The working from a reading across two balls at 20 degrees C to the pitch diameter."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.logbook import sizes
from server.logbook.setup import Setup
from server.logbook.sizes import Contact
from server.logbook.working_steps import Given, Scale, Step, angle
from server.metrology import ball_groove, balls
from server.metrology.groove import ContactCase
from server.metrology.model import Rule, ThreadTarget
from server.metrology.wires import Wires
from server.wording import say

BALL_SOURCE = say("plane geometry of balls in the groove")
CONTACT_SOURCE = say("ball against helical flank, solved; equations derived for this program")
CASE_WORDS = {
    ContactCase.CORNER.value: say("They rest on the corners of the bore: a rough size."),
    ContactCase.FLANK.value: say("They sit on the flanks."),
}


@dataclass(frozen=True)
class OverBalls:
    """From a reading across two balls to the pitch diameter of an internal thread."""

    setup: Setup
    target: ThreadTarget
    ball_mm: float
    scale: Scale
    at_20_mm: float
    contact: Contact

    def steps(self) -> list[Step]:
        a = angle("a", say("half angle"), self.target.half_angle_rad)
        p = self.scale.length("P", say("pitch"), self.target.pitch_mm)
        d = self.scale.length("d", say("ball"), self.ball_mm)
        bore_mm = sizes.bore_under_balls_mm(self.setup, self.target)
        words = say("bore, assumed") if self.setup.crest_is_assumed else say("bore")
        bore = self.scale.length("B", words, bore_mm)
        size = self.scale.result("E", say("pitch diameter"), self.contact.size_mm)
        reading = self.scale.length("M20", say("reading at 20 °C"), self.at_20_mm)
        if self.contact.case == "uncut":
            formula, inputs = "B − P / (2 × tan(a)) + M20 − B", (bore, p, a, reading)
            return [Step(say("Pitch diameter, uncut"), size, formula, inputs, BALL_SOURCE)]
        centres_mm = balls.centres_mm(self.at_20_mm, self.target, self.ball_mm)
        seat_mm = ball_groove.seating_centres_mm(bore_mm, self.ball_mm, self.target.half_angle_rad)
        leans = self.target.starts % 2 == 1
        steps = [
            Step(
                say("Distance of the ball centres across the axis"),
                self.scale.result("C", say("centres apart"), centres_mm),
                "√((M20 − d)² − (P / 2)²)" if leans else "M20 − d",
                (reading, d, p) if leans else (reading, d),
                BALL_SOURCE,
                say("The balls of a pair lie half a pitch apart.") if leans else "",
            ),
            Step(
                say("Where the balls come to sit on the flanks"),
                self.scale.result("S", say("centres apart from which on they sit"), seat_mm),
                "B − d × sin(a)",
                (bore, d, a),
                BALL_SOURCE,
                CASE_WORDS[self.contact.case],
            ),
        ]
        centres = self.scale.length("C", say("centres apart"), centres_mm)
        if self.contact.case == ContactCase.CORNER.value:
            return steps + self._corner(bore, bore_mm, centres, centres_mm, d, p, a, size)
        return steps + self._flank(centres, d, p, a, size)

    def _corner(
        self,
        bore: Given,
        bore_mm: float,
        centres: Given,
        centres_mm: float,
        d: Given,
        p: Given,
        a: Given,
        size: Given,
    ) -> list[Step]:
        stands_mm = (bore_mm - centres_mm) / 2
        rule = sizes.rule_in_force(self.setup, self.target, Wires.nominal(self.ball_mm))
        found = ball_groove.contact_case(self.at_20_mm, bore_mm, self.target, self.ball_mm, rule)
        half_angle = self.target.half_angle_rad
        b_mm = self.ball_mm / 2 * math.cos(half_angle)
        b_mm -= (found.infeed_to_seat_mm or 0.0) * math.tan(half_angle)
        b = self.scale.length("b", say("half the opening of the groove"), b_mm)
        stands = self.scale.length("H", say("centre inside the bore"), stands_mm)
        return [
            Step(
                say("How far the ball's centre stands inside the bore"),
                self.scale.result("H", say("centre inside the bore"), stands_mm),
                "(B − C) / 2",
                (bore, centres),
                BALL_SOURCE,
            ),
            Step(
                say("Opening at the bore"),
                self.scale.result("b", say("half the opening of the groove"), b_mm),
                "√(max(0, (d / 2)² − H²))",
                (d, stands),
                BALL_SOURCE,
            ),
            Step(
                say("Pitch diameter"),
                size,
                "B + (2 × b − P / 2) / tan(a)",
                (bore, b, p, a),
                BALL_SOURCE,
            ),
        ]

    def _flank(self, centres: Given, d: Given, p: Given, a: Given, size: Given) -> list[Step]:
        formula = "C − P / (2 × tan(a)) + d / sin(a)"
        rule = sizes.rule_in_force(self.setup, self.target, Wires.nominal(self.ball_mm))
        if rule is Rule.HANDBOOK:
            return [Step(say("Pitch diameter"), size, formula, (centres, p, a, d), BALL_SOURCE)]
        handbook_mm = balls.pitch_diameter_mm(
            self.at_20_mm, self.target, self.ball_mm, Rule.HANDBOOK
        )
        extra_mm = self.contact.size_mm - handbook_mm
        extra = self.scale.length("e", say("exact less handbook"), extra_mm)
        return [
            Step(
                say("What the exact contact changes"),
                self.scale.result("e", say("exact less handbook"), extra_mm),
                source=CONTACT_SOURCE,
                note=say("No closed formula: the contact is solved until it repeats itself."),
            ),
            Step(
                say("Pitch diameter"),
                size,
                f"{formula} + e",
                (centres, p, a, d, extra),
                BALL_SOURCE,
            ),
        ]
