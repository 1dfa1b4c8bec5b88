"""Every word that the screens use for something of the trade, in one or two plain sentences."""

from __future__ import annotations

from server.wording import say, say_as

MEANINGS = {
    # records
    say("Part"): say("What the drawing describes: name, number, material, unit and features."),
    say("Piece"): say("One workpiece made to a part. A lot has several, numbered 1, 2, 3."),
    say("Lot"): say("Pieces made to the same part, looked at side by side."),
    say("Feature"): say("One size to reach on a part: a diameter, a thread, a groove or a length."),
    say("Limits"): say("The smallest and the largest size that the drawing allows, at 20 °C."),
    say("Aim"): say("The size to land on. The middle of the limits unless you move it."),
    say("Tolerance"): say("The high limit less the low limit: all the room there is."),
    say("Allowance"): say(
        "The gap a class keeps between the largest thread and the basic size, so that "
        "parts go together or take a plating."
    ),
    say("Reading"): say(
        "One measurement as taken: what you read, with what, how warm, who and when."
    ),
    say("Pass"): say(
        "One cut: which slide was moved and how far. It may have no reading after it."
    ),
    say("Event"): say(
        "Something that ends what was learned of the offset: a tool changed, a dial "
        "re-zeroed, a piece re-chucked."
    ),
    say("Strike"): say(
        "To cross a wrong reading out with a reason. It stays visible and counts no more."
    ),
    say("Size"): say("What a reading means: the feature's own size at 20 °C, with its doubt."),
    say("Doubt"): say(
        "How far the true size may be from the size shown, both ways, with about 95 % "
        "confidence (k = 2)."
    ),
    say("Stock"): say("Metal still on, to come off."),
    say("Next cut"): say("What to dial now, on which slide, and where that should land."),
    say("Landing"): say(
        "The size expected after the next cut, with the range it falls in nine times of ten."
    ),
    say("Target card"): say("Every number of one feature on a small sheet."),
    say("Tool crib"): say("The shop's instruments, wire sets and lathes."),
    say("Parts"): say("The screen of what is in work, and of what to start."),
    say("At the lathe"): say("The screen with the next cut and the field for the reading."),
    say("Pass history"): say("The screen of every pass and reading of a piece in order."),
    say("Shop"): say(
        "The screen of what holds for the whole shop: units, temperature, rule, materials."
    ),
    say("Digest"): say(
        "A short code worked out from every reading of a piece; it changes when one does."
    ),
    say("Drift"): say("Sizes that creep from piece to piece, mostly because the tool wears."),
    say("Capability"): say(
        "How much of the tolerance the spread of the pieces takes, as a figure with its interval."
    ),
    # verdicts, warmth, states
    say("No reading yet"): say("Nothing was logged on this feature."),
    say("Stock left"): say("Metal is still on: cut more."),
    say("In limits"): say("The size is inside the limits even with its doubt taken into account."),
    say("Too close to call"): say("The doubt reaches over a limit, so the reading can't decide."),
    say("Past the limit"): say("Too much came off; no cut brings it back."),
    say("Settled"): say("Warmth matters too little here to change anything."),
    say("Drifting"): say("The part is off temperature and the size moves a little with it."),
    say("Wait"): say(
        "Warmth could change the verdict or the next cut: let it cool and measure again."
    ),
    say("As the shop"): say("The part feels like everything else in the shop."),
    say("Barely warm"): say("A little above the shop, just noticeable by hand."),
    say("Warm in the hand"): say("Clearly warm and still easy to hold."),
    say("Too hot to hold"): say("You let go of it."),
    say("In work"): say("The piece is not finished."),
    say("Good"): say("Finished with every feature in its limits."),
    say("Concession"): say("Out of its limits and used all the same, with a reason and initials."),
    say("Scrap"): say("Cut too far or spoiled, with a reason."),
    say("Reworked"): say("A finished piece opened again, with a reason."),
    # kinds of feature, threads
    say("Outside diameter"): say("A turned diameter; cutting makes it smaller."),
    say("Bore"): say("An inside diameter; cutting makes it larger."),
    say("External thread"): say("A thread on the outside of a bar, as on a screw."),
    say("Internal thread"): say("A thread in a hole, as in a nut."),
    say("Groove diameter"): say("The diameter at the floor of a turned groove."),
    say("Length"): say("An axial size, faced or turned to a shoulder."),
    say("Designation"): say("A size as the drawing writes it: 5/8-18 UNF-2A, M20x2.5-6g, 25 h6."),
    say("Nominal"): say("The size by which something is called: 5/8 for a 5/8-18 thread."),
    say("Class"): say(
        "How tight a thread or fit is: 2A, 6g, h6. A and lower case are outside, B and upper "
        "case inside."
    ),
    say("Pitch"): say("From one thread to the next, along the axis."),
    say("TPI"): say("Threads per inch: how many pitches fit in one inch."),
    say("Lead"): say("How far the thread moves in one turn: the pitch times the number of starts."),
    say("Starts"): say("How many threads run side by side. Nearly always one."),
    say("Half angle"): say("From a flank to a line square to the axis: 30° for a 60° thread."),
    say("Hand"): say("Right-hand threads tighten clockwise; left-hand ones (LH) the other way."),
    say("Crest"): say("The top of a thread: the outside of a screw, the bore of a nut."),
    say("Crest diameter"): say("The diameter over the crests: major outside, minor inside."),
    say("Root"): say("The bottom of the groove between two threads."),
    say("Flank"): say("The sloping side of a thread, between crest and root."),
    say("Leading flank"): say("The flank on the side the tool travels toward."),
    say("Trailing flank"): say("The other flank, that the tool leaves behind."),
    say_as("thread", "Major diameter"): say(
        "The largest diameter of a thread: over the crests of a screw."
    ),
    say("Minor diameter"): say("The smallest diameter of a thread: over the roots of a screw."),
    say("Pitch diameter"): say(
        "The diameter where thread and groove are equally wide. It decides how a thread fits."
    ),
    say("Relief"): say("A groove cut below the root, for the tool to run out into."),
    say("Chamfer"): say("A slope turned on the end so that the thread starts clean."),
    say("Fit"): say(
        "How a shaft and its hole go together, by letters and grades such as H7 and h6."
    ),
    # measuring
    say("Direct"): say(
        "Measured across the feature itself, with micrometer, calliper or bore gauge."
    ),
    say("Over three wires"): say(
        "Three equal wires lie in the thread and the micrometer reads over them; "
        "the wire constant comes off."
    ),
    say("Over wires"): say("What the micrometer reads with wires in the thread."),
    say("Over two balls"): say(
        "Two equal balls lie in an internal thread and the gauge reads across them."
    ),
    say("Thread micrometer"): say(
        "A micrometer with a cone and a vee that reads the pitch diameter directly."
    ),
    say("GO and NOT GO gauges"): say(
        "GO must enter and NOT GO must not. They say yes or no and give no size."
    ),
    say("GO"): say("The gauge that checks that nothing is too tight; it must enter."),
    say("NOT GO"): say("The gauge that checks that nothing is too loose; it must not enter."),
    say("Best wire"): say(
        "The wire that touches the flanks at the pitch diameter, where the thread angle "
        "matters least."
    ),
    say("Wire constant"): say("What the reading over wires has more than the pitch diameter."),
    say("On the corners"): say(
        "Wires on the crest edges of a groove that is still too shallow; the reading is rough."
    ),
    say("Handbook rule"): say(
        "The formula of wire charts, which leaves the tilt of the thread out."
    ),
    say("Exact contact"): say(
        "Where the wire really touches the tilted flank, worked out in full."
    ),
    say("Lead correction"): say(
        "Exact contact less handbook rule: what the tilt of the thread adds."
    ),
    say("Flattening"): say(
        "Wires and thread give way under the micrometer, so it reads a little low."
    ),
    say("Resolution"): say("The finest line or digit of an instrument."),
    say("Maximum permissible error"): say("The largest error an instrument's paper allows."),
    say("Zero check"): say(
        "Closing the instrument, or reading a standard, to see how far off it is."
    ),
    say("Standard"): say("A piece of known size to check an instrument on, such as a gauge block."),
    say("Station"): say("A place along the work, to see taper."),
    say("Taper"): say("One end larger than the other."),
    say("Guard band"): say(
        "A strip inside each limit, as wide as the doubt, where a size is not called in limits."
    ),
    say("Plain acceptance"): say("The size as read decides; its doubt is left out of the verdict."),
    say("Growth"): say("How much a material lengthens when warm, in µm per metre and °C."),
    # cutting
    say("Cross-slide"): say("The slide that moves the tool square to the axis."),
    say("Compound"): say(
        "The small slide on top that can be set to an angle. Set flat it is a fine feed."
    ),
    say("Carriage"): say("The slide that moves along the bed."),
    say("Graduation"): say("What one line of a dial is."),
    say("Counts diameter"): say("One line of the dial takes that much off the diameter."),
    say("Slide travel"): say(
        "One line of the dial moves the slide that far; twice that comes off the diameter."
    ),
    say("Backlash"): say(
        "The free turn of a handle before the slide moves. Always come in the same way."
    ),
    say("Infeed"): say("How far the tool goes in, square to the axis, from touching the crest."),
    say("Spring pass"): say(
        "A cut with nothing dialled. It takes off what gave way in the cuts before."
    ),
    say("Pass schedule"): say(
        "The cuts of a thread from first touch to size, with chips of equal area."
    ),
    say("Tool flat"): say("The width of the tip of a threading tool."),
    say("Nose radius"): say("The rounding of the tip of a tool."),
    say("Tool changed"): say("Another tip or a new edge: the offset starts again."),
    say("Dial re-zeroed"): say("The dial was set anew: earlier dial numbers no longer compare."),
    say("Re-chucked"): say("The piece was taken out and put back: it may run differently."),
    say("Burr"): say("A raised edge left by a cut. File it off before measuring."),
}
