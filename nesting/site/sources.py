"""Where the numbers of the site sheet and the cautions come from: numbers are quoted, no standard's text is copied."""

from __future__ import annotations

COMMON_PRACTICE = "common practice"
MAKER = "as the maker states"

F1869 = "ASTM F1869, moisture emission of concrete by calcium chloride"
F2170 = "ASTM F2170, relative humidity in concrete slabs by probes in drilled holes"
F710 = "ASTM F710, practice for preparing concrete floors to receive resilient flooring"

ASBESTOS = "OSHA 29 CFR 1926.1101 (asbestos in construction)"
SILICA = "OSHA 29 CFR 1926.1153 (respirable crystalline silica in construction), Table 1 for floor grinders"
VAPOUR = "OSHA 29 CFR 1910.1200 (hazard communication: safety data sheets)"
WET_FLOORS = "OSHA 29 CFR 1910.22 (walking-working surfaces)"

STANDING = (
    "The maker's instructions, local codes and licensed practice come first. This sheet does not replace them. Numbers "
    "of published test methods and rules are quoted with their source, not their text: work from the document itself, "
    "in the edition that holds where you are."
)
"""What stands on every sheet."""
