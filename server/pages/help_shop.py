"""Help for the screens away from the lathe: the lot, the record, the tool crib and the shop."""

from __future__ import annotations

from server.pages.view_guide import help_section as section
from server.wording import say

SHOP_SECTIONS = (
    section(
        "lot",
        say("The lot"),
        say(
            "The pieces of one part side by side: final sizes, drift from piece to piece, and how "
            "well the process holds the limits."
        ),
        (
            say("Look at the first and the last piece against the limits."),
            say("Where drift is sure, set the dial by the amount it names."),
            say("Start the next piece from here."),
        ),
        (
            say("What makes sizes drift?"),
            say(
                "Mostly the tool wearing, so that shafts grow and bores shrink; also the machine "
                "warming up."
            ),
        ),
        (
            say("Why is no capability shown?"),
            say("A few pieces say too little. With enough of them it is shown with its interval."),
        ),
        (
            say("Which readings count?"),
            say("The final size of each piece; struck readings and pieces without a size don't."),
        ),
    ),
    section(
        "record",
        say("Inspection record"),
        say(
            "What goes to the customer: limits, final sizes with their doubt, instruments, "
            "temperature, rule, who and when."
        ),
        (
            say("Finish the piece first, so that the record says how."),
            say("Print it, or save it as CSV, spreadsheet or JSON."),
            say("Keep the digest with it."),
        ),
        (
            say("What is the digest for?"),
            say(
                "It is worked out from every reading. If one changes its text, time or strike, the "
                "digest changes too."
            ),
        ),
        (
            say("Which rule decided?"),
            say("The one named at the foot, chosen under Shop."),
        ),
        (
            say("Does a good size over wires pass the thread?"),
            say(
                "It passes the pitch diameter. Form and lead show on a GO ring or the mating "
                "part; log that as evidence."
            ),
        ),
    ),
    section(
        "crib",
        say("Tool crib"),
        say(
            "The shop's lathes, instruments and wire sets, with what their dials count and when "
            "they were last checked."
        ),
        (
            say("Add each lathe with one line of each dial."),
            say("Add each instrument with what it reads to and its largest error."),
            say("Check zeros on a standard and note what they read."),
        ),
        (
            say("What is “error at most”?"),
            say(
                "The largest error its paper or calibration allows. Left empty, the usual one of "
                "its kind is taken."
            ),
        ),
        (
            say("What does a zero check change?"),
            say("The zero error is taken off later readings, and the doubt gets smaller."),
        ),
        (
            say("Nominal or measured wires?"),
            say(
                "Measure them if you can: an error in the wire counts about three times in the "
                "pitch diameter of a 60° thread."
            ),
        ),
    ),
    section(
        "shop",
        say("Shop"),
        say(
            "What holds for the whole shop: units, temperature, the rule that decides, materials, "
            "operators."
        ),
        (
            say("Note the shop temperature in the morning."),
            say("Choose when a size is in limits and what chance of going past you accept."),
            say("Add the initials of who works here."),
        ),
        (
            say("Which rule should we take?"),
            say(
                "“Inside by more than its doubt” is the default: nobody can then prove the part "
                "out. Plain acceptance takes the size as read."
            ),
        ),
        (
            say("What is the chance a piece may go past a limit?"),
            say(
                "Your bound for a whole piece. Lower it and the last steps get smaller and more "
                "numerous."
            ),
        ),
        (
            say("My material is not in the list."),
            say("Add it with its growth in µm per metre and °C from the supplier's sheet."),
        ),
    ),
    section(
        "sharing",
        say("Sharing"),
        say(
            "Other tablets of the shop on this Midlimit, each with a role, and the list of who did "
            "what."
        ),
        (
            say("Make a code on the machine that Midlimit runs on."),
            say("Open the address on the tablet, type the code and your initials."),
            say("End the pairing of a device that was lost or sold."),
        ),
        (
            say("What may each role do?"),
            say(
                "Look sees every page. Log also takes readings and finishes pieces. Manage also "
                "sets up parts, the tool crib and the shop."
            ),
        ),
        (
            say("What happens when the link drops?"),
            say("Readings wait on the tablet and are sent when it is back, each one once."),
        ),
        (
            say("Can the list of who did what be changed?"),
            say("No. It only grows."),
        ),
    ),
)
