"""The state file: how far a planned job is, in the words of the bench, read against its plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations
from pathlib import Path
from typing import Any

from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.plan import CutSource, Plan, SourceKind
from nesting.domain.state import Delivered, FlawFound, Spoiled, State
from nesting.errors import JobError
from nesting.files.faults import Faults
from nesting.files.fields import Reading, nearest
from nesting.files.reading import read_text
from nesting.files.state_entries import ITEMS, KEYS, MOST_ITEMS, LeftEntry, NamesEntry, SpoiledEntry
from nesting.files.state_names import CutBook, offcuts_index, sources_index
from nesting.files.state_rolls import flaw_on, roll_as_it_came
from nesting.files.yaml_tree import LARGEST_JOB_BYTES, Loc, Tree, read_tree
from nesting.model.finishing import turned_rects
from nesting.units import format_length


def read_state(path: Path, plan: Plan) -> State:
    """Return the state of `plan` in the file at `path`; bare numbers are in the unit of the plan's job.

    Raises
    ------
    JobError
        With every fault found, each with its line.
    """
    return parse_state(read_text(path, most_bytes=LARGEST_JOB_BYTES, what="state"), plan, file=str(path))


def parse_state(text: str, plan: Plan, *, file: str = "") -> State:
    """Return the state that `text` describes; `file` is named in faults.

    Raises
    ------
    JobError
        With every fault found, each with its line.
    """
    try:
        tree = read_tree(text, file, "state")
    except JobError as error:
        if error.faults[0].code == "empty-file":
            return State()
        raise
    faults = Faults(tree, file)
    if not isinstance(tree.data, dict):
        faults.add((), "not-a-state", "this is not a state file: keys such as `cut:` and `laid:` are expected")
        raise JobError(faults.found)
    faults.tree = _with_lists(tree)
    state = _StateReader(plan, faults).state()
    if faults.found:
        raise JobError(faults.found)
    return state


def _with_lists(tree: Tree) -> Tree:
    """Return the values with single entries as lists of one, so that what stands in them keeps its line."""
    lines: dict[Loc, int] = {}

    def copied(value: Any, old: Loc, new: Loc, single: bool) -> Any:
        lines[new] = tree.lines[old]
        if single and isinstance(value, dict):
            return [copied(value, old, (*new, 0), False)]
        if isinstance(value, dict):
            return {key: copied(item, (*old, key), (*new, key), key in (*ITEMS, "left")) for key, item in value.items()}
        if isinstance(value, list):
            return [copied(item, (*old, i), (*new, i), False) for i, item in enumerate(value)]
        return value

    return Tree(copied(tree.data, (), (), False), lines)


class _StateReader:
    """Reads one state; what is wrong in one part does not keep the others from being read."""

    def __init__(self, plan: Plan, faults: Faults) -> None:
        self.data: dict[str, Any] = faults.tree.data
        self.faults = faults
        self.unit = str(plan.job.unit)
        self.reading = Reading(self.unit)
        materials = {material.id: material for material in plan.job.materials}
        self.sources = {source.id: source for part in plan.materials for source in part.sources}
        self.material_of = {
            source.id: materials[part.material_id] for part in plan.materials for source in part.sources
        }
        self.places = {place.cut_id: place for part in plan.materials for place in part.placements}
        self.book = CutBook(plan)
        self.known_sources = sources_index(plan)
        self.known_offcuts = offcuts_index(plan)
        self.offcut_ids = tuple(offcut.id for part in plan.materials for offcut in part.offcuts)

    def state(self) -> State:
        """Return the state; it is whole only if no fault was noted."""
        for name in self.data:
            if name not in KEYS:
                self.faults.add((name,), "unknown-key", f"`{name}` is not a key of a state", nearest(name, KEYS))
        delivered = self._delivered()
        cut, laid = self._cuts("cut"), self._cuts("laid")
        spoiled = self._spoiled(laid)
        flaws = self._flaws(delivered)
        gone = [
            found.id for loc, name in self._names("gone") if (found := self.known_offcuts.one(name, loc, self.faults))
        ]
        ranks = {name: rank for rank, name in enumerate(self.sources)}
        return State(
            ordered=self._ordered(),
            delivered=tuple(sorted(delivered.values(), key=lambda item: ranks[item.source_id])),
            cut=self._in_order(cut),
            laid=self._in_order(laid),
            spoiled=tuple(spoiled[name] for name in self._in_order(spoiled)),
            flaws=tuple(sorted(flaws, key=lambda item: ranks[item.source_id])),
            gone=tuple(name for name in self.offcut_ids if name in gone),
        )

    # --- the parts of the file ---------------------------------------------------------------------------------------

    def _names(self, key: str) -> list[tuple[Loc, str]]:
        """Return the names of one list with where they stand."""
        entry = self.faults.validate(NamesEntry, {key: self.data[key]}, (), self.reading) if key in self.data else None
        return [((key, i), name) for i, name in enumerate(getattr(entry, key, None) or ())]

    def _items(self, key: str) -> Iterator[tuple[Loc, Any]]:
        """Yield the sound entries of one list with where they stand."""
        items = self.data.get(key, [])
        if not isinstance(items, list):
            items = [items]
        if len(items) > MOST_ITEMS:
            self.faults.add((key,), "too-large", f"more than {MOST_ITEMS} items stand here", "join what lies together")
            return
        for i, item in enumerate(items):
            entry = self.faults.validate(ITEMS[key], item, (key, i), self.reading)
            if entry is not None:
                yield (key, i), entry

    def _in_order(self, cuts: Iterable[str]) -> tuple[str, ...]:
        wanted = set(cuts)
        return tuple(name for name in self.book.cuts if name in wanted)

    def _shown(self, nm: int) -> str:
        return format_length(nm, self.unit, with_unit=True)

    # --- rolls -------------------------------------------------------------------------------------------------------

    def _ordered(self) -> tuple[str, ...] | None:
        """Return the rolls that are ordered; None where the file does not say."""
        if "ordered" not in self.data:
            return None
        names = self._names("ordered")
        rolls = [name for name, source in self.sources.items() if source.kind is SourceKind.ORDER]
        word = names[0][1].lower() if len(names) == 1 else ""
        if word in ("yes", "true", "on", "all"):
            return tuple(rolls)
        if word in ("no", "false", "off", "none"):
            return ()
        found = [(loc, self._source(name, loc)) for loc, name in names]
        listed = {source.id for loc, source in found if source is not None and self._to_order(source, loc)}
        return tuple(name for name in rolls if name in listed)

    def _source(self, name: str, loc: Loc) -> CutSource | None:
        found = self.known_sources.one(name, loc, self.faults)
        return self.sources[found.id] if found else None

    def _to_order(self, source: CutSource, loc: Loc) -> bool:
        """Tell whether a roll is one to order, the fault noted if not."""
        if source.kind is not SourceKind.ORDER:
            what = f"{source.id} is in hand and is not ordered by this plan"
            hint = "leave it out; what is wrong with it is said in the job, or under `flaws`"
            self.faults.add(loc, "not-ordered", what, hint)
        return source.kind is SourceKind.ORDER

    def _delivered(self) -> dict[str, Delivered]:
        found: dict[str, Delivered] = {}
        for loc, entry in self._items("delivered"):
            at = (*loc, "roll")
            source = self._source(entry.roll, at)
            if source is None or not self._to_order(source, at):
                continue
            if source.id in found:
                what = f"{source.id} is delivered twice; the other is on line {found[source.id].line}"
                self.faults.add(at, "given-twice", what, "put all that is said of it into one entry")
                continue
            found[source.id] = roll_as_it_came(entry, source, self.material_of[source.id], loc, self.faults, self.unit)
        return found

    def _flaws(self, delivered: dict[str, Delivered]) -> list[FlawFound]:
        found = []
        for loc, entry in self._items("flaws"):
            at = (*loc, "on")
            source = self._source(entry.on, at)
            if source is not None:
                came = delivered.get(source.id, Delivered(source_id=source.id))
                width, length = came.width_nm or source.width_nm, came.length_nm or source.length_nm
                rect = flaw_on(entry, width, length, loc, self.faults, self.unit)
                found.append(FlawFound(source_id=source.id, rect=rect, line=self.faults.line_at(loc)))
        return found

    # --- cuts --------------------------------------------------------------------------------------------------------

    def _cuts(self, key: str) -> dict[str, Loc]:
        """Return the cuts of one list with where each is named first."""
        found: dict[str, Loc] = {}
        for loc, text in self._names(key):
            for cut in self.book.named(text, loc, self.faults):
                found.setdefault(cut, loc)
        return found

    def _said(self, cut_id: str) -> str:
        cut = self.book.cuts[cut_id]
        return f"cut {cut.number} ({cut.label})"

    def _spoiled(self, laid: dict[str, Loc]) -> dict[str, Spoiled]:
        found: dict[str, Spoiled] = {}
        for loc, entry in self._items("spoiled"):
            at = (*loc, "cut")
            cuts = self.book.named(entry.cut, at, self.faults)
            if len(cuts) > 1:
                numbers = ", ".join(str(self.book.cuts[cut].number) for cut in cuts[:9])
                what = f"{entry.cut!r} stands for {len(cuts)} cuts, and what is left of each must be said"
                self.faults.add(at, "several-cuts", what, f"give each an entry of its own: {numbers}")
            if len(cuts) != 1:
                continue
            (cut,) = cuts
            if cut in found:
                what = f"{self._said(cut)} is spoiled twice; the other is on line {found[cut].line}"
                self.faults.add(at, "given-twice", what, "leave one out")
            if cut in laid:
                what = f"{self._said(cut)} is spoiled, and laid on line {self.faults.line_at(laid[cut])}"
                self.faults.add(at, "spoiled-and-laid", what, "list what is laid by its numbers, without this one")
            left = self._left(entry, cut, (*loc, "left"))
            found[cut] = Spoiled(cut_id=cut, left=left, line=self.faults.line_at(loc))
        return found

    def _left(self, entry: SpoiledEntry, cut_id: str, loc: Loc) -> tuple[Rect, ...]:
        """Return what is good of a cut as it lay on the roll: disjoint, and within the cut."""
        rects = turned_rects(self.book.cuts[cut_id].rects, self.places[cut_id].turn, 0, 0)
        whole = bounding_rect(rects)
        left = tuple(map(_rect, entry.left or ()))
        for i, rect in enumerate(left):
            if sum(_shared(rect, other) for other in rects) < rect.area_nm2:
                size = f"{self._shown(whole.width_nm)} x {self._shown(whole.length_nm)} as it lay on the roll"
                notch = ", with a notch" if len(rects) > 1 else ""
                what = f"what is left reaches outside {self._said(cut_id)}, which is {size}{notch}"
                hint = "measure across x along the roll, from the corner at the lower left"
                self.faults.add((*loc, i), "left-outside", what, hint)
        for (_, one), (j, other) in combinations(enumerate(left), 2):
            if _shared(one, other):
                what = f"two parts that are left of {self._said(cut_id)} overlap"
                self.faults.add((*loc, j), "left-overlaps", what, "give each part of the goods once")
                break
        return left


def _rect(entry: LeftEntry) -> Rect:
    x, y = entry.from_left or 0, entry.from_start or 0
    return Rect(x, y, x + entry.size[0], y + entry.size[1])


def _shared(one: Rect, other: Rect) -> int:
    """Return the area that two rectangles share."""
    across = min(one.x1_nm, other.x1_nm) - max(one.x0_nm, other.x0_nm)
    along = min(one.y1_nm, other.y1_nm) - max(one.y0_nm, other.y0_nm)
    return max(0, across) * max(0, along)
