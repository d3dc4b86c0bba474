"""What the rules of the CP-SAT model speak of: options, slots for their pieces, sources and phases."""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from nesting.model.axis import Axis
from nesting.model.instance import Box, Instance, Piece, Solution, Spot
from nesting.model.shapes import Shape


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """What a model is made of: the options looked at, and the choices that stay as the incumbent has them.

    `menu[c]`: options of choice c that may be taken. `frozen`: choices whose option and spots are those of
    `incumbent`; sources that hold something of theirs stay anchored or not as they are. `caps[s]`: the highest y
    looked at on source s. `offered`: the sources that pieces may be laid on (None: all).
    """

    menu: tuple[tuple[int, ...], ...]
    caps: tuple[int, ...]
    frozen: frozenset[int] = frozenset()
    incumbent: Solution | None = None
    offered: frozenset[int] | None = None


@dataclass(slots=True, kw_only=True)
class Slot:
    """A place for one piece of one choice; options with an equal piece share it.

    (x, y) is the corner on the axis; `on[s]` tells that it lies on source s, `ways[w]` that it lies as `shapes[w]`.
    `limits[s, w]`: (least x, least y, most x, most y) of the corner on source s as `shapes[w]`, losses of an anchoring
    that is open not counted; `wide` is that of all together. `on_lattice`: no place of its domains is off the pattern.
    """

    choice: int
    rank: int  # among equal pieces of the choice
    key: object
    shapes: tuple[Shape, ...]
    group: int | None
    offset: tuple[int, int]
    uses: list[tuple[int, int]]  # (option, piece) that the slot stands for
    present: cp_model.IntVar
    x: cp_model.IntVar
    y: cp_model.IntVar
    on: dict[int, cp_model.IntVar]
    ways: tuple[cp_model.IntVar, ...]
    limits: dict[tuple[int, int], Box]
    wide: Box
    on_lattice: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """φ of a group, each with its least and its greatest value; `across` None: no repeat across binds."""

    across: tuple[cp_model.IntVar, int, int] | None
    along: tuple[cp_model.IntVar, int, int]

    @property
    def variables(self) -> tuple[cp_model.IntVar | None, cp_model.IntVar]:
        """The variables alone."""
        return (None if self.across is None else self.across[0]), self.along[0]


@dataclass(slots=True, kw_only=True)
class Variables:
    """The model and all that its rules speak of."""

    instance: Instance
    task: Task
    axis: Axis
    model: cp_model.CpModel
    taken: list[dict[int, cp_model.IntVar]]  # per choice: option -> taken
    slots: list[Slot]
    slot_of: dict[tuple[int, int, int], Slot]  # (choice, option, piece)
    fixed: list[tuple[int, Piece, Spot]]  # pieces of frozen choices
    anchored: list[cp_model.IntVar]
    held: list[bool | None]  # per source: anchored or not, None: open
    known: dict[int, tuple[int | None, int]] = field(default_factory=dict)  # φ of groups where it is given, on the axis
    used: list[cp_model.IntVar] = field(default_factory=list)
    far: list[cp_model.IntVar] = field(default_factory=list)
    ordered: list[cp_model.IntVar] = field(default_factory=list)
    run: list[cp_model.IntVar] = field(default_factory=list)  # used length from the end of the start allowance
    open_goods: dict[int, tuple[int, int]] = field(default_factory=dict)  # source -> least and most end, where open
    settled: dict[int, int] = field(default_factory=dict)  # source -> end, where what is frozen settles it
    money: list[tuple[cp_model.IntVar, int]] | None = None  # what goods cost and what is used up of goods in hand, as
    rack: list[tuple[cp_model.IntVar, int]] | None = None  # terms, once a level has asked for them
    phases: dict[int, Phase] = field(default_factory=dict)
    exact: bool = True  # False: some lawful solutions are left out, and no bound may be claimed


def reduced(instance: Instance, across: int | None, point: tuple[int, int]) -> tuple[int, int]:
    """Return `point` moved by whole repeats into the fundamental domain of the lattice."""
    lattice = instance.lattice
    if lattice is None:
        return (0, 0)
    x, y = point
    if across is None:
        return (0, y % lattice.along)
    repeats, x = divmod(x, across)
    return (x, (y - repeats * lattice.drop) % lattice.along)
