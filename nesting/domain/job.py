"""The job: rooms as measured, stock, materials, rules and goal."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.domain.done import DoneCut
from nesting.domain.geometry import LayDirection, Point
from nesting.domain.material import Material, StockPiece
from nesting.domain.pins import OneLot, RoomPins
from nesting.domain.rules import Goal, OffcutRules, RuleId, SeamRules
from nesting.domain.site import Site
from nesting.domain.sundries import Sundries


class Unit(StrEnum):
    """The job's own unit: what bare numbers mean and what the maps show."""

    MM = "mm"
    CM = "cm"
    M = "m"
    INCH = "in"
    FOOT = "ft"


class EdgeKind(StrEnum):
    """What bounds a floor along one edge of its outline."""

    WALL = "wall"
    JAMB = "jamb"  # the side of a door recess; never coved
    DOOR = "door"  # the door line: the seam or transition line


class DoorJoint(StrEnum):
    """How the goods end at a door line."""

    TRANSITION = "transition"  # under a transition strip: trim
    SEAM = "seam"  # seamed to the goods beyond: seam allowance


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One edge of an outline, from its vertex to the next."""

    kind: EdgeKind = EdgeKind.WALL
    wall: str = ""  # what people call the wall: "north", "wall 3"
    cove_nm: int = 0
    door: str = ""  # id of the door, for JAMB and DOOR
    cut_out: HoleKind | None = None  # for WALL: the side of what is cut out at a wall, no wall of the house


class HoleKind(StrEnum):
    """What stands in the floor."""

    COLUMN = "column"
    ISLAND = "island"
    FIXTURE = "fixture"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """Something cut out of the floor, free-standing. Outline counter-clockwise, floor frame."""

    id: str
    kind: HoleKind
    outline: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """A door on a wall. Segments in the floor frame, in the sense of the outline (counter-clockwise).

    `opening` lies on the wall line, `line` is the door line, where the goods end (equal when there is no recess).
    `joined` names the door of the neighbouring room: (room id, door id).
    """

    id: str
    opening: tuple[Point, Point]
    line: tuple[Point, Point]
    joint: DoorJoint = DoorJoint.TRANSITION
    joined: tuple[str, str] | None = None
    bridgeable: bool = True  # the goods can bridge it: no seam may end inside it


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A zone, a convex polygon in the floor frame, that no seam may run through (touching its edge is allowed)."""

    id: str
    outline: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JointBelow:
    """A joint of the underlayment or an existing seam, a segment in the floor frame."""

    id: str
    start: Point
    end: Point


class PlacementWish(StrEnum):
    """Where the user wants the pattern along one axis."""

    FREE = "free"
    BALANCED = "balanced"  # the two opposite walls get equal parts of a repeat, the larger of both ways
    MOTIF_CENTRED = "motif-centred"  # a pattern mark on the middle of the room
    WHOLE_AT_WALL = "whole-at-wall"  # a pattern mark on the named wall


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternPlacement:
    """The pattern's placement in a room, in the lay frame: across (u) and along (v)."""

    across: PlacementWish = PlacementWish.FREE
    along: PlacementWish = PlacementWish.FREE
    across_wall: str = ""  # the wall meant by WHOLE_AT_WALL
    along_wall: str = ""
    least_at_walls_nm: int = 0  # with BALANCED or FREE: at least so much of a repeat at the walls


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """The widest, longest and heaviest single piece that gets into a room; None: no limit."""

    widest_nm: int | None = None
    longest_nm: int | None = None
    heaviest_g: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One floor area laid in one direction.

    `outline` is a simple polygon, counter-clockwise, with alcoves and door recesses added; `edges[i]` describes the
    edge from `outline[i]` to `outline[i + 1]`. Rooms joined or placed share one floor frame (`plan_id` equal), others
    have a frame of their own. `lays` are the directions that the user allows; (): free.
    The allowance at a wall is trim + cove + half the out-of-square allowance (rounded up).
    """

    id: str
    name: str
    material_id: str
    outline: tuple[Point, ...]
    edges: tuple[Edge, ...]
    plan_id: str = ""
    holes: tuple[Hole, ...] = ()
    doors: tuple[Door, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    joints_below: tuple[JointBelow, ...] = ()
    lays: tuple[LayDirection, ...] = ()
    traffic: LayDirection | None = None
    light: LayDirection | None = None
    view: LayDirection | None = None
    trim_nm: int = 50_800_000
    least_trim_nm: int | None = None  # side walls may go down to this; None: never less than the trim
    least_end_trim_nm: int | None = None  # drop ends too, with the user's consent
    out_of_square_nm: int = 10_000_000
    access: Access = Access()
    placement: PatternPlacement = PatternPlacement()
    rules: SeamRules = SeamRules()
    pins: RoomPins = RoomPins()
    line: int = 0  # of the job file, for messages

    @property
    def pinned(self) -> RoomPins:
        """The pins in force: none where the rule that they hold is waived."""
        return self.pins if self.rules.holds(RuleId.PINS) else RoomPins()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoosePiece:
    """Rectangles asked for by size and count. `length_nm` runs along the roll unless the goods may be turned."""

    id: str
    name: str
    material_id: str
    width_nm: int
    length_nm: int
    count: int = 1
    most_parts: int = 1  # joinable: each may be made up of so many parts, joined across its length
    least_part_nm: int = 300_000_000
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """Skirting or cove cut from the goods: runs of `width_nm`, joints at least `least_joint_nm` apart.

    A run is cut from pieces laid along or across the roll (across only where the goods may be turned).
    """

    id: str
    name: str
    material_id: str
    width_nm: int
    runs_nm: tuple[int, ...]
    least_joint_nm: int = 600_000_000
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Everything that a plan is made from; never changed by planning."""

    name: str
    unit: Unit
    materials: tuple[Material, ...]
    rooms: tuple[Room, ...]
    stock: tuple[StockPiece, ...] = ()
    loose: tuple[LoosePiece, ...] = ()
    strips: tuple[Strip, ...] = ()
    matches: tuple[tuple[str, ...], ...] = ()  # rooms (ids) whose pattern runs through: one phase, direction, turn, lot
    one_lot: tuple[OneLot, ...] = ()
    done: tuple[DoneCut, ...] = ()  # cuts that were made; their rooms have their layout (and phase) pinned
    goal: Goal = Goal()
    offcuts: OffcutRules = OffcutRules()
    sundries: Sundries = Sundries()
    site: Site = Site()
    currency: str = ""
    coin_per_unit: int = 100

    @property
    def owners(self) -> tuple[Room | LoosePiece | Strip, ...]:
        """Everything that something is cut for: rooms, loose pieces and strips."""
        return (*self.rooms, *self.loose, *self.strips)

    @property
    def made(self) -> frozenset[str]:
        """Ids of the cuts that were made."""
        return frozenset(item.cut.id for item in self.done)

    @property
    def begun(self) -> frozenset[str]:
        """Ids of the rooms, loose pieces and strips of which something is cut."""
        return frozenset(item.cut.owner for item in self.done)
