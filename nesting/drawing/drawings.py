"""All drawings of a plan as SVG text."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.file_stems import file_stem
from nesting.domain.plan import Plan
from nesting.drawing.front_chart import FrontChart, front_scene
from nesting.drawing.goods_map import GoodsMap, goods_scene
from nesting.drawing.roll_map import roll_scenes, source_scenes
from nesting.drawing.room_plan import room_scene
from nesting.drawing.scene import EITHER, Page, Scene
from nesting.drawing.svg import to_svg


def roll_maps(
    plan: Plan, source_id: str, page: Page = EITHER, *, mirrored: bool = False, changed: frozenset[str] = frozenset()
) -> tuple[str, ...]:
    """Return the map of one roll or remnant, sheet by sheet, as SVG.

    Parameters
    ----------
    page
        The sheet; the default prints in full size on A4 and on Letter.
    mirrored
        Seen from the back, for goods that are marked there; the sheet says so.
    changed
        Ids of the cuts that are not as in the plan before: they are marked as new.

    Raises
    ------
    KeyError
        If the plan has no such source.
    """
    return tuple(to_svg(scene) for scene in roll_scenes(plan, source_id, page, mirrored=mirrored, changed=changed))


def roll_map(
    plan: Plan, source_id: str, page: Page = EITHER, *, sheet: int = 1, mirrored: bool = False,
    changed: frozenset[str] = frozenset(),
) -> str:  # fmt: skip
    """Return one sheet of the map of a roll or remnant as SVG; see `roll_maps`."""
    return roll_maps(plan, source_id, page, mirrored=mirrored, changed=changed)[sheet - 1]


def room_plan(plan: Plan, room_id: str, page: Page = EITHER, *, changed: frozenset[str] = frozenset()) -> str:
    """Return the seam plan of one room as SVG, on the sheet upright or across, whichever shows it larger.

    `changed`: ids of the cuts that are marked as new.

    Raises
    ------
    KeyError
        If the job has no such room.
    """
    return to_svg(room_scene(plan, room_id, page, changed))


def front_chart(chart: FrontChart, page: Page = EITHER) -> str:
    """Return a chart of seams against roll as SVG."""
    return to_svg(front_scene(chart, page))


def goods_map(goods: GoodsMap, page: Page = EITHER) -> str:
    """Return a map of where one roll or remnant goes as SVG."""
    return to_svg(goods_scene(goods, page))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheets:
    """All sheets of a plan with their file stems: roll maps, then rooms in the order of the job."""

    rolls: tuple[tuple[str, Scene], ...]
    rooms: tuple[tuple[str, Scene], ...]

    def as_svg(self) -> dict[str, str]:
        """Return the sheets as SVG text by file stem."""
        return {stem: to_svg(scene) for stem, scene in (*self.rolls, *self.rooms)}


def sheets_of(
    plan: Plan, page: Page = EITHER, *, mirrored: bool = False, changed: frozenset[str] = frozenset()
) -> Sheets:
    """Return all sheets of a plan.

    `mirrored`: the roll maps are seen from the back, and say so. `changed`: ids of the cuts that are marked as new.
    """
    taken: set[str] = set()
    rolls: list[tuple[str, Scene]] = []
    for part in plan.materials:
        for source in part.sources:
            sheets = source_scenes(plan, part, source, page, mirrored=mirrored, changed=changed)
            stem = file_stem(f"roll-{source.id}", taken)
            for number, scene in enumerate(sheets, start=1):
                rolls.append((stem if len(sheets) == 1 else file_stem(f"{stem}-{number}", taken), scene))
    rooms = [(file_stem(f"room-{room.id}", taken), room_scene(plan, room.id, page, changed)) for room in plan.job.rooms]
    return Sheets(rolls=tuple(rolls), rooms=tuple(rooms))


def drawings(
    plan: Plan, page: Page = EITHER, *, mirrored: bool = False, changed: frozenset[str] = frozenset()
) -> dict[str, str]:
    """Return all drawings of a plan: SVG text by file stem; see `sheets_of`."""
    return sheets_of(plan, page, mirrored=mirrored, changed=changed).as_svg()
