"""What the names in a state file mean: ids of a plan first, then names; case and spacing do not count."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from nesting.domain.layout import Cut
from nesting.domain.plan import Plan, SourceKind
from nesting.files.faults import Faults
from nesting.files.fields import nearest
from nesting.files.yaml_tree import Loc

_RANGE = re.compile(r"([0-9]+)\s*(?:-|–|\bto\b)\s*([0-9]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """Something of a plan that can be named; `means`: the ids that it stands for."""

    id: str
    name: str = ""
    said: str = ""  # in messages
    means: tuple[str, ...] = ()


class Index:
    """Things by what they are called."""

    def __init__(self, things: Iterable[Known], what: str, hints: Sequence[str], way_out: str = "") -> None:
        self.what = what  # that is looked for, in messages
        self.hints = hints  # names to try
        self.way_out = way_out  # where a name is ambiguous
        self._ids: dict[str, list[Known]] = {}
        self._names: dict[str, list[Known]] = {}
        for thing in things:
            self._ids.setdefault(plain(thing.id), []).append(thing)
            if thing.name:
                self._names.setdefault(plain(thing.name), []).append(thing)

    def called(self, text: str) -> list[Known]:
        """Return everything that is called so."""
        name = plain(text)
        return self._ids.get(name) or self._names.get(name) or []

    def one(self, text: str, loc: Loc, faults: Faults) -> Known | None:
        """Return what is called so, or None with the fault noted."""
        found = self.called(text)
        if len(found) == 1:
            return found[0]
        if found:
            what = f"{text!r} may be {' or '.join(thing.said for thing in found)}"
            faults.add(loc, "ambiguous-name", what, self.way_out)
        else:
            faults.add(loc, "unknown-name", f"there is no {self.what} {text!r} in the plan", nearest(text, self.hints))
        return None


def plain(name: str) -> str:
    """Return a name as it is compared."""
    return " ".join(name.lower().split())


def sources_index(plan: Plan) -> Index:
    """Return the rolls and remnants that the plan cuts from."""
    ids = [source.id for part in plan.materials for source in part.sources]
    things = [Known(id=name, said=name, means=(name,)) for name in ids]
    return Index(things, "roll or remnant", ids, "give the piece in hand another label in the job")


def offcuts_index(plan: Plan) -> Index:
    """Return the offcuts that the plan keeps."""
    ids = [offcut.id for part in plan.materials for offcut in part.offcuts]
    return Index([Known(id=name, said=name, means=(name,)) for name in ids], "offcut", ids)


class CutBook:
    """The cuts of a plan by number, by range, and by everything that they are cut for or from."""

    def __init__(self, plan: Plan) -> None:
        self.cuts = {cut.id: cut for part in plan.materials for cut in part.cuts}
        self._by_number = {cut.number: cut.id for cut in self.cuts.values()}
        owners, goods = list(_owners(plan, self.cuts.values())), list(_goods(plan))
        names = {owner.id: owner.name for owner in owners}
        things = [Known(id="all", said="all cuts", means=tuple(self.cuts)), *owners, *goods]
        for cut in self.cuts.values():
            label = "" if cut.label == names.get(cut.owner) else cut.label  # a piece whose cuts are called like it
            things.append(Known(id=cut.id, name=label, said=f"cut {cut.number}", means=(cut.id,)))
        hints = [*(owner.name for owner in owners), *(source.id for source in goods)]
        self._index = Index(things, "room, piece, roll or cut", hints, "give the numbers of the cuts")

    def named(self, text: str, loc: Loc, faults: Faults) -> tuple[str, ...]:
        """Return the cuts that a text names; several may stand in it with commas between."""
        if "," not in text or self._index.called(text):
            return self._item(text, loc, faults)
        return tuple(cut for item in text.split(",") if item.strip() for cut in self._item(item.strip(), loc, faults))

    def _item(self, text: str, loc: Loc, faults: Faults) -> tuple[str, ...]:
        span = _RANGE.fullmatch(text)
        others = self._index.called(text)
        if re.fullmatch(r"[0-9]+", text) and (int(text) in self._by_number or not others):
            return self._numbered(int(text), int(text), loc, faults)
        if span and not others:
            return self._numbered(int(span[1]), int(span[2]), loc, faults)
        if span:
            what = f"{text!r} may be cuts {span[1]} to {span[2]} or {' or '.join(thing.said for thing in others)}"
            faults.add(loc, "ambiguous-name", what, "give the numbers of the cuts one by one")
            return ()
        found = self._index.one(text, loc, faults)
        return found.means if found else ()

    def _numbered(self, first: int, last: int, loc: Loc, faults: Faults) -> tuple[str, ...]:
        """Return the cuts from one number to another; numbers that a plan leaves out between them are passed over."""
        if first > last:
            what = f"the range {first}-{last} runs backwards"
            faults.add(loc, "range-backwards", what, f"write {last}-{first}")
            return ()
        unknown = [number for number in dict.fromkeys((first, last)) if number not in self._by_number]
        for number in unknown:
            hint = f"its cuts are numbered from {min(self._by_number, default=0)} to {max(self._by_number, default=0)}"
            faults.add(loc, "unknown-number", f"there is no cut number {number} in the plan", hint)
        if unknown:
            return ()
        return tuple(cut for number, cut in self._by_number.items() if first <= number <= last)


def _owners(plan: Plan, cuts: Iterable[Cut]) -> Iterator[Known]:
    """Yield what cuts are for."""
    made: dict[str, list[str]] = {}
    for cut in cuts:
        made.setdefault(cut.owner, []).append(cut.id)
    job = plan.job
    for kind, owners in (("room", job.rooms), ("loose piece", job.loose), ("strip", job.strips)):
        for owner in owners:
            means = tuple(made.get(owner.id, ()))
            yield Known(id=owner.id, name=owner.name, said=f"{kind} {owner.name}", means=means)


def _goods(plan: Plan) -> Iterator[Known]:
    """Yield what is cut from."""
    for part in plan.materials:
        for source in part.sources:
            kind = "remnant" if source.kind is SourceKind.REMNANT else "roll"
            means = tuple(place.cut_id for place in part.placements if place.source_id == source.id)
            yield Known(id=source.id, said=f"{kind} {source.id}", means=means)
