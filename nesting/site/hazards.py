"""What to beware of on a job: only what applies, as far as that can be known."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from nesting.domain.done import CutState
from nesting.domain.plan import Plan, SourceKind
from nesting.domain.site import Substrate
from nesting.site.lifting import LIFT_SOURCE, lift_words, people_to_lift, weight_of_cut_g
from nesting.site.sources import ASBESTOS, COMMON_PRACTICE, SILICA, STANDING, VAPOUR, WET_FLOORS
from nesting.units import format_weight

NM2_PER_M2 = 10**18


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One thing to beware of. `source`: what was published, or common practice."""

    title: str
    text: str
    source: str


def cautions(plan: Plan) -> tuple[Caution, ...]:
    """Return the cautions that apply to a plan; what is not known counts as if it applied."""
    found = (_first(), _asbestos(plan), _silica(plan), _weight(plan), _knives(), _vapour(), _wet_floors())
    return tuple(one for one in found if one is not None)


def _first() -> Caution:
    return Caution(title="What comes first", text=STANDING, source=COMMON_PRACTICE)


def _substrates(plan: Plan) -> set[Substrate]:
    """Return what the rooms of a job are laid on; without rooms what is said of the whole site."""
    site = plan.job.site
    return {site.substrate_of(room.id) for room in plan.job.rooms} or {site.substrate}


def _asbestos(plan: Plan) -> Caution | None:
    if plan.job.site.new_building and Substrate.EXISTING_FLOOR not in _substrates(plan):
        return None
    text = (
        "Old resilient flooring, its backing and its adhesive may contain asbestos. Do not sand, grind, scrape dry, "
        "sweep dry or rip up. Leave it where it is until a laboratory has tested it; in buildings from 1980 or before "
        "it counts as asbestos until a test shows that it is not. Removing it is work for those who are trained and "
        "licensed for it."
    )
    return Caution(title="Asbestos in old floors", text=text, source=ASBESTOS)


def _silica(plan: Plan) -> Caution | None:
    if _substrates(plan) == {Substrate.WOOD}:
        return None
    text = (
        "Grinding, sanding, drilling or chipping concrete, screed or levelling compound sets free silica dust, which "
        "harms the lungs for good; the limit in the air is 50 µg/m³ over eight hours. Use a machine that feeds water "
        "or sucks the dust off at the tool, clean between passes with a HEPA-filtered vacuum, and never sweep dry."
    )
    return Caution(title="Silica dust", text=text, source=SILICA)


def _weight(plan: Plan) -> Caution | None:
    """Return what is heavy: cuts that one person should not lift, and rolls as they come; or that it is not known."""
    unit = plan.job.unit.value
    materials = {material.id: material for material in plan.job.materials}
    heavy: list[tuple[Fraction, int, str]] = []
    unknown, rolls = [], []
    for part in plan.materials:
        material = materials[part.material_id]
        if material.weight_g_per_m2 is None:
            unknown.append(material.name)
            continue
        for cut in (cut for cut in part.cuts if cut.state != CutState.LAID):
            grams = weight_of_cut_g(cut, material)
            if grams is not None and people_to_lift(grams) > 1:
                heavy.append((grams, cut.number, cut.label))
        for source in part.sources:
            grams = material.weight_g_per_m2 * Fraction(source.width_nm * source.length_nm, NM2_PER_M2)
            if source.kind is not SourceKind.REMNANT and people_to_lift(grams) > 1:
                rolls.append(grams)
    said = []
    if heavy:
        grams, number, label = max(heavy, key=lambda one: (one[0], -one[1]))
        cuts = "1 cut is" if len(heavy) == 1 else f"{len(heavy)} cuts are"
        said.append(
            f"{cuts} too heavy for one person; the heaviest is no. {number}, {label}: {lift_words(grams, unit)}."
        )
    if rolls:
        said.append(
            f"The heaviest roll holds goods of {format_weight(max(rolls), unit)}: move it by trolley, not by hand."
        )
    if unknown:
        said.append(f"The weight of {', '.join(unknown)} is not known: ask the maker before anything is lifted.")
    if not said:
        return None
    said.append("Bend the knees, keep the load close, agree on the lift, clear the way first.")
    return Caution(title="Heavy cuts and rolls", text=" ".join(said), source=LIFT_SOURCE)


def _knives() -> Caution:
    text = (
        "Cut away from yourself, the free hand out of the line of the cut. Use sharp blades, since blunt ones slip, "
        "and collect old ones in a closed box. Knife into its sheath whenever it is put down. Wear gloves that resist "
        "cuts, and knee pads."
    )
    return Caution(title="Knives", text=text, source=COMMON_PRACTICE)


def _vapour() -> Caution:
    text = (
        "Adhesives, primers, cleaners and seam sealers may give off vapour that harms or catches fire. Read the safety "
        "data sheet of each before it is opened; air the rooms, keep flames, sparks and pilot lights off where solvent "
        "is used, wear what the data sheet asks for."
    )
    return Caution(title="Adhesive vapour", text=text, source=VAPOUR)


def _wet_floors() -> Caution:
    text = (
        "Fresh adhesive, water and loose sheet are slippery. Close the rooms off while they are wet, dry what is "
        "spilled at once, leave nothing in the ways."
    )
    return Caution(title="Wet floors", text=text, source=WET_FLOORS)
