"""The built-in materials as a screen names them."""

from __future__ import annotations

from server.wording import say

MATERIAL_WORDS = {
    str(name): name
    for name in (
        say("Carbon steel 1018"),
        say("Carbon steel 1045"),
        say("Alloy steel 4140"),
        say("Alloy steel 4340"),
        say("Stainless 303"),
        say("Stainless 304"),
        say("Stainless 316"),
        say("Stainless 17-4 PH"),
        say("Stainless 416"),
        say("Tool steel O1"),
        say("High-speed steel M2"),
        say("Gauge steel"),
        say("Tungsten carbide"),
        say("Grey iron"),
        say("Ductile iron"),
        say("Aluminium 6061"),
        say("Aluminium 7075"),
        say("Aluminium 2024"),
        say("Aluminium 2011"),
        say("Brass C360"),
        say("Bronze C932"),
        say("Aluminium bronze"),
        say("Phosphor bronze C510"),
        say("Copper C110"),
        say("Titanium Ti-6Al-4V"),
        say("Nickel alloy 718"),
        say("Nickel alloy 625"),
        say("Nickel alloy 400"),
        say("Invar"),
        say("Magnesium AZ31B"),
        say("Acetal homopolymer"),
        say("Acetal copolymer"),
        say("Nylon 6/6"),
        say("PTFE"),
        say("PEEK"),
        say("UHMW-PE"),
        say("HDPE"),
        say("PVC"),
        say("Polycarbonate"),
        say("Acrylic"),
    )
}
