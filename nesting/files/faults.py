"""Collects everything that is wrong with a job, each with its line, so that all is said at once."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from nesting.domain.plan import Notice
from nesting.errors import Fault
from nesting.files.fields import Reading, nearest
from nesting.files.yaml_tree import Loc, Tree
from nesting.units import UnitError

M = TypeVar("M", bound=BaseModel)


def where_text(loc: Loc) -> str:
    """Return a path as people read it: rooms[2].cut out[0].size."""
    text = ""
    for part in loc:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


@dataclass(slots=True)
class Faults:
    """Faults and notices found so far in one file."""

    tree: Tree
    file: str
    found: list[Fault] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)

    def add(self, loc: Loc, code: str, what: str, hint: str = "") -> None:
        """Note one fault at `loc`."""
        origin = self.tree.origin_of(loc)
        place = {"file": origin} if origin else {"file": self.file, "where": where_text(loc)}
        self.found.append(Fault(code=code, what=what, hint=hint, line=self.line_at(loc), **place))

    def line_at(self, loc: Loc) -> int:
        """Return the line of the value at `loc`; 0: it stands in no file."""
        return 0 if self.tree.origin_of(loc) else self.tree.line_of(loc)

    def add_unit_error(self, loc: Loc, error: UnitError) -> None:
        """Note that a text at `loc` is no measure."""
        self.add(loc, error.code, error.what, error.hint)

    def notice(self, code: str, text: str, room_id: str = "") -> None:
        """Note something that the user should know."""
        self.notices.append(Notice(code=code, text=text, room_id=room_id))

    def validate(self, model: type[M], data: Any, loc: Loc, reading: Reading) -> M | None:
        """Return `data` as an entry, or None with its faults noted."""
        try:
            return model.model_validate(data, context=reading)
        except ValidationError as error:
            for item in error.errors(include_url=False, include_input=False):
                self._note(model, item, loc)
            return None

    def _note(self, model: type[BaseModel], item: Any, loc: Loc) -> None:
        inner = tuple(item["loc"])
        kind = item["type"]
        at = (*loc, *inner)
        context = item.get("ctx", {})
        if kind == "extra_forbidden":
            known = _keys_at(model, inner[:-1])
            self.add(at, "unknown-key", f"`{inner[-1]}` is not a key of this part", nearest(str(inner[-1]), known))
        elif kind == "missing":
            self.add(at, "missing-key", f"the key `{inner[-1]}` is missing")
        elif kind in ("model_type", "model_attributes_type", "dict_type"):
            self.add(at, "wrong-type", "keys with values are expected here", "write `key: value` lines below it")
        elif kind == "list_type":
            self.add(at, "wrong-type", "a list is expected here", "begin each item with `- `")
        elif kind == "too_short":
            self.add(at, "missing-key", "at least one is needed here")
        elif "what" in context:
            self.add(at, kind, context["what"], context.get("hint", ""))
        else:
            self.add(at, "wrong-type", str(item["msg"]))


def _keys_at(model: type[BaseModel], loc: tuple[Any, ...]) -> list[str]:
    """Return the keys that the part at `loc` of `model` may have."""
    for part in loc:
        if isinstance(part, int):
            continue
        for info in model.model_fields.values():
            if info.alias == part:
                model = _model_in(info.annotation) or model
    return [str(info.alias) for info in model.model_fields.values()]


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """Return the entry model inside an annotation such as `list[DoorEntry] | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in (Union, UnionType, list, Annotated):
        for arm in get_args(annotation):
            found = _model_in(arm)
            if found:
                return found
    return None
