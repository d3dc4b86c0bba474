"""Hypothesis strategies of domain data: jobs that can be planned, and any value of any of the frozen types.

`jobs()` and its kin give small jobs whose goods are wide and long enough, so that there is a plan; `anything(kind)`
gives well-typed values without sense, for whatever must carry every value through (the plan file).
"""

from __future__ import annotations

import dataclasses
import types
import typing
from dataclasses import replace
from enum import Enum
from fractions import Fraction
from typing import Any

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from nesting.domain.geometry import LayDirection, Point, Rect
from nesting.domain.job import Door, Edge, EdgeKind, Job, LoosePiece, Room, Unit
from nesting.domain.material import Material, Pattern, Sale, StockKind, StockPiece, Turning
from nesting.domain.pins import OneLot, PinnedSeam, RoomPins
from nesting.domain.rack import PhaseKnown, RackPiece
from nesting.domain.rules import Goal, GoalKind, OffcutRules, SeamRules, ValueRule
from nesting.domain.site import Range, ReadingKind, RoomSubstrate, Site, SiteLimits, SiteReading, Substrate
from nesting.domain.sundries import Amount, Fixing, LaidHow, Measure, Sundries, Sundry, SundryKind

MM = 1_000_000
INCH = 25_400_000
NORTH, EAST, SOUTH, WEST = LayDirection(0, 1), LayDirection(1, 0), LayDirection(0, -1), LayDirection(-1, 0)

# --- lengths and outlines --------------------------------------------------------------------------------------------


def steps(least_mm: int, most_mm: int, step_mm: int = 50) -> SearchStrategy[int]:
    """Lengths in nm, on a step of so many millimetres."""
    return st.integers(-(-least_mm // step_mm), most_mm // step_mm).map(lambda n: n * step_mm * MM)


def inches(least: int, most: int) -> SearchStrategy[int]:
    """Lengths in nm, on the quarter inch."""
    return st.integers(4 * least, 4 * most).map(lambda n: n * INCH // 4)


def rectangle(width_nm: int, length_nm: int) -> tuple[Point, ...]:
    return ((0, 0), (width_nm, 0), (width_nm, length_nm), (0, length_nm))


@st.composite
def rectangles(draw: DrawFn, least_mm: int = 1_000, most_mm: int = 5_000) -> tuple[Point, ...]:
    """Rectangular outlines from (0, 0)."""
    return rectangle(draw(steps(least_mm, most_mm)), draw(steps(least_mm, most_mm)))


@st.composite
def ells(draw: DrawFn, least_mm: int = 2_000, most_mm: int = 6_000) -> tuple[Point, ...]:
    """Outlines of an L: a rectangle less one of its corners; no leg is narrower than 800 mm."""
    width, length = draw(steps(least_mm, most_mm)), draw(steps(least_mm, most_mm))
    gone_x = draw(steps(600, width // MM - 800))
    gone_y = draw(steps(600, length // MM - 800))
    x, y = width - gone_x, length - gone_y
    ell = ((0, 0), (width, 0), (width, y), (x, y), (x, length), (0, length))
    for _ in range(draw(st.integers(0, 3))):  # quarter turns, back into the first quadrant
        ell = tuple((-v, u) for u, v in ell)
        left, low = min(p[0] for p in ell), min(p[1] for p in ell)
        ell = tuple((u - left, v - low) for u, v in ell)
    return ell


@st.composite
def skylines(draw: DrawFn, step_nm: int = 10 * MM, most: int = 6) -> tuple[Point, ...]:
    """Rectilinear outlines over a straight south wall; every corner on a step."""
    widths = draw(st.lists(st.integers(500, 3_000), min_size=1, max_size=most))
    depth = 0
    corners: list[Point] = [(0, 0)]
    x = sum(widths)
    corners.append((x * step_nm, 0))
    for width in reversed(widths):
        depth = draw(st.integers(500, 4_000).filter(lambda new, old=depth: new != old))
        corners += [(x * step_nm, depth * step_nm), ((x - width) * step_nm, depth * step_nm)]
        x -= width
    return tuple(corners)


def walled(outline: tuple[Point, ...]) -> tuple[Edge, ...]:
    """Walls all round: named by the compass for a rectangle, else by number."""
    names = (
        ("south", "east", "north", "west") if len(outline) == 4 else tuple(f"wall {i + 1}" for i in range(len(outline)))
    )
    return tuple(Edge(wall=name) for name in names)


# --- rooms -----------------------------------------------------------------------------------------------------------


@st.composite
def rooms(
    draw: DrawFn,
    *,
    number: int = 1,
    material_id: str = "goods",
    outlines: SearchStrategy[tuple[Point, ...]] | None = None,
    doors: bool = False,
) -> Room:
    """One room with walls, trim and, if wanted, a door with a recess in its first wall."""
    outline = draw(outlines if outlines is not None else rectangles())
    edges = walled(outline)
    found: tuple[Door, ...] = ()
    if doors and draw(st.booleans()):
        outline, edges, found = _with_door(outline, edges, draw(steps(0, 150, 10)), draw(steps(50, 100, 50)))
    return Room(
        id=f"room-{number}",
        name=f"Room {number}",
        material_id=material_id,
        outline=outline,
        edges=edges,
        plan_id=f"room-{number}",
        doors=found,
        lays=draw(st.sampled_from([(), (), (NORTH,), (EAST,), (NORTH, SOUTH), (EAST, WEST)])),
        trim_nm=draw(st.sampled_from([0, 30 * MM, 50 * MM, 2 * INCH])),
        out_of_square_nm=draw(st.sampled_from([0, 10 * MM])),
        rules=SeamRules(cross_seams_per_breadth=draw(st.sampled_from([0, 0, 1]))),
    )


def _with_door(
    outline: tuple[Point, ...], edges: tuple[Edge, ...], depth: int, from_corner: int
) -> tuple[tuple[Point, ...], tuple[Edge, ...], tuple[Door, ...]]:
    """Put a door 700 mm wide into the first edge, which runs east along y = 0 from x0."""
    (x0, y0), (x1, _) = outline[0], outline[1]
    if x1 - x0 < 700 * MM + 2 * from_corner or y0 != outline[1][1]:
        return outline, edges, ()
    a, b = x0 + from_corner, x0 + from_corner + 700 * MM
    line = Edge(kind=EdgeKind.DOOR, wall=edges[0].wall, door="door 1")
    jamb = Edge(kind=EdgeKind.JAMB, wall=edges[0].wall, door="door 1")
    if depth:
        new: tuple[Point, ...] = ((a, y0), (a, y0 - depth), (b, y0 - depth), (b, y0))
        kinds = (edges[0], jamb, line, jamb, edges[0])
    else:
        new, kinds = ((a, y0), (b, y0)), (edges[0], line, edges[0])
    door = Door(id="door 1", opening=((a, y0), (b, y0)), line=((a, y0 - depth), (b, y0 - depth)))
    return (outline[0], *new, *outline[1:]), (*kinds, *edges[1:]), (door,)


# --- goods -----------------------------------------------------------------------------------------------------------

MATCHES = ("none", "straight", "half-drop", "third-drop", "drop", "along-only", "at-seam", "at-seam-half")


@st.composite
def patterns(draw: DrawFn, *, pitch_nm: int, matches: tuple[str, ...] = MATCHES) -> Pattern | None:
    """A pattern of every kind of match; `pitch_nm` is the usable width less the overlap."""
    match = draw(st.sampled_from(matches))
    if match == "none":
        return None
    along = draw(steps(200, 900, 10))
    if match == "along-only":
        return Pattern(along_nm=along)
    if match.startswith("at-seam"):
        drop = Fraction(along, 2) if match == "at-seam-half" else Fraction(0)
        return Pattern(along_nm=along, across_nm=pitch_nm, drop_nm=drop, at_seam=True)
    across = draw(steps(150, 700, 10).filter(lambda nm: nm <= pitch_nm))
    drops = {
        "straight": Fraction(0),
        "half-drop": Fraction(along, 2),
        "third-drop": Fraction(along, 3),
        "drop": Fraction(along * draw(st.integers(1, 7)), 8),
    }
    return Pattern(along_nm=along, across_nm=across, drop_nm=drops[match])


@st.composite
def materials(
    draw: DrawFn, *, ident: str = "goods", matches: tuple[str, ...] = ("none",), several_widths: bool = False
) -> Material:
    """Goods of 2 to 4 m, sold by length or by area, no roll shorter than 20 m."""
    width = draw(st.sampled_from([2_000 * MM, 3_000 * MM, 4_000 * MM, 144 * INCH]))
    widths = (width, width + 1_000 * MM) if several_widths and draw(st.booleans()) else (width,)
    selvedge = draw(st.sampled_from([0, 0, 10 * MM]))
    overlap = draw(st.sampled_from([0, 20 * MM]))
    pattern = draw(patterns(pitch_nm=width - 2 * selvedge - overlap, matches=matches))
    price = Fraction(draw(st.integers(500, 9_000)))
    by_length = draw(st.booleans())
    sale = Sale(
        order_step_nm=draw(st.sampled_from([1, 10 * MM, 100 * MM, 6 * INCH])),
        minimum_cut_nm=draw(st.sampled_from([0, 0, 2_000 * MM])),
        cut_charge=draw(st.sampled_from([0, 500])),
        price_per_m=(price,) * len(widths) if by_length else None,
        price_per_m2=None if by_length else price,
    )
    return Material(
        id=ident,
        name=ident.capitalize(),
        widths_nm=widths,
        longest_nm=draw(st.sampled_from([None, 20_000 * MM, 30_000 * MM])),
        sale=sale,
        selvedge_nm=selvedge,
        pattern=pattern,
        turning=draw(st.sampled_from(list(Turning))) if pattern is None else Turning.NEVER,
        directed=draw(st.booleans()),
        seam_overlap_nm=overlap,
        cutting_step_nm=draw(st.sampled_from([5 * MM, 10 * MM, INCH // 4])),
        weight_g_per_m2=draw(st.sampled_from([None, Fraction(2900)])),
        squaring_nm=draw(st.sampled_from([0, 50 * MM])),
    )


@st.composite
def stock_pieces(draw: DrawFn, material: Material, number: int = 1) -> StockPiece:
    """A remnant, or a roll of a made width; of known phase or not."""
    roll = draw(st.booleans())
    width = draw(st.sampled_from(material.widths_nm)) if roll else draw(steps(600, max(material.widths_nm) // MM))
    pattern = material.pattern
    phase: Point | None = None
    if pattern is not None and draw(st.booleans()):
        across = (
            0
            if pattern.across_nm is None or pattern.at_seam
            else draw(st.integers(0, pattern.across_nm // MM - 1)) * MM
        )
        phase = (across, draw(st.integers(0, pattern.along_nm // MM - 1)) * MM)
    lot = draw(st.sampled_from([None, "A17", "B2"]))
    return StockPiece(
        id=f"R-{number}",
        material_id=material.id,
        kind=StockKind.ROLL if roll else StockKind.REMNANT,
        width_nm=width,
        length_nm=draw(steps(800, 9_000)),
        lot=lot,
        lot_orderable=lot is not None and draw(st.booleans()),
        phase_nm=phase,
        book_value=draw(st.sampled_from([0, 0, 1_500])),
    )


# --- jobs ------------------------------------------------------------------------------------------------------------


@st.composite
def jobs(
    draw: DrawFn,
    *,
    outlines: SearchStrategy[tuple[Point, ...]] | None = None,
    matches: tuple[str, ...] = ("none",),
    most_rooms: int = 2,
    most_stock: int = 0,
    several_widths: bool = False,
    doors: bool = False,
    loose: bool = False,
) -> Job:
    """Small jobs of one material; every one of them can be planned unless its stock or lay rules it out."""
    material = draw(materials(matches=matches, several_widths=several_widths))
    count = draw(st.integers(1, most_rooms))
    shapes = outlines if outlines is not None else rectangles()
    pieces: tuple[LoosePiece, ...] = ()
    if loose and draw(st.booleans()):
        size = (draw(steps(300, 1_000)), draw(steps(300, 1_500)))
        pieces = (
            LoosePiece(
                id="mat",
                name="Mat",
                material_id=material.id,
                width_nm=size[0],
                length_nm=size[1],
                count=draw(st.integers(1, 3)),
            ),
        )
    return Job(
        name="A small job",
        unit=draw(st.sampled_from(list(Unit))),
        materials=(material,),
        rooms=tuple(draw(rooms(number=n + 1, outlines=shapes, doors=doors)) for n in range(count)),
        stock=tuple(draw(stock_pieces(material, n + 1)) for n in range(draw(st.integers(0, most_stock)))),
        loose=pieces,
        goal=Goal(kind=draw(st.sampled_from(list(GoalKind)))),
        offcuts=draw(offcut_rules()) if most_stock else OffcutRules(),
    )


def offcut_rules() -> SearchStrategy[OffcutRules]:
    """What goods in hand are worth: by every rule, of the usual sizes or of a small one."""
    return st.builds(
        OffcutRules,
        value=st.sampled_from([ValueRule.BY_SIZE, *ValueRule]),
        small_nm2=st.sampled_from([OffcutRules().small_nm2, 1_500_000 * MM**2]),
        sizes_nm=st.sampled_from([OffcutRules().sizes_nm, ((250 * MM, 400 * MM),)]),
    )


def plain_jobs(**changes: Any) -> SearchStrategy[Job]:
    """Rectangular rooms, plain goods, nothing in stock."""
    return jobs(**changes)


def ell_jobs(**changes: Any) -> SearchStrategy[Job]:
    """L-shaped and rectangular rooms, plain goods."""
    return jobs(**({"outlines": st.one_of(ells(), rectangles())} | changes))


def patterned_jobs(**changes: Any) -> SearchStrategy[Job]:
    """Rectangular rooms, goods of every match."""
    return jobs(**({"matches": MATCHES[1:]} | changes))


def stock_jobs(**changes: Any) -> SearchStrategy[Job]:
    """Rooms of both shapes, goods of every match and none, rolls and remnants in hand, loose pieces."""
    given: dict[str, Any] = {
        "outlines": st.one_of(ells(), rectangles()),
        "matches": MATCHES,
        "most_stock": 3,
        "several_widths": True,
        "doors": True,
        "loose": True,
    }
    return jobs(**(given | changes))


@st.composite
def pinned_jobs(draw: DrawFn, **changes: Any) -> Job:
    """Jobs of every kind with something fixed in their rooms; what is fixed need not be possible."""
    job = draw(stock_jobs(**changes))
    names = [piece.id for piece in job.stock]
    found = []
    for room in job.rooms:
        pins = RoomPins(
            seams=tuple(draw(st.lists(pinned_seams(room), max_size=1))),
            most_seams=draw(st.sampled_from([None, None, 0, 1, 3])),
            sources=tuple(draw(st.sampled_from([[], [], names[:1], names[:2]]))),
        )
        found.append(replace(room, pins=pins))
    lots = (OneLot(rooms=tuple(room.id for room in found)),) if len(found) > 1 and draw(st.booleans()) else ()
    return replace(job, rooms=tuple(found), one_lot=lots)


@st.composite
def pinned_seams(draw: DrawFn, room: Room) -> PinnedSeam:
    """A line through a room, north-south or east-west, seldom a little askew."""
    axis = draw(st.integers(0, 1))
    far = max(point[axis] for point in room.outline)
    end = max(point[1 - axis] for point in room.outline)
    at = far * draw(st.integers(1, 39)) // 40 + draw(st.sampled_from([0, 0, 1, 3_333_333]))
    askew = draw(st.sampled_from([0, 0, 0, 2 * MM]))
    ends = ((at, 0), (at + askew, end))
    start, stop = ends if axis == 0 else ((0, at), (end, at + askew))
    return PinnedSeam(name="a seam", start=start, end=stop)


# --- the site --------------------------------------------------------------------------------------------------------

_SPANS = st.sampled_from([2_000 * MM, 120 * INCH])


def site_limits(material_id: str = "goods") -> SearchStrategy[SiteLimits]:
    """What a maker states, of each kind or not."""

    def ranges(low: int, high: int) -> SearchStrategy[Range]:
        ends = st.lists(st.fractions(low, high, max_denominator=90), min_size=2, max_size=2).map(sorted)
        return st.tuples(ends, st.sampled_from(["both", "low", "high"])).map(
            lambda found: Range(
                low=None if found[1] == "high" else found[0][0], high=None if found[1] == "low" else found[0][1]
            )
        )

    def maybe(strategy: SearchStrategy[Any]) -> SearchStrategy[Any]:
        return st.none() | strategy

    return st.builds(
        SiteLimits,
        material_id=st.just(material_id),
        emission_g_m2=maybe(st.fractions(1, 60, max_denominator=90)),
        humidity_percent=maybe(st.fractions(50, 99, max_denominator=10)),
        ph=maybe(ranges(5, 12)),
        temperature_c=maybe(ranges(10, 35)),
        acclimatizing_h=maybe(st.fractions(1, 96, max_denominator=4)),
        flatness_nm=maybe(st.tuples(inches(0, 1), _SPANS)),
        gap_nm=maybe(ranges(0, 10).map(lambda mm: _scaled(mm, MM))),
        bonded_wet_room=st.booleans(),
    )


def _scaled(found: Range, by: int) -> Range:
    return Range(
        low=None if found.low is None else found.low * by, high=None if found.high is None else found.high * by
    )


@st.composite
def site_readings(draw: DrawFn, room_ids: tuple[str, ...] = ()) -> SiteReading:
    """A reading of any kind in one of the rooms, or at a place that is none."""
    kind = draw(st.sampled_from(list(ReadingKind)))
    room = draw(st.sampled_from(["", *room_ids]))
    most = {ReadingKind.FLATNESS: 30 * MM, ReadingKind.GAP: 12 * MM, ReadingKind.PH: 14}.get(kind, 100)
    return SiteReading(
        kind=kind,
        value=draw(st.fractions(0, most, max_denominator=90)),
        span_nm=draw(_SPANS) if kind is ReadingKind.FLATNESS else 0,
        room_id=room,
        place=room or draw(st.sampled_from(["north bay", "<b>by the & door</b>"])),
        date=draw(st.sampled_from(["", "2 May"])),
    )


@st.composite
def sites(draw: DrawFn, job: Job) -> Site:
    """What may be known of the site of a job."""
    rooms = tuple(room.id for room in job.rooms)
    others = draw(st.lists(st.sampled_from(rooms), unique=True, max_size=1)) if rooms else []
    return Site(
        new_building=draw(st.booleans()),
        substrate=draw(st.sampled_from(list(Substrate))),
        other_substrates=tuple(
            RoomSubstrate(room_id=room, substrate=draw(st.sampled_from(list(Substrate)))) for room in others
        ),
        limits=tuple(draw(site_limits(material.id)) for material in job.materials if draw(st.booleans())),
        readings=tuple(draw(st.lists(site_readings(rooms), max_size=6))),
    )


# --- the rack --------------------------------------------------------------------------------------------------------


@st.composite
def rack_pieces(draw: DrawFn, material_id: str = "goods") -> RackPiece:
    """A piece of the rack: whole, an L, or a staircase; with flaws, lots and phases or without."""
    columns = draw(st.lists(st.tuples(steps(300, 900), steps(400, 4_000)), min_size=1, max_size=3))
    rects, x = [], 0
    for width, length in columns:
        rects.append(Rect(x, 0, x + width, length))
        x += width
    longest = max(length for _, length in columns)
    whole = all(length == longest for _, length in columns)
    flaw = Rect(0, 0, draw(st.integers(1, x)), draw(st.integers(1, longest)))
    known = draw(st.sampled_from(list(PhaseKnown)))
    lot = draw(st.sampled_from([None, "A17", "Ä 2"]))
    return RackPiece(
        id="R-1",
        material_id=material_id,
        kind=draw(st.sampled_from(list(StockKind))),
        width_nm=x,
        length_nm=longest,
        shape=() if whole else tuple(rects),
        lot=lot,
        lot_orderable=lot is not None and draw(st.booleans()),
        flaws=draw(st.sampled_from([(), (), (flaw,)])),
        phase_nm=None if known is PhaseKnown.UNKNOWN else (draw(st.integers(-MM, MM)), draw(st.integers(0, MM))),
        phase_known=known,
        cost=draw(st.integers(0, 10**6)),
        currency=draw(st.sampled_from(["", "EUR"])),
        supplier=draw(st.sampled_from(["", 'Weaver & "Daughter"'])),
        note=draw(st.sampled_from(["", "; \u2028 =1+1", "ends, 'frayed'"])),
    )


# --- names -----------------------------------------------------------------------------------------------------------

HARD_NAMES = (
    "<b>\"Küche\" & 'Co'</b>]]>",
    "<script>alert(1)</script>",
    "&amp; &#60;g&#62; <!-- -->",
    "חדר אוכל 12, גדול",
    "غرفة الطعام ٣٤",
    "room \u202eDLO\u202c \u2067in\u2069 \u2068no",
    "🛋️🪑👩🏽‍🍳🇳🇴",
    "a\x00b\x07c\nd\u2028e\ufffff",
    "e\u0301\u0302\u0303" * 20,
    "long " * 100,
    "x" * 500,
    "ש" * 500,
)
"""Names that a careless sheet breaks on: markup, quotes, both directions, pictures, control characters, length."""


def names() -> SearchStrategy[str]:
    """Any name that a user may give to anything, the hard ones often."""
    any_text = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=60)
    return st.one_of(
        st.sampled_from(HARD_NAMES), any_text, st.text(st.sampled_from("aא ع1<&\"'·\u202e\u2069"), max_size=30)
    )


# --- sundries --------------------------------------------------------------------------------------------------------


def amounts() -> SearchStrategy[Amount]:
    """Amounts of any measure, in its own small unit."""
    quantities = st.fractions(min_value=1, max_value=10**6)
    return st.builds(Amount, measure=st.sampled_from(Measure), quantity=quantities)


@st.composite
def with_sundries(draw: DrawFn, job: Job) -> Job:
    """A job with products of any kind for its goods, laid anyhow, whether or not they make sense together."""
    goods = tuple(material.id for material in job.materials)
    packs = st.none() | amounts().map(lambda amount: replace(amount, quantity=amount.quantity * 10**9))
    products = tuple(
        Sundry(
            kind=kind,
            name=kind.value,
            material_ids=goods,
            pack=draw(packs),
            price=draw(st.none() | st.integers(0, 10**4)),
            waste=draw(st.sampled_from([Fraction(0), Fraction(1, 20)])),
        )
        for kind in draw(st.lists(st.sampled_from(SundryKind), max_size=4, unique=True))
    )
    laid = tuple(LaidHow(material_id=ident, fixing=draw(st.sampled_from(Fixing))) for ident in goods)
    return replace(job, sundries=Sundries(laid=laid, products=products))


# --- any value of a frozen type --------------------------------------------------------------------------------------

_TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=8)
_NUMBERS = st.integers(-(10**30), 10**30)


def anything(kind: Any) -> SearchStrategy[Any]:
    """Well-typed values of an annotation: dataclasses, tuples, enums, fractions, text, numbers."""
    origin, arms = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        return st.one_of(*(anything(arm) for arm in arms))
    if origin is tuple:
        if len(arms) == 2 and arms[1] is Ellipsis:
            return st.lists(anything(arms[0]), max_size=2).map(tuple)
        return st.tuples(*(anything(arm) for arm in arms))
    if kind is type(None):
        return st.none()
    if dataclasses.is_dataclass(kind):
        hints = typing.get_type_hints(kind)
        return st.builds(
            kind, **{field.name: st.deferred(_later(hints[field.name])) for field in dataclasses.fields(kind)}
        )
    if issubclass(kind, Enum):
        return st.sampled_from(list(kind))
    if issubclass(kind, tuple):  # a named tuple
        return st.tuples(*(anything(hint) for hint in typing.get_type_hints(kind).values())).map(
            lambda parts: kind(*parts)
        )
    simple = {int: _NUMBERS, str: _TEXTS, bool: st.booleans(), Fraction: st.fractions(max_denominator=10**12)}
    return simple[kind]


def _later(kind: Any) -> Any:
    return lambda: anything(kind)
