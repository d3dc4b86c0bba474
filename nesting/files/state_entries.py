"""The keys of the state file: how far a planned job is."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, field_validator, model_validator

from nesting.files.fields import Entry, Length, LengthOrZero, Size, Words, Yes, listed, refuse
from nesting.files.room_entries import key

MOST_ITEMS = 1_000
"""Items of one list of the state; ranges and names stand for many cuts."""


def _few(value: Any) -> Any:
    items = listed(value)
    if len(items) > MOST_ITEMS:
        raise refuse("too-large", f"more than {MOST_ITEMS} items stand here", "write ranges, rooms or rolls")
    return items


_Few = BeforeValidator(_few)


class NamesEntry(Entry):
    """The lists of names; each is read by itself."""

    ordered: Annotated[list[Words], _Few] | None = key(
        description="rolls that are ordered and cannot be changed any more: yes (all), no (none), or their names"
    )
    cut: Annotated[list[Words], _Few] | None = key(description="what is cut: numbers, ranges, rooms, rolls, or all")
    laid: Annotated[list[Words], _Few] | None = key(description="what is laid")
    gone: Annotated[list[Words], _Few] | None = key(description="offcuts that are not there any more")


class FlawPlace(Entry):
    """Where a flaw is: a rectangle, or a length across the whole width."""

    from_start: LengthOrZero = Field(description="from the start of the roll to the nearer end of the flaw")
    from_left: LengthOrZero | None = key(description="from the left edge, face up, start towards you (default 0)")
    size: Size | None = key(description="across x along")
    length: Length | None = key(description="along, across the whole width")

    @model_validator(mode="after")
    def _one_extent(self) -> FlawPlace:
        hint = "give `size`, or `length` for a flaw across the whole width"
        if self.size is None and self.length is None:
            raise refuse("missing-key", "how large the flaw is, is missing", hint)
        if self.length is not None and (self.size is not None or self.from_left is not None):
            raise refuse("given-twice", "`length` is across the whole width, and more is given across", hint)
        return self


class FlawEntry(FlawPlace):
    """A flaw found later."""

    on: Words = Field(description="the roll or remnant")


class DeliveredEntry(Entry):
    """A roll as it came; what is left out is as ordered."""

    roll: Words = Field(description="the roll to order")
    length: Length | None = key(description="as measured")
    width: Length | None = key(description="as measured, selvedge included")
    lot: Words | None = key(description="as it stands on the roll")
    more_of_this_lot: Yes | None = key(description="more of the lot can be ordered (default yes)")
    first_mark: Words | None = key(description="where the first pattern mark lies, or unknown (default)")
    repeat_along: Length | None = key(description="as measured")
    repeat_across: Length | None = key(description="as measured")
    wound_the_other_way: Yes | None = key(description="the start of the roll is the other end (default no)")
    flaws: Annotated[list[FlawPlace], _Few] | None = key(description="places to cut round")


class LeftEntry(Entry):
    """What is good of a spoiled cut. `left: 1.8 x 2.4` is short for `left: {size: 1.8 x 2.4}`."""

    size: Size = Field(description="across x along the roll")
    from_left: LengthOrZero | None = key(description="from the left of the cut as it lay on the roll (default 0)")
    from_start: LengthOrZero | None = key(description="from its end nearer to the start of the roll (default 0)")

    @model_validator(mode="before")
    @classmethod
    def _from_size(cls, value: Any) -> Any:
        return {"size": value} if isinstance(value, str) else value


class SpoiledEntry(Entry):
    """A cut that is of no use as what it was."""

    cut: Words = Field(description="its number")
    left: Annotated[list[LeftEntry], _Few] | None = key(description="what of it is good, or nothing")

    @field_validator("left", mode="before")
    @classmethod
    def _nothing(cls, value: Any) -> Any:
        return [] if isinstance(value, str) and value.strip().lower() in ("nothing", "none") else value

    @model_validator(mode="after")
    def _said(self) -> SpoiledEntry:
        if self.left is None:
            hint = "say how much of it is good, across x along the roll, or `nothing`"
            raise refuse("missing-key", "the key `left` is missing", hint)
        return self


ITEMS: dict[str, type[Entry]] = {"delivered": DeliveredEntry, "spoiled": SpoiledEntry, "flaws": FlawEntry}
"""The lists of entries and the model of their items."""

KEYS = ("ordered", "delivered", "cut", "laid", "spoiled", "flaws", "gone")
"""All keys of a state file."""
