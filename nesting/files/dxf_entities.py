"""What of a DXF drawing can be a room: closed outlines and texts, with everything that was passed over."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from ezdxf import DXFError
from ezdxf.entities import DXFEntity, Insert, LWPolyline, MText, Polyline, Text
from ezdxf.enums import TextEntityAlignment
from ezdxf.math import OCS, Vec3

from nesting.files.dxf_document import OpenedDrawing

CLOSING = 1e-3
"""How far, of its own size, the end of a polyline may lie from its beginning for it to be closed."""
MOST_ENTITIES = 100_000
DEEPEST_BLOCKS = 16
MOST_BULGE = 1e6
"""An arc that bulges so many half chords is no arc that was drawn."""

Spot = tuple[float, float]
"""A place in the drawing's own numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnOutline:
    """A closed polyline: (x, y, bulge) of its vertices; the bulge, tan(angle/4), curves the side that begins there."""

    layer: str
    handle: str
    vertices: tuple[tuple[float, float, float], ...]

    @property
    def place(self) -> str:
        """Where it stands, in words."""
        return placed(self.layer, self.handle, self.vertices[0][:2])


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnText:
    """A text; `height` of its letters."""

    layer: str
    handle: str
    text: str
    at: Spot
    height: float

    @property
    def place(self) -> str:
        """Where it stands, in words."""
        return placed(self.layer, self.handle, self.at)


@dataclass(slots=True)
class Drawn:
    """Everything found in a drawing; `passed`: what was not read, by what it is and its layer, with how many, where."""

    outlines: list[DrawnOutline] = field(default_factory=list)
    texts: list[DrawnText] = field(default_factory=list)
    passed: dict[tuple[str, str], tuple[int, str]] = field(default_factory=dict)
    too_many: bool = False

    def pass_over(self, what: str, layer: str, handle: str, at: Spot | None) -> None:
        """Note something that is not read."""
        count, first = self.passed.get((what, layer), (0, placed("", handle, at)))
        self.passed[what, layer] = (count + 1, first)

    def said(self) -> list[str]:
        """Return what was passed over, in words, a line for each kind and layer."""
        lines = []
        for (what, layer), (count, first) in sorted(self.passed.items()):
            where = ", ".join(part for part in (f"layer {layer}" if layer else "", first) if part)
            many = f"{count} x {what}" if count > 1 else what
            lines.append(f"not read: {many}" + (f" ({where})" if where else ""))
        return lines


def placed(layer: str, handle: str, at: Spot | None) -> str:
    """Return `layer A, handle 2F, at 1200, 3400`."""
    parts = [f"layer {layer}" if layer else "", f"handle {handle}" if handle else ""]
    parts.append(f"at {number(at[0])}, {number(at[1])}" if at is not None else "")
    return ", ".join(part for part in parts if part)


def number(value: float) -> str:
    """Return a coordinate as people read it."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def drawn(opened: OpenedDrawing, layers: Iterable[str] = ()) -> Drawn:
    """Return the closed outlines and texts of a drawing's model space, block references taken apart.

    Parameters
    ----------
    layers
        Names of the layers that outlines are taken from, in any case; none: all that are neither off nor frozen.
        Texts are taken from all that are neither, and from these.
    """
    walk = _Walk(opened, frozenset(layer.lower() for layer in layers))
    walk.all_of(opened.document.modelspace(), ("", ""), 0)
    for layout in opened.document.layouts:
        if not layout.is_modelspace and any(entity.dxftype() != "VIEWPORT" for entity in layout):
            walk.found.pass_over(f"what stands on the sheet {plain(opened.text(layout.name))}", "", "", None)
    return walk.found


class _Walk:
    """Goes through the entities of a drawing."""

    def __init__(self, opened: OpenedDrawing, layers: frozenset[str]) -> None:
        self.opened = opened
        self.layers = layers
        self.found = Drawn()
        self.count = 0
        self.hidden = {
            opened.text(layer.dxf.name).lower()
            for layer in opened.document.layers
            if layer.is_off() or layer.is_frozen()
        } - layers

    def all_of(self, entities: Iterable[DXFEntity], inside: tuple[str, str], depth: int) -> None:
        """Read entities; `inside`: layer and handle of the block reference that they come from."""
        for entity in entities:
            self.count += 1
            if self.count > MOST_ENTITIES:
                self.found.too_many = True
                return
            layer = self.opened.text(entity.dxf.get("layer", "0"))
            if layer == "0" and inside[0]:
                layer = inside[0]  # what is drawn on layer 0 of a block takes the layer of its reference
            handle = inside[1] or str(entity.dxf.get("handle") or "")
            try:
                self.one(entity, layer, handle, depth)
            except (ArithmeticError, AttributeError, DXFError, LookupError, TypeError, ValueError):  # a damaged entity
                self.found.pass_over(f"{entity.dxftype()} that is damaged", layer, handle, None)

    def one(self, entity: DXFEntity, layer: str, handle: str, depth: int) -> None:
        """Read one entity."""
        if layer.lower() in self.hidden:
            self.found.pass_over(f"{entity.dxftype()} on a layer that is off or frozen", layer, handle, None)
        elif entity.dxf.get("invisible"):
            self.found.pass_over(f"{entity.dxftype()} that is invisible", layer, handle, None)
        elif isinstance(entity, Insert):
            self._block(entity, layer, handle, depth)
        elif isinstance(entity, MText):
            text = self.opened.text(str(entity.plain_text(fast=False)))
            self._text(text, layer, handle, entity.dxf.insert, entity.dxf.get("char_height", 1.0))
        elif isinstance(entity, Text):
            self._line_of_text(entity, layer, handle)
        elif self.layers and layer.lower() not in self.layers:
            if isinstance(entity, LWPolyline | Polyline):
                self.found.pass_over(f"{entity.dxftype()} on a layer that was not chosen", layer, handle, None)
        elif isinstance(entity, LWPolyline):
            vertices = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
            self._outline(entity, vertices, bool(entity.closed), layer, handle)
        elif isinstance(entity, Polyline):
            self._polyline(entity, layer, handle)
        else:
            self.found.pass_over(entity.dxftype(), layer, handle, _somewhere(entity))

    def _block(self, insert: Insert, layer: str, handle: str, depth: int) -> None:
        at = (insert.dxf.insert.x, insert.dxf.insert.y)
        if depth >= DEEPEST_BLOCKS:
            self.found.pass_over(f"blocks more than {DEEPEST_BLOCKS} deep", layer, handle, at)
            return
        if insert.mcount > MOST_ENTITIES:
            self.found.too_many = True
            return
        if insert.block() is None or insert.block().block.is_xref:  # type: ignore[union-attr]
            what = f"block {plain(insert.dxf.name)}, which stands in another file or nowhere"
            self.found.pass_over(what, layer, handle, at)
            return
        for single in insert.multi_insert() if insert.mcount > 1 else (insert,):
            if self.found.too_many:
                return
            self.all_of(single.attribs, (layer, handle), depth + 1)

            def lost(part: DXFEntity, _: str, of: Insert = single) -> None:
                self.found.pass_over(f"{part.dxftype()} in block {plain(of.dxf.name)}", layer, handle, at)

            self.all_of(single.virtual_entities(skipped_entity_callback=lost), (layer, handle), depth + 1)

    def _line_of_text(self, entity: Text, layer: str, handle: str) -> None:
        """Read a TEXT, or an attribute of a block reference; of an aligned one the point that it is aligned to."""
        align, start, aligned = entity.get_placement()
        spot = start if align is TextEntityAlignment.LEFT or aligned is None else aligned
        spot = entity.ocs().to_wcs(spot)
        if not entity.dxf.get("invisible") and not getattr(entity, "is_invisible", False):
            text = self.opened.text(entity.plain_text())
            self._text(text, layer, handle, spot, entity.dxf.get("height", 1.0))

    def _text(self, text: str, layer: str, handle: str, at: Vec3, height: float) -> None:
        """Note a text, its lines joined."""
        joined = " ".join(text.split())
        if joined and math.isfinite(at.x) and math.isfinite(at.y):
            self.found.texts.append(
                DrawnText(layer=layer, handle=handle, text=joined, at=(at.x, at.y), height=float(height))
            )

    def _polyline(self, entity: Polyline, layer: str, handle: str) -> None:
        """Read a POLYLINE; meshes and curves fitted through points are none of ours."""
        if entity.is_polygon_mesh or entity.is_poly_face_mesh:
            self.found.pass_over("mesh", layer, handle, _somewhere(entity))
            return
        kept = [vertex for vertex in entity.vertices if not vertex.dxf.flags & 16]  # 16: the frame of a spline
        if entity.is_3d_polyline:
            corners = [vertex.dxf.location for vertex in kept]
            heights = [corner.z for corner in corners]
            if heights and max(heights) - min(heights) > CLOSING * _extent([(c.x, c.y, 0.0) for c in corners]):
                self.found.pass_over("polyline that does not lie flat", layer, handle, _somewhere(entity))
                return
            self._closed([(c.x, c.y, 0.0) for c in corners], entity.is_closed, layer, handle)
            return
        found = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in kept]
        self._outline(entity, found, entity.is_closed, layer, handle)

    def _outline(
        self, entity: Any, vertices: list[tuple[float, float, float]], closed: bool, layer: str, handle: str
    ) -> None:
        """Note a flat polyline, turned from its own coordinate system into the drawing's."""
        ocs: OCS = entity.ocs()
        if ocs.transform:
            if abs(abs(ocs.uz.z) - 1) > 1e-9:
                self.found.pass_over("polyline that does not lie flat", layer, handle, _somewhere(entity))
                return
            flip = -1.0 if ocs.uz.z < 0 else 1.0  # seen from behind an arc bends the other way
            turned = [(ocs.to_wcs(Vec3(x, y, 0)), flip * bulge) for x, y, bulge in vertices]
            vertices = [(spot.x, spot.y, bulge) for spot, bulge in turned]
        self._closed(vertices, closed, layer, handle)

    def _closed(self, vertices: list[tuple[float, float, float]], closed: bool, layer: str, handle: str) -> None:
        """Note a polyline if it is closed: by its flag, or because it ends where it begins."""
        vertices = [(float(x), float(y), float(bulge)) for x, y, bulge in vertices]
        for values in vertices:
            if not all(map(math.isfinite, values)) or abs(values[2]) > MOST_BULGE:
                self.found.pass_over("polyline with a number that is none", layer, handle, None)
                return
        slack = CLOSING * _extent(vertices)
        if len(vertices) > 2 and math.dist(vertices[0][:2], vertices[-1][:2]) <= (slack if not closed else 0):
            vertices, closed = vertices[:-1], True
        if not closed or len(vertices) < 2 or (len(vertices) == 2 and not any(bulge for _, _, bulge in vertices)):
            at = vertices[0][:2] if vertices else None
            self.found.pass_over("polyline that is not closed", layer, handle, at)
            return
        self.found.outlines.append(DrawnOutline(layer=layer, handle=handle, vertices=tuple(vertices)))


def plain(name: str) -> str:
    """Return a name of the drawing as it can be printed."""
    return "".join(sign if sign.isprintable() else "?" for sign in name)


def _extent(vertices: list[tuple[float, float, float]]) -> float:
    xs, ys = [x for x, _, _ in vertices], [y for _, y, _ in vertices]
    return max(max(xs) - min(xs), max(ys) - min(ys)) if vertices else 0.0


def _somewhere(entity: DXFEntity) -> Spot | None:
    """Return a point of an entity that has one by one of the usual names."""
    for name in ("insert", "start", "center", "location", "defpoint"):
        spot = entity.dxf.get(name) if entity.dxf.is_supported(name) else None
        if isinstance(spot, Vec3):
            return (spot.x, spot.y)
    return None
