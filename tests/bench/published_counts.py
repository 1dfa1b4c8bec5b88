"""How many published values each family is checked against, and how many of ours differ.

    python -m tests.bench.published_counts      prints the table of DEVELOPERS.md

Every count is made by comparing again, value by value, in the digits that were printed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from server.metrology import fits, fits_iso286, wires
from server.metrology.model import Kind
from server.metrology.threads import ba
from server.metrology.threads.metric_limits import deviation_um, tolerance_um
from server.metrology.units import rounded
from tests.metrology import (
    test_acme,
    test_fits_ansi,
    test_metric_published,
    test_pipe_g,
    test_trapezoidal,
    test_unified_published,
    test_whitworth,
    test_wires_published,
)
from tests.metrology.wire_targets import DEG_27_5, DEG_30
from tests.reference_rows import published, rows

Pairs = Iterator[tuple[str, str]]  # (printed, ours), both as written


@dataclass(frozen=True)
class Family:
    name: str
    pairs: Callable[[], Pairs]
    why: str = ""  # why some differ


def in_digits(printed: str, ours: float | Decimal | None) -> str:
    """Ours in as many decimals as were printed."""
    return "" if ours is None else str(rounded(ours, len(printed.partition(".")[2])))


def as_number(text: str) -> str:
    return str(Decimal(text).normalize()) if text else ""


def unified() -> Pairs:
    module = test_unified_published
    for row in published("un_limits"):
        ours = module.cells(module.thread(row["designation"]))
        for cell in module.CELLS:
            if row[cell]:
                yield row[cell], ours[cell]
    for row in published("un_basic"):
        size = f"{row['size']}-{row['tpi']} {row['series'].removeprefix('8-')}"
        external, internal = module.thread(f"{size}-3A"), module.thread(f"{size}-3B")
        yield row["basic_pd"], module.in_inch(external.basic_pitch_diameter_mm)
        yield row["unr_minor_ref"], module.in_inch(external.minor_diameter.high_mm)
        minor = module.in_inch(internal.minor_diameter.low_mm)
        places = 4 if Decimal(row["nominal_in"]) < Decimal("0.138") else 3
        yield str(rounded(Decimal(row["internal_minor_basic"]), places)), minor


def metric() -> Pairs:
    module = test_metric_published
    for row in published("iso965_limits"):
        target = module.thread(row["designation"])
        for cell in module.CELLS:
            if row[cell]:
                yield row[cell], str(module.cell_mm(target, cell))
    for row in published("iso965_tables"):
        quantity, pitch, printed = row["quantity"], Decimal(row["P"]), row["value_um"]
        if quantity in ("Td", "TD1", "Td2", "TD2"):
            grade = int(row["grade_or_position"])
            found = tolerance_um(quantity, Decimal(row["d_incl"] or 10), pitch, grade)
            yield printed, str(found[0])
        else:
            position = row["grade_or_position"].split("/")[0]
            deviation = deviation_um(position, pitch)
            yield printed.lstrip("-+"), "" if deviation is None else str(deviation[0])


def acme() -> Pairs:
    for row in rows("acme_b1_5"):
        for field, printed in test_acme.published_cells(row):
            yield printed, test_acme.of_row(row)[field]


def trapezoidal() -> Pairs:
    for row in published("trapezoidal"):
        for field, ours in test_trapezoidal.cells(row).items():
            if row[field]:
                yield row[field], in_digits(row[field], ours)


def whitworth() -> Pairs:
    module = test_whitworth
    for row in published("whitworth"):
        nut = module.target(f"{row['D_in']}-{row['tpi']} {row['series']}", Kind.INTERNAL_THREAD)
        yield row["major_max"], module.inch(nut.nominal_mm)
        yield row["pd_max"], module.inch(nut.basic_pitch_diameter_mm)
        yield row["minor_max"], module.inch(nut.minor_diameter.low_mm)


def pipe_g() -> Pairs:
    module = test_pipe_g
    for row in published("g_pipe"):
        found = module.target(f"{row['designation']} {row['class']}".strip())
        for name, limits in (
            ("major", found.major_diameter),
            ("pd", found.pitch_diameter),
            ("minor", found.minor_diameter),
        ):
            for end, value in (("max", limits.high_mm), ("min", limits.low_mm)):
                if row[f"{name}_{end}"]:
                    yield row[f"{name}_{end}"], module.shown(value)


def british_association() -> Pairs:
    for row in published("ba"):
        nut = ba.read(f"{row['number']} BA nut", None)
        if nut is None:
            raise LookupError(row["number"])
        for printed, ours in (
            (row["pitch_mm"], nut.pitch_mm),
            (row["major_mm"], nut.major_diameter.low_mm),
            (row["effective_mm"], nut.pitch_diameter.low_mm),
            (row["minor_mm"], nut.minor_diameter.low_mm),
            (row["depth_mm"], nut.nominal_mm - nut.basic_pitch_diameter_mm),
        ):
            yield printed, in_digits(printed, ours)


def iso286() -> Pairs:
    for row in published("iso286"):
        key, kind, printed = row["key"], row["kind"], row["value_um"]
        if kind == "limit":
            target = fits.read(key)
            if target is None:
                raise LookupError(key)
            low_mm, high_mm = target.size.both()
            for text, size_mm in ((row["value2_um"], low_mm), (printed, high_mm)):
                yield text, f"{(size_mm - target.nominal_mm) * 1000:.6f}"
        elif kind == "IT":
            found = fits_iso286.deviations(Decimal(row["incl"]), "h", int(key[2:]))
            yield printed, str(found.upper_um - found.lower_um)
        elif kind in ("fund_dev", "fund_dev_grade"):
            letter, grade = (key, 6 if key.islower() else 9)
            if kind == "fund_dev_grade":
                letter, grade = key[0], int(key[1:])
            found = fits_iso286.deviations(Decimal(row["incl"]), letter, grade)
            yield printed, str(found.lower_um if row["what"] in ("EI", "ei") else found.upper_um)
        elif kind == "delta":
            top = fits_iso286.deviations(Decimal(row["incl"]), "N", int(key[2:])).upper_um
            base = fits_iso286.deviations(Decimal(row["incl"]), "n", int(key[2:])).lower_um
            yield printed, str(top + base)


def ansi_b4_1() -> Pairs:
    module = test_fits_ansi
    for row in published("ansi_b4_1"):
        size = Decimal(row["up_to_in"])
        found = module.both(f"{size} {row['fit_class']}")
        ours = {
            "hole_high": module.mils(found.hole.size.both()[1], size),
            "shaft_high": module.mils(found.shaft.size.both()[1], size),
            "shaft_low": module.mils(found.shaft.size.both()[0], size),
            "fit_low": found.smallest_clearance_mm / 25.4 * 1000,
            "fit_high": found.largest_clearance_mm / 25.4 * 1000,
        }
        yield row["value_mil"], f"{ours[row['field']]:.4f}"


def wire_tables() -> Pairs:
    """The columns and rows that were read in a wire table: constants, best and bounding wires."""
    module = test_wires_published
    for row in rows("wire_constants"):
        pitch = 1 / float(row["tpi"])
        for column, half_angle in (
            ("published_0.866025P", DEG_30),
            ("published_whitworth_0.9605P", DEG_27_5),
        ):
            printed = row[column]
            yield printed, in_digits(printed, -wires.constant_mm(0.0, pitch, half_angle))
    for row in published("wire_limits_other"):
        if row["form"] == "Unified/60 (shop rule)":
            continue
        form = {"Unified/60": "UN"}.get(row["form"], row["form"])
        chart = wires.chart_range(module.basic(form, 10.0, 1 / float(row["tpi"])))
        for column, size in (
            ("best", chart.best_mm),
            ("max", chart.largest_mm),
            ("min", chart.smallest_mm),
        ):
            yield row[column], in_digits(row[column], size)


FAMILIES = (
    Family(
        "Unified, ASME B1.1",
        unified,
        "a cell printed as if for another size; reference minor diameters that are printed "
        "rounded once in one table and in two steps in the other",
    ),
    Family("ISO metric, ISO 965", metric),
    Family(
        "Acme and stub Acme, ASME B1.5",
        acme,
        "a size outside the preferred series, and a cell cut where the formula is a tie",
    ),
    Family("ISO trapezoidal, ISO 2903", trapezoidal, "misprints of the chart"),
    Family(
        "Whitworth, BS 84",
        whitworth,
        "the printed table drifts up by 0.0001 in; the form gives ours",
    ),
    Family("Parallel pipe G, ISO 228-1", pipe_g),
    Family("British Association, BS 93", british_association),
    Family("Fits, ISO 286", iso286, "misprints of the reprinted table"),
    Family("Fits, ANSI B4.1", ansi_b4_1),
    Family(
        "Wire tables, H28 and ASME B1.2",
        wire_tables,
        "tables made with factors cut at four to six places",
    ),
)


@dataclass(frozen=True)
class Count:
    values: int
    differ: int


def count(family: Family) -> Count:
    pairs = list(family.pairs())
    return Count(len(pairs), sum(as_number(printed) != as_number(ours) for printed, ours in pairs))


def table() -> str:
    """Markdown, one row for each family."""
    lines = ["| family | published values | differ | why |", "| --- | ---: | ---: | --- |"]
    total = Count(0, 0)
    for family in FAMILIES:
        found = count(family)
        total = Count(total.values + found.values, total.differ + found.differ)
        why = family.why if found.differ else ""
        lines.append(f"| {family.name} | {found.values} | {found.differ} | {why} |")
    lines.append(f"| all | {total.values} | {total.differ} | |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
