"""What parts are made of: expansion, stiffness and how they hold heat."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from server.metrology.tables import rows
from server.wording import say

STEEL_EXPANSION_PER_C = 11.5e-6  # gauge-block steel, ISO 3650: 11.5 +-1.0
LEAST_SPREAD_PER_C = 1e-6  # ISO/TR 16015: a handbook coefficient is good to no better


@dataclass(frozen=True)
class Material:
    """One material.

    expansion_per_c          value to use  [1/K], with low and high of published values
    elastic_modulus_mpa      [MPa], None where it is not known
    density_kg_m3            [kg/m3]
    heat_capacity_j_kg_k     [J/(kg K)]
    """

    name: str
    family: str
    grade: str
    expansion_per_c: float
    low_per_c: float
    high_per_c: float
    elastic_modulus_mpa: float | None
    density_kg_m3: float
    heat_capacity_j_kg_k: float
    is_metal: bool
    source: str
    aliases: tuple[str, ...] = ()

    @property
    def spread_per_c(self) -> float:
        """Half-width of the rectangular distribution that stands for the coefficient.  [1/K]

        Its second moment about the value used, that one not being the middle of low and high, and
        at least 1e-6/K (ISO/TR 16015, from memory).
        """
        below, above = self.expansion_per_c - self.low_per_c, self.high_per_c - self.expansion_per_c
        width = below + above
        about_value = ((below**3 + above**3) / width) ** 0.5 if width > 0 else 0.0
        return max(about_value, LEAST_SPREAD_PER_C)


class MaterialError(ValueError):
    """No material goes by that name; nearest names the likely ones, best first."""

    def __init__(self, text: str, nearest: tuple[str, ...]) -> None:
        super().__init__(
            say(
                "“{text}” is not a material known here; near it: {nearest}",
                text=text[:60],
                nearest=", ".join(nearest),
            )
            if nearest
            else say("“{text}” is not a material known here", text=text[:60])
        )
        self.text = text
        self.nearest = nearest


def all_materials() -> tuple[Material, ...]:
    """Every material of the table, in its order."""
    return _table()


@lru_cache(maxsize=512)
def find(text: str, own: tuple[Material, ...] = ()) -> Material:
    """The material meant by a family, a grade or both, in any case.  Raises MaterialError.

    own   the user's materials, looked through first
    A family alone is its usual grade with the lowest and highest coefficient of the family.

    >>> find("Aluminum 6061").expansion_per_c
    2.36e-05
    """
    wanted = _key(text)
    for material in (*own, *_table()):
        if wanted and wanted in _names(material):
            return material
    for family in _families():
        if wanted in family.aliases:
            return family
    raise MaterialError(text.strip(), _nearest(wanted, own))


@cache
def _table() -> tuple[Material, ...]:
    return tuple(_from_row(row) for row in rows("materials"))


def _from_row(row: dict[str, str]) -> Material:
    return Material(
        name=row["name"],
        family=row["family"],
        grade=row["grade"],
        expansion_per_c=_millionths(row["expansion_1e6_per_c"]),
        low_per_c=_millionths(row["low_1e6_per_c"]),
        high_per_c=_millionths(row["high_1e6_per_c"]),
        elastic_modulus_mpa=float(row["elastic_modulus_gpa"]) * 1000,
        density_kg_m3=float(row["density_kg_m3"]),
        heat_capacity_j_kg_k=float(row["heat_capacity_j_kg_k"]),
        is_metal=row["is_metal"] == "yes",
        source=row["source"],
        aliases=tuple(alias for alias in row["aliases"].split("|") if alias),
    )


def _millionths(text: str) -> float:
    return float(text + "e-6")


@cache
def _families() -> tuple[Material, ...]:
    """One material a family: its first row, widened to all of the family."""
    grouped: dict[str, list[Material]] = {}
    for material in _table():
        grouped.setdefault(material.family, []).append(material)
    return tuple(_widened(family, members) for family, members in grouped.items())


def _widened(family: str, members: Sequence[Material]) -> Material:
    spellings = {_key(family)} | {_key(word) for word in _FAMILY_WORDS.get(family, ())}
    return replace(
        members[0],
        name=family,
        grade="",
        low_per_c=min(member.low_per_c for member in members),
        high_per_c=max(member.high_per_c for member in members),
        aliases=tuple(sorted(spellings)),
    )


_FAMILY_WORDS: dict[str, tuple[str, ...]] = {  # English and German trade names
    "Carbon steel": (
        *("steel", "mild steel", "plain steel", "free cutting steel", "silver steel"),
        *("stahl", "baustahl", "automatenstahl", "unlegierter stahl", "silberstahl"),
    ),
    "Stainless steel": ("stainless", "inox", "edelstahl", "nichtrostender stahl"),
    "Alloy steel": ("chrome moly", "chromoly", "vergütungsstahl", "legierter stahl"),
    "Tool steel": ("werkzeugstahl",),
    "High-speed steel": ("hss", "schnellarbeitsstahl"),
    "Gauge steel": ("gauge block steel", "endmaßstahl"),
    "Tungsten carbide": ("carbide", "hard metal", "hartmetall"),
    "Cast iron": ("iron", "gusseisen", "guss"),
    "Aluminium": ("al", "aluminium alloy", "alu"),
    "Brass": ("messing",),
    "Copper": ("kupfer",),
    "Aluminium bronze": ("aluminiumbronze",),
    "Titanium": ("ti", "titan"),
    "Nickel alloy": ("nickel", "nickellegierung"),
    "Acetal": ("pom",),
    "Nylon": ("polyamide", "pa", "polyamid"),
    "Polyethylene": ("pe", "polyethylen"),
    "PVC": ("rigid pvc", "upvc"),
    "Acrylic": ("pmma", "polymethyl methacrylate", "acrylglas"),
}


@lru_cache(maxsize=512)
def _names(material: Material) -> set[str]:
    grades = (material.grade, *material.aliases)
    families = (material.family, *_FAMILY_WORDS.get(material.family, ()))
    joined = (f"{x} {y}" for grade in grades for f in families for x, y in ((f, grade), (grade, f)))
    spellings: Iterable[str] = (material.name, *grades, *(joined if material.grade else ()))
    return {_key(spelling) for spelling in spellings if spelling.strip()}


def _key(text: str) -> str:
    """One spelling of a name: case, punctuation and American spelling don't count."""
    words = re.sub(r"[^\w]+", " ", text[:200].casefold()).split()
    swaps = {"aluminum": "aluminium", "gray": "grey", "aisi": "", "sae": "", "gage": "gauge"}
    return " ".join(filter(None, (swaps.get(word, word) for word in words)))


def _nearest(wanted: str, own: Sequence[Material]) -> tuple[str, ...]:
    candidates = (*own, *_table(), *_families())
    keyed = {key: item.name for item in candidates for key in (*_names(item), *item.aliases)}
    shared = [
        item.name
        for item in (*own, *_table())
        if any(len(word) > 2 and word in _key(item.name).split() for word in wanted.split())
    ]
    close = [keyed[key] for key in difflib.get_close_matches(wanted, keyed, n=6, cutoff=0.5)]
    return tuple(dict.fromkeys((*close, *shared)))[:6]
