"""The keys of the job file: the job itself, its materials, stock, rules, goal, loose pieces and strips."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, GetJsonSchemaHandler, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from nesting.domain.material import StockKind, Turning
from nesting.domain.rules import GoalKind, ValueRule
from nesting.files.fields import (
    AreaWeight,
    Count,
    Entry,
    Length,
    LengthOrZero,
    Lengths,
    Money,
    Names,
    Offsets,
    OneOf,
    OrOne,
    PriceText,
    Share,
    Size,
    Whole,
    Words,
    Yes,
)
from nesting.files.room_entries import RoomEntry, Settings, key
from nesting.files.site_entries import SiteEntry, SiteLimitsEntry, SiteReadingEntry
from nesting.files.sundry_entries import Area, FixingWord, SundriesEntry


class GoalEntry(Entry):
    """What is to be got out of the goods. `goal: least roll` is short for `goal: {kind: least roll}`."""

    kind: Annotated[str, OneOf("goal", *GoalKind)] | None = key(
        description="balanced: the least roll, but one seam more only where it saves enough; least roll; fewest seams; "
        "least cost"
    )
    seam_worth: LengthOrZero | None = key(description="balanced: so much roll a seam must save (default 0.5 m)")
    charge_per_seam: PriceText | None = key(description="least cost: making a seam, such as 4.00 per m")
    charge_per_cross_seam: Money | None = key(description="least cost: making a cross seam, each")
    charge_per_cut: Money | None = key(description="least cost: cutting a piece, each")
    most_seams: Whole | None = key(description="a cap: no more seams, cross seams and relief cuts than this")

    @model_validator(mode="before")
    @classmethod
    def _from_word(cls, value: Any) -> Any:
        return {"kind": value} if isinstance(value, str) else value

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Return the schema: a word, or the keys."""
        return _or_word(handler(core), {"enum": [kind.replace("-", " ") for kind in GoalKind]})


def _or_word(schema: JsonSchemaValue, word: JsonSchemaValue) -> JsonSchemaValue:
    return {"anyOf": [word, schema], "description": schema.get("description", "")}


class OffcutsEntry(Entry):
    """Which offcuts are worth keeping, what goods in hand are worth, and how the goods are cut up."""

    worth_keeping: Annotated[list[Size], OrOne()] | None = key(
        description="sizes of which an offcut must hold one, either way round (default 600 x 600 mm, 300 x 2000 mm)"
    )
    bench_cuts: Yes | None = key(description="cut across the whole width first, then split (default no)")
    value: Annotated[str, OneOf("value of goods in hand", *ValueRule)] | None = key(
        description="how goods in hand are spared where roll, money and seams are equal: by size (default: of a small "
        "piece only a quarter counts), by area, none"
    )
    small_up_to: Area | None = key(
        description="by size: of the first so much of a piece a quarter counts, the rest in full (default 4 m2)"
    )


class MaterialEntry(Settings):
    """A material: what is ordered."""

    name: Words = Field(description="what you call it")
    id: Words | None = key(description="a short name for lists and files (default: from the name)")
    width: Length | None = key(description="the roll width made, selvedge included")
    widths: Lengths | None = key(description="several roll widths of one material: the plan chooses")
    longest: Length | None = key(description="the longest roll made (default: no limit)")
    order_step: Length | None = key(description="ordered lengths are rounded up to this, such as 10 cm")
    minimum_cut: LengthOrZero | None = key(description="the least length that is sold")
    whole_rolls: Yes | None = key(description="sold in whole rolls of the longest length only")
    cut_charge: Money | None = key(description="charged for every roll cut for you")
    price: PriceText | None = key(description="per m, ft or yd of roll, or per m2, sq ft or sq yd")
    prices: list[PriceText] | None = key(description="several widths: a price per length for each, in their order")
    lot_limit: Length | None = key(description="the longest supply of one lot (default: no limit)")
    stock_only: Yes | None = key(description="nothing can be ordered, only what is in hand is cut (default no)")
    selvedge: LengthOrZero | None = key(description="factory edge cut away before seaming, at each edge (default 0)")
    repeat_along: Length | None = key(description="the pattern's repeat along the roll")
    repeat_across: Words | None = key(
        description="the pattern's repeat across the roll; `none`: the goods do not vary across; `at the seam` "
        "(default): only the match from breadth to breadth is known"
    )
    match: Words | None = key(
        description="none, straight, half-drop, or `drop 160 mm`, `drop 1/4`: at the right the motif sits up by so "
        "much (up: on towards the end of the roll)"
    )
    drop_counts: Annotated[str, OneOf("reading of the drop", "per-repeat", "at-the-seam")] | None = key(
        description="whether the drop is from one repeat across to the next, or from breadth to breadth"
    )
    turning: Annotated[str, OneOf("turning", *Turning)] | None = key(
        description="whether drops may be turned end for end: never (default), free, alternate"
    )
    directed: Yes | None = key(description="the goods have an arrow: joined rooms are laid one way (default yes)")
    in_sequence: Yes | None = key(description="drops of a room are cut and laid in roll order (default no)")
    seam_lines_across: Offsets | None = key(description="offsets within the repeat across where seams may run")
    seam_lines_along: Offsets | None = key(description="offsets within the repeat along where cross seams may run")
    seam_overlap: LengthOrZero | None = key(description="overlap for double cutting at a seam (default 0: butted)")
    cutting_step: Length | None = key(description="rough cuts are rounded up to this (default 5 mm, or 1/4 in)")
    weight: AreaWeight | None = key(description="per area, such as 2.9 kg/m2 or 60 oz per sq yd")
    squaring: LengthOrZero | None = key(description="lost at the start of every ordered roll (default 50 mm, or 2 in)")
    starting_allowance: Words | None = key(
        description="up to the first pattern mark of a roll: `one repeat` (default), a length, or `none`: then the "
        "pattern may not be placed on goods to order"
    )
    repeat_tolerance: Share | None = key(description="how far the repeat of delivered goods may be off (default 1 %)")
    fixing: FixingWord | None = key(
        description="how it goes down: full spread (default), perimeter, loose lay, or stretched"
    )
    loose_up_to: Area | None = key(
        description="the largest floor that may lie loose (default: under 25 sq yd, common practice)"
    )
    sundries: SundriesEntry | None = key(description="what goes down with it: rates, packs, prices")
    site_limits: SiteLimitsEntry | None = key(description="what its maker states of the site it may be laid on")


class FlawEntry(Entry):
    """A flaw: no piece is cut through it."""

    from_start: LengthOrZero = Field(description="from the start of the roll to the nearer end of the flaw")
    from_left: LengthOrZero = Field(description="from the left edge, face up, start towards you")
    size: Size = Field(description="across x along")


class StockEntry(Entry):
    """A roll or remnant in hand."""

    id: Words = Field(description="what stands on its label")
    material: Words | None = key(description="name of its material (default: the only one)")
    kind: Annotated[str, OneOf("kind of stock", *StockKind)] | None = key(description="roll, or remnant (default)")
    width: Length = Field(description="across the roll, selvedge included")
    length: Length = Field(description="along the roll")
    lot: Words | None = key(description="dye or production lot (default: unknown, a lot of its own)")
    lot_orderable: Yes | None = key(description="more of this lot can be ordered (default no)")
    flaws: list[FlawEntry] | None = key(description="places to cut round")
    first_mark: Words | None = key(
        description="where the first pattern mark lies: `12 cm across, 30 cm along`, from the left edge and the start; "
        "or unknown (default)"
    )
    value: Money | None = key(description="charged when any of it is used (default 0)")
    place: Words | None = key(description="where it is on the rack")


class LooseEntry(Entry):
    """Rectangles asked for by size and count: stair, mat, patch, border."""

    name: Words = Field(description="what it is")
    id: Words | None = key(description="a short name for lists (default: from the name)")
    material: Words | None = key(description="name of its material (default: the only one)")
    size: Size = Field(description="across x along the roll")
    count: Count | None = key(description="how many (default 1)")
    most_parts: Count | None = key(description="each may be joined from so many parts (default 1: whole)")
    least_part: Length | None = key(description="no part shorter than this (default 300 mm)")


class StripEntry(Entry):
    """Skirting or cove cut from the goods."""

    name: Words = Field(description="what it is")
    id: Words | None = key(description="a short name for lists (default: from the name)")
    material: Words | None = key(description="name of its material (default: the only one)")
    width: Length = Field(description="the strip's width")
    runs: Lengths | None = key(description="the lengths wanted")
    walls_of: Names | None = key(description="rooms whose walls want a run each")
    least_joint: Length | None = key(description="joints at least so far apart (default 600 mm)")


class JobHeader(Settings):
    """A job: rooms that get sheet goods, and what they are cut from."""

    job: Words = Field(description="the job's name")
    unit: Annotated[str, OneOf("unit", "mm", "cm", "m", "in", "ft")] = Field(
        description="what bare numbers mean, and what the maps show: mm, cm, m, in or ft"
    )
    currency: Words | None = key(description="a word behind amounts of money, such as EUR")
    coins: Count | None = key(description="how many of the smallest coin make one (default 100)")
    goal: GoalEntry | None = key(description="balanced (default), least roll, fewest seams or least cost")
    offcuts: OffcutsEntry | None = key(description="which offcuts are worth keeping, what goods in hand are worth")
    closing_tolerance: LengthOrZero | None = key(
        description="how far walks and loops of joined rooms may fail to close (default 10 mm)"
    )
    one_lot: list[Names] | None = key(description="lists of rooms that are cut from one lot: [[Lounge, Hall]]")
    match: list[Names] | None = key(description="lists of rooms whose pattern runs through: [[Lounge, Hall]]")
    sundries: SundriesEntry | None = key(description="what goes down with the goods: rates, packs, prices")
    site: SiteEntry | None = key(description="what is known of the building and of what the goods are laid on")
    site_limits: SiteLimitsEntry | None = key(description="what the makers state of the site, for all materials")
    site_readings: list[SiteReadingEntry] | None = key(description="what was measured on the site")


class JobEntry(JobHeader):
    """A job: rooms that get sheet goods, and what they are cut from."""

    materials: list[MaterialEntry] = Field(description="what can be ordered or is in hand", min_length=1)
    stock: list[StockEntry] | None = key(description="rolls and remnants in hand")
    rooms: list[RoomEntry] | None = key(description="the floors")
    loose_pieces: list[LooseEntry] | None = key(description="rectangles cut with the rest")
    strips: list[StripEntry] | None = key(description="skirting or cove cut from the goods")


PARTS: dict[str, type[Entry]] = {
    "materials": MaterialEntry,
    "stock": StockEntry,
    "rooms": RoomEntry,
    "loose pieces": LooseEntry,
    "strips": StripEntry,
}
"""The lists of a job and the model of their items."""
