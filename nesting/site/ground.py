"""The sections of the site sheet on what the goods are laid on: substrate, moisture, climate, flatness."""

from __future__ import annotations

from nesting.domain.job import Job, Room
from nesting.domain.material import Material
from nesting.domain.site import ReadingKind, Substrate
from nesting.site.checks import Check, Section, measured_check
from nesting.site.sources import COMMON_PRACTICE, F710, F1869, F2170, MAKER
from nesting.site.testing import needed_tests, rooms_to_test
from nesting.units import METRIC

_NAMES = {
    Substrate.UNKNOWN: "not known",
    Substrate.CONCRETE: "concrete",
    Substrate.GYPSUM: "gypsum",
    Substrate.WOOD: "wood",
    Substrate.EXISTING_FLOOR: "an existing floor",
    Substrate.OTHER: "another than these",
}
M2_NM2 = 10**18


def _rooms(job: Job, material: Material) -> tuple[Room, ...]:
    return tuple(room for room in job.rooms if room.material_id == material.id)


def _area_words(area_nm2: int, unit: str) -> str:
    """Return an area in both systems, rounded up to a tenth of a m² and to a whole sq ft."""
    tenths = -(-area_nm2 * 10 // M2_NM2)
    feet = -(-area_nm2 // 304_800_000**2)
    metric, other = f"{tenths // 10}.{tenths % 10} m²", f"{feet} sq ft"
    return f"{metric} ({other})" if unit in METRIC else f"{other} ({metric})"


def substrate_section(job: Job, material: Material) -> Section:
    """Return what is looked at before anything is measured; the joints below are those of the job."""
    rooms = _rooms(job, material)
    kinds = "; ".join(f"{room.name}: {_NAMES[job.site.substrate_of(room.id)]}" for room in rooms)
    joints = [f"{room.name}: {len(room.joints_below)} in the plan" for room in rooms if room.joints_below]
    return Section(
        title="Substrate",
        checks=(
            Check(
                what="What it is, and how it is fixed",
                limit=kinds,
                source="the job" if rooms else "",
                blanks=tuple(f"{room.name}: kind, age, coatings" for room in rooms) or ("kind, age, coatings",),
            ),
            Check(
                what="Sound and clean: no dust, paint, wax, oil, old adhesive, curing or parting compounds",
                limit="nothing that keeps the adhesive off",
                source=f"{F710}, for concrete; others {MAKER}",
                blanks=("cleaned how, by whom",),
            ),
            Check(
                what="Dry to look at and to touch, no source of water left on",
                limit="no damp place",
                source=COMMON_PRACTICE,
                blanks=("damp places",),
            ),
            Check(
                what="Old seams, cracks and joints below: filled, or carried through where they move",
                limit="; ".join(joints) or "none are known of in the plan",
                source="the job; " + COMMON_PRACTICE,
                blanks=("joints that the plan does not have: tell the planner before cutting",),
            ),
        ),
    )


def moisture_section(job: Job, material: Material) -> Section:
    """Return the moisture tests, how many of them, and the pH."""
    rooms = rooms_to_test(job, material)
    if not rooms and _rooms(job, material):
        notes: tuple[str, ...] = (
            "no room of it lies on concrete: test the substrate as its maker and the goods' state",
        )
    else:
        notes = ()
    checks = [
        measured_check(
            job,
            material,
            kind,
            method=method,
            blanks=tuple(f"test {n + 1}: where, from, to, result" for n in range(_blank_tests(job, material, kind))),
            notes=notes or _count_notes(job, material, kind),
        )
        for kind, method in ((ReadingKind.EMISSION, F1869), (ReadingKind.HUMIDITY, F2170))
    ]
    ph = measured_check(
        job,
        material,
        ReadingKind.PH,
        what="pH of the surface",
        method=f"{F710}: concrete is tested for pH",
        blanks=("where, pH",),
    )
    return Section(title="Moisture", checks=(*checks, ph))


def _blank_tests(job: Job, material: Material, kind: ReadingKind) -> int:
    """Return how many lines to fill in there are: one for every test that is missing, not more than a page of them."""
    found = needed_tests(job, material, kind)
    return min(20, max(0, found.needed - found.made))


def _count_notes(job: Job, material: Material, kind: ReadingKind) -> tuple[str, ...]:
    """Return how many tests are needed, and what is to be said of those made."""
    found = needed_tests(job, material, kind)
    if not found.needed:
        return ()
    known = all(job.site.substrate_of(room.id) is Substrate.CONCRETE for room in rooms_to_test(job, material))
    area = _area_words(-(-found.area_nm2.numerator // found.area_nm2.denominator), job.unit.value)
    notes = [
        f"{found.needed} tests for {area}{'' if known else ', if it is concrete'}: 3 for the first 1000 sq ft, 1 for "
        "each further 1000 sq ft"
    ]
    if found.made < found.needed:
        notes.append(f"too few: {found.made} of {found.needed} made, by this method")
    if found.elsewhere:
        notes.append(f"{found.elsewhere} at places that are no room: judged, but not counted here")
    return tuple(notes)


def climate_section(job: Job, material: Material) -> Section:
    """Return temperature and acclimatizing."""
    return Section(
        title="Temperature and acclimatizing",
        checks=(
            measured_check(
                job,
                material,
                ReadingKind.TEMPERATURE,
                what="Temperature of room, floor and goods before, during and after laying",
                blanks=("before: when, room, floor", "during: when, room, floor", "after: when, room, floor"),
            ),
            measured_check(
                job,
                material,
                ReadingKind.ACCLIMATIZING,
                what="Goods in the rooms before laying, at that temperature",
                blanks=("brought in: day, hour", "laid: day, hour"),
            ),
        ),
    )


def flatness_section(job: Job, material: Material) -> Section:
    """Return flatness."""
    return Section(
        title="Flatness",
        checks=(
            measured_check(
                job,
                material,
                ReadingKind.FLATNESS,
                what="Deepest hollow under a straightedge, laid several ways in every room",
                blanks=tuple(f"{room.name}: where, how deep" for room in _rooms(job, material)) or ("where, how deep",),
                notes=("high spots are taken down and hollows filled before the goods come in",),
            ),
        ),
    )
