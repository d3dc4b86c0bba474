"""The kinds of jobs in the suite: the rooms of a cottage, flat, house, clinic, school, hotel, and a tower of flats."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

from benchmarks.suite_rooms import Measure, MeasuredRoom, along_hall, between, with_notch

MM = Measure(door=900, wall=120, jamb=150, step=10)
INCH = Measure(door=32, wall=5, jamb=6, step=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A job without its goods."""

    rooms: list[MeasuredRoom]
    unit: str = "mm"
    trim: int = 50
    loose: tuple[str, ...] = ()
    matches: tuple[tuple[str, ...], ...] = ()


def _room(
    chance: Random, name: str, across: tuple[int, int], along: tuple[int, int], step: int = 10, *lines: str
) -> MeasuredRoom:
    return MeasuredRoom(
        name=name, across=between(chance, *across, step), along=between(chance, *along, step), lines=list(lines)
    )


def _sink(room: MeasuredRoom, side: str, size: tuple[int, int], name: str = "before the sink") -> MeasuredRoom:
    """Keep seams away from where one stands at a sink or basin in the middle of a wall."""
    room.zones.append(f"name: {name}, wall: {room.wall(side)}, centred: yes, width: {size[0]}, depth: {size[1]}")
    return room


# --- homes -----------------------------------------------------------------------------------------------------------


def _flat_rooms(chance: Random, count: int, of: str = "") -> list[MeasuredRoom]:
    """Return the rooms of a flat of four to six: hall, living room, kitchen, bedrooms, box room."""
    hall = _room(chance, f"Hall{of}", (3000, 4000), (1100, 1700))
    kitchen = with_notch(chance, _room(chance, f"Kitchen{of}", (2600, 3800), (2600, 4200)), "north")
    _sink(kitchen, "east", (800, 600))
    living = _room(chance, f"Living room{of}", (3600, 5600), (3800, 6200), 10, "light: north-south")
    bedroom = _room(chance, f"Bedroom{of}", (2800, 4200), (3000, 4600))
    north, south = [kitchen, bedroom], [living]
    if count > 4:
        south.append(_room(chance, f"Small bedroom{of}", (2200, 3400), (2600, 3800)))
    if count > 5:
        north.append(_room(chance, f"Box room{of}", (1400, 2200), (1500, 2400)))
    return along_hall(chance, hall, north, south, MM)


def cottage(chance: Random, rooms: int | None = None) -> Drawn:
    """Return a cottage of 3 rooms, all nearly as wide as the goods: none lies beside another, and area tells little."""
    hall = _room(chance, "Hall", (3580, 3660), (3580, 3660))
    living = _room(chance, "Living room", (3560, 3640), (3900, 5600), 10, "light: north-south")
    beds = [_room(chance, f"Bedroom {number}", (3560, 3660), (3600, 4200)) for number in range(1, (rooms or 3) - 1)]
    return Drawn(rooms=along_hall(chance, hall, [living], [], MM) + beds)


def flat(chance: Random, rooms: int | None = None) -> Drawn:
    """Return a flat of 4 to 6 rooms."""
    return Drawn(rooms=_flat_rooms(chance, rooms or chance.randrange(4, 7)))


def house(chance: Random, rooms: int | None = None) -> Drawn:
    """Return a house of 8 to 12 rooms on two storeys, in inches, with a stair; lounge and dining room match."""
    count = rooms or chance.randrange(8, 13)
    hall = _room(chance, "Hall", (120, 180), (44, 78), 1)
    lounge = with_notch(chance, _room(chance, "Lounge", (150, 220), (160, 250), 1, "light: north-south"), "north", 0.3)
    dining = _room(chance, "Dining room", (110, 160), (120, 180), 1)
    kitchen = _sink(with_notch(chance, _room(chance, "Kitchen", (120, 190), (110, 180), 1), "south"), "north", (36, 24))
    low = dining.along // 3
    joint = f"width: 30, joint: seam, joins: Lounge / to Dining room, wall thickness: {INCH.wall}"
    lounge.doors.append(f"name: to Dining room, wall: {lounge.wall('east')}, from south: {low}, width: 30, joint: seam")
    dining.doors.append(f"name: to Lounge, wall: west, from south: {low}, {joint}")
    landing = _room(chance, "Landing", (100, 150), (38, 60), 1)
    beds = [
        _room(chance, f"Bedroom {number}", (96, 170), (110, 190), 1, *(("light: north-south",) if number == 1 else ()))
        for number in range(1, max(2, min(6, count - 4)))
    ]
    small = [_room(chance, name, (60, 110), (60, 130), 1) for name in ("Utility room", "Study", "Dressing room")]
    extra = small[: max(0, count - 5 - len(beds))]
    ground = along_hall(chance, hall, [lounge, dining], [kitchen, *extra], INCH)
    upper = along_hall(chance, landing, beds[::2], beds[1::2], INCH)
    return Drawn(
        rooms=[*ground, *upper],
        unit="in",
        trim=2,
        loose=("name: tread, size: 34 x 19, count: 6", "name: mat, size: 30 x 48"),
        matches=(("Lounge", "Dining room"),),
    )


def tower(chance: Random, rooms: int | None = None) -> Drawn:
    """Return 1,000 rooms: flats of eight types, each room measured a little differently, and a corridor a storey."""
    types = [_flat_rooms(chance, chance.choice((5, 5, 6))) for _ in range(8)]
    wanted = rooms or 1000
    drawn: list[MeasuredRoom] = []
    number = 0
    while len(drawn) < wanted:
        number += 1
        if number % 8 == 0:
            drawn.append(_room(chance, f"Corridor {number}", (14000, 22000), (1300, 1700), 10, "traffic: east-west"))
        drawn += [_measured_again(chance, room, number) for room in types[number % len(types)]]
    return Drawn(rooms=drawn[:wanted] if rooms is None else drawn)


def _measured_again(chance: Random, room: MeasuredRoom, number: int) -> MeasuredRoom:
    """Return the same room of another flat: a centimetre or two more or less, its doors not joined."""
    again = replace(
        room,
        name=f"{room.name} {number}",
        across=room.across + chance.randrange(0, 30, 10),
        along=room.along + chance.randrange(0, 30, 10),
        doors=[text.split(", joins")[0] for text in room.doors],
    )
    return again


# --- larger buildings ------------------------------------------------------------------------------------------------


def clinic(chance: Random, rooms: int | None = None) -> Drawn:
    """Return a clinic of 20 to 30 rooms: a corridor with treatment rooms, wet rooms with cove, a waiting room."""
    count = rooms or chance.randrange(20, 31)
    corridor = _room(chance, "Corridor", (16000, 18000), (1700, 2300), 10, "traffic: east-west")
    waiting = with_notch(chance, _room(chance, "Waiting room", (5200, 6800), (4400, 6200)), "north")
    waiting.lines += ["cut out:", f"  - {{name: column, at: '{waiting.across // 2}, 1500', size: 300 x 300}}"]
    north: list[MeasuredRoom] = [waiting]
    south: list[MeasuredRoom] = []
    for number in range(1, count - 1):
        if number % 5 == 0:
            room = _room(chance, f"Wet room {number}", (1600, 2400), (1800, 2600), 10, "cove: 100")
        elif number % 5 == 3:
            room = _room(chance, f"Office {number}", (2600, 3800), (3200, 4400))
        elif number % 7 == 0:
            room = _room(chance, f"Store {number}", (1500, 2400), (2000, 4400))
        else:
            room = _room(chance, f"Treatment room {number}", (2800, 4200), (3400, 4800))
        side = south if sum(r.across for r in south) < sum(r.across for r in north) else north
        if "Treatment" in room.name:
            _sink(room, "east", (700, 600), "basin")
        side.append(room)
    return Drawn(rooms=along_hall(chance, corridor, north, south, MM, recess=", depth: 0"))


def school(chance: Random, rooms: int | None = None) -> Drawn:
    """Return a school of 60 rooms in four wings: classrooms many breadths wide, stores, offices, corridors."""
    count = rooms or 60
    wings = max(1, count // 15)
    drawn: list[MeasuredRoom] = []
    for wing in range(wings):
        mine = count // wings + (wing < count % wings)
        corridor = _room(chance, f"Corridor {wing + 1}", (9000, 12000), (2000, 3000), 10, "traffic: east-west")
        sides: tuple[list[MeasuredRoom], list[MeasuredRoom]] = ([], [])
        for number in range(1, mine):
            name = f"{wing + 1}.{number}"
            if number % 5 in (1, 2):
                room = _room(chance, f"Classroom {name}", (6800, 9400), (6200, 7800), 10, "light: north-south")
                room.lines += ["joints below:", f"  - {{parallel to: west, distance: {room.across // 2 // 10 * 10}}}"]
            elif number % 5 == 3:
                room = with_notch(chance, _room(chance, f"Group room {name}", (3600, 5200), (3200, 5000)), "north")
            elif number % 5 == 4:
                room = _room(chance, f"Office {name}", (2600, 3800), (3400, 4800))
            else:
                room = _room(chance, f"Store {name}", (1500, 2600), (2200, 3600))
            side = 0 if room.missing == "north-east" or room.missing == "north-west" or number % 2 else 1
            sides[side].append(room)
        drawn += along_hall(chance, corridor, sides[0], sides[1], MM, recess=", depth: 0")
    return Drawn(rooms=drawn, loose=("name: mat, size: 1200 x 1800, count: 4",))


def hotel(chance: Random, rooms: int | None = None) -> Drawn:
    """Return a hotel of 300 rooms of five types, all of a type alike, and a corridor a storey."""
    count = rooms or 300
    types = [
        with_notch(chance, _room(chance, "Single", (3000, 3400), (4400, 5000)), "south", 0.5),
        with_notch(chance, _room(chance, "Double", (3500, 3900), (5000, 5800)), "south", 0.5),
        with_notch(chance, _room(chance, "Twin", (3700, 4300), (5200, 6200)), "south", 0.5),
        with_notch(chance, _room(chance, "Suite", (5000, 5800), (6200, 7000)), "south", 0.4),
        _room(chance, "Corner room", (4400, 5200), (5600, 6400)),
    ]
    for room in types:
        room.doors.append(f"name: door, wall: {room.wall('south')}, from west: {MM.jamb}, width: {MM.door}")
        room.lines.append("light: north-south")
    mix = (0, 1, 1, 2, 1, 2, 0, 1, 3, 2, 4)
    drawn: list[MeasuredRoom] = []
    while len(drawn) < count:
        number = len(drawn) + 1
        if number % 50 == 1:
            drawn.append(
                MeasuredRoom(name=f"Corridor {number}", across=36400, along=1600, lines=["traffic: east-west"])
            )
            continue
        room = types[mix[number % len(mix)]]
        drawn.append(replace(room, name=f"{room.name} {number}"))
    return Drawn(rooms=drawn)


KINDS: dict[str, Callable[[Random, int | None], Drawn]] = {
    "cottage": cottage,
    "flat": flat,
    "house": house,
    "clinic": clinic,
    "school": school,
    "hotel": hotel,
    "tower": tower,
}
"""The kinds by size."""
