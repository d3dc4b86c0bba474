"""The site sheet: what is looked at, measured and filled in, material by material."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import MaterialPlan, Plan
from nesting.site.checks import Section
from nesting.site.ground import climate_section, flatness_section, moisture_section, substrate_section
from nesting.site.laying import gap_section, order_section, protection_section, rolls_section, seams_section
from nesting.site.sources import STANDING


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialSheet:
    """The checks of one material. `rooms`: the names of the rooms that it is laid in."""

    material_id: str
    name: str
    rooms: tuple[str, ...]
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteSheet:
    """What is printed for the site: who comes first, then the checks of every material in the plan."""

    standing: str
    materials: tuple[MaterialSheet, ...]


def site_sheet(plan: Plan) -> SiteSheet:
    """Return the site sheet of a plan, all plain strings in the job's unit with the other system beside it.

    A job that says nothing of the site gives a sheet that is all to fill in.
    """
    materials = {material.id: material for material in plan.job.materials}
    sheets = (_material_sheet(plan.job, materials[part.material_id], part) for part in plan.materials)
    return SiteSheet(standing=STANDING, materials=tuple(sheets))


def _material_sheet(job: Job, material: Material, part: MaterialPlan) -> MaterialSheet:
    return MaterialSheet(
        material_id=material.id,
        name=material.name,
        rooms=tuple(room.name for room in job.rooms if room.material_id == material.id),
        sections=(
            substrate_section(job, material),
            moisture_section(job, material),
            climate_section(job, material),
            flatness_section(job, material),
            rolls_section(job, part),
            gap_section(job, material),
            order_section(job, part),
            seams_section(job, material, part),
            protection_section(),
        ),
    )
