"""The keys of the job file that say what a room is."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from pydantic import Field, GetJsonSchemaHandler, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from nesting.domain.job import DoorJoint, HoleKind
from nesting.domain.rules import RuleId
from nesting.files.fields import (
    Count,
    Entry,
    Length,
    LengthOrZero,
    Names,
    OneOf,
    OrOne,
    Point,
    Size,
    Weight,
    Whole,
    Words,
    Yes,
)

key = partial(Field, default=None)
"""A key that may be left out."""


class RulesEntry(Entry):
    """Where seams may run. Each key can stand at the job, a material or a room; the nearest one counts."""

    joint_clearance: LengthOrZero | None = key(description="from a parallel joint below to a seam (default 6 in)")
    least_breadth: LengthOrZero | None = key(description="no strip of floor beside a seam narrower (default 300 mm)")
    cross_seams: Whole | None = key(description="cross seams allowed in a breadth (default 0)")
    least_length: LengthOrZero | None = key(description="no piece between cross seams shorter (default 1 m)")
    stagger: LengthOrZero | None = key(description="neighbours' cross seams so far apart (default 300 mm)")
    forced_cross_seams: Yes | None = key(
        description="a breadth longer than the longest roll gets the fewest cross seams that it needs (default yes)"
    )
    oblique_step: Length | None = key(description="oblique edges become steps no finer than this (default 300 mm)")
    whole_rectangles: Yes | None = key(description="no notches: every rough cut is a rectangle (default no)")
    notch: Size | None = key(description="a notch is worth keeping from this size on (default 600 x 600 mm)")
    insert_factor: Count | None = key(
        description="cove inserts at outside corners are as wide as the cove is high, and so many times as long "
        "(default 2)"
    )
    waive: Annotated[list[Annotated[str, OneOf("rule", *RuleId)]], OrOne()] | None = key(
        description="rules that are taken out"
    )


class Settings(Entry):
    """What can be set for the whole job, for a material or for a room."""

    trim: LengthOrZero | None = key(description="left on at every wall in rough cutting (default 2 in)")
    least_trim: LengthOrZero | None = key(
        description="side walls may go down to this where it saves a breadth (default: never less than the trim)"
    )
    least_end_trim: LengthOrZero | None = key(description="ends of drops may go down to this, with your consent")
    out_of_square: LengthOrZero | None = key(description="how far the room may be out of square (default 10 mm)")
    rules: RulesEntry | None = key(description="where seams may run")


class FromEnd(Entry):
    """A place along a wall. Left and right are yours as you stand in the room and face the wall."""

    from_left: LengthOrZero | None = key(description="from the wall's left end, as you face it from inside")
    from_right: LengthOrZero | None = key(description="from the wall's right end, as you face it from inside")
    from_north: LengthOrZero | None = key(description="from the wall's northern end")
    from_east: LengthOrZero | None = key(description="from the wall's eastern end")
    from_south: LengthOrZero | None = key(description="from the wall's southern end")
    from_west: LengthOrZero | None = key(description="from the wall's western end")
    centred: Yes | None = key(description="in the middle of the wall")


class OnWall(FromEnd):
    """A stretch of a wall. Left and right are yours as you stand in the room and face the wall."""

    wall: Words = Field(description="the wall: north, south, east, west of a rectangle, else `wall 1`… or its name")
    width: Length = Field(description="along the wall")


class AlcoveEntry(OnWall):
    """A rectangle of floor added beyond a wall: an alcove, a bay, a recess."""

    name: Words | None = key(description="names its back wall (default: alcove 1…)")
    depth: Length = Field(description="beyond the wall")


class SpotEntry(FromEnd):
    """A place in the room: by `at` and `size`, by `corners`, or at a wall."""

    at: Point | None = key(description="its lower left (south-west) corner")
    size: Size | None = key(description="east-west x north-south")
    corners: list[Point] | None = key(description="its corners in order, for anything else")
    wall: Words | None = key(description="the wall it is at")
    off_the_wall: LengthOrZero | None = key(description="gap between the wall and it (default 0)")
    width: Length | None = key(description="along the wall")
    depth: Length | None = key(description="into the room")


class CutOutEntry(SpotEntry):
    """A column, island or fixture that gets no goods."""

    name: Words | None = key(description="what it is (default: column 1…)")
    kind: Annotated[str, OneOf("kind of cut-out", *HoleKind)] | None = key(
        description="column (default), island or fixture"
    )


class DoorEntry(OnWall):
    """A door on a wall."""

    name: Words | None = key(description="what you call it (default: door 1…)")
    depth: LengthOrZero | None = key(
        description="of the recess, from the wall to the line where the goods end (default 0; between joined rooms the "
        "rest of the wall's thickness, or half of it)"
    )
    joint: Annotated[str, OneOf("joint", *DoorJoint)] | None = key(
        description="transition (default): the goods end under a strip; seam: they are seamed to the goods beyond"
    )
    joins: Words | None = key(description="the door of the next room: `Hall / door 2`")
    wall_thickness: LengthOrZero | None = key(description="between the two rooms' walls (default: both depths)")
    bridgeable: Yes | None = key(
        description="the goods can bridge it, so no seam may end inside it (default: yes up to 1.2 m)"
    )
    swing: Annotated[str, OneOf("swing", "in", "out")] | None = key(
        description="in: no seam within the door's swing (default out)"
    )


class CoveEntry(Entry):
    """Walls where the sheet runs up."""

    walls: Names = Field(description="names of walls")
    height: LengthOrZero = Field(description="how far up")


class KeepOutEntry(SpotEntry):
    """A zone that no seam may run through: before a sink or range, where people turn. Its corners are convex."""

    name: Words | None = key(description="what it is (default: keep out 1…)")


class JointEntry(Entry):
    """A joint of the underlayment, or an existing seam: seams keep clear of it."""

    from_: Point | None = key(description="one end")
    to: Point | None = key(description="the other end")
    parallel_to: Words | None = key(description="the wall it runs along, through the whole room")
    distance: LengthOrZero | None = key(description="from that wall")


class StepEntry(Entry):
    """One wall of a walk. `north 3.2 m` is short for `{go: north 3.2 m}`."""

    go: Words = Field(
        description="direction and length: north 3.2 m, W 12' 4\", up 3, bearing 30° 2 m; `close` for the wall that "
        "could not be measured"
    )
    wall: Words | None = key(description="what you call the wall (default: wall 1…)")

    @model_validator(mode="before")
    @classmethod
    def _from_word(cls, value: Any) -> Any:
        return {"go": value} if isinstance(value, str) else value

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Return the schema: text, or the keys."""
        schema = handler(core)
        return {"anyOf": [{"type": "string"}, schema], "description": schema.get("description", "")}


class SidesEntry(Entry):
    """Four sides and a diagonal of a room that is out of square."""

    south: Length = Field(description="the south wall, from the south-west corner to the south-east corner")
    east: Length = Field(description="the east wall")
    north: Length = Field(description="the north wall")
    west: Length = Field(description="the west wall")
    diagonal: Length = Field(description="from the south-west corner to the north-east corner")
    other_diagonal: Length | None = key(description="from the south-east to the north-west corner: a check")


class AccessEntry(Entry):
    """The largest single piece that gets into the room."""

    widest: Length | None = key(description="its width across the roll")
    longest: Length | None = key(description="its length along the roll")
    heaviest: Weight | None = key(description="its weight, such as 60 kg")


class PlacementEntry(Entry):
    """Where the pattern lies in the room."""

    across: Words | None = key(
        description="across the lay: free (default), balanced, motif centred, or `whole at west` (a pattern mark on "
        "that wall)"
    )
    along: Words | None = key(description="along the lay: free (default), balanced, motif centred, or `whole at north`")
    least_at_walls: LengthOrZero | None = key(description="at least so much of a repeat at the walls")


class PinnedSeamEntry(Entry):
    """A seam that is fixed: the room is laid along it, and a seam lies there to half a cutting step."""

    parallel_to: Words | None = key(description="the wall it runs along")
    distance: Length | None = key(description="from that wall")
    from_: Point | None = key(description="one point of it")
    to: Point | None = key(description="another point of it")


class PinsEntry(Entry):
    """What is fixed in the room; the plan says what it costs."""

    seams: Annotated[list[PinnedSeamEntry], OrOne()] | None = key(
        description="seams that are fixed: by a wall and a distance from it, or by two points"
    )
    most_seams: Whole | None = key(description="so many seams, cross seams and relief cuts at most; 0: none")
    layout_from: Words | None = key(description="a plan.json that has the room: it is laid as it is there")
    cut_from: Names | None = key(description="rolls and remnants in hand that it is cut from, and nothing else")


class RoomEntry(Settings):
    """A room: one floor laid in one direction. One of rectangle, walk, corners and sides gives its floor."""

    name: Words = Field(description="what you call it")
    id: Words | None = key(description="a short name for lists and files (default: from the name)")
    material: Words | None = key(description="name of its material (default: the only one)")
    rectangle: Size | None = key(description="east-west x north-south")
    walk: list[StepEntry] | None = key(description="round the walls: direction and length of each, in order")
    corners: list[Point] | None = key(description="the corners in order, as east, north")
    sides: SidesEntry | None = key(description="four sides and a diagonal")
    at: Point | None = key(description="where the room's own origin lies in the plan of the rooms")
    alcoves: list[AlcoveEntry] | None = key(description="floor added beyond a wall")
    cut_out: list[CutOutEntry] | None = key(description="columns, islands and fixtures")
    doors: list[DoorEntry] | None = key(description="doors and openings")
    cove: LengthOrZero | None = key(description="the sheet runs up all walls so far (default 0)")
    coves: list[CoveEntry] | None = key(description="cove of single walls")
    keep_out: list[KeepOutEntry] | None = key(description="zones without seams")
    joints_below: list[JointEntry] | None = key(description="joints of the underlayment, existing seams")
    traffic: Words | None = key(description="how people walk: north-south, east-west, `along north wall`, 30°")
    light: Words | None = key(description="how the main light falls: from north, east-west, `across north wall`")
    view: Words | None = key(description="how the room is mostly looked at")
    lay: Names | None = key(
        description="how the roll's length runs: free (default), north-south, east-west, `along north wall`, `across "
        "north wall`, `towards east`, 30°; or a list of these"
    )
    pins: PinsEntry | None = key(description="what is fixed: seams, layout, goods in hand")
    access: AccessEntry | None = key(description="the largest piece that gets in")
    pattern: PlacementEntry | None = key(description="where the pattern lies")
