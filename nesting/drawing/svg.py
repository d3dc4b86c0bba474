"""Scene to SVG text. The only place that knows svgwrite."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import svgwrite

from nesting.drawing.metrics import lawful
from nesting.drawing.scene import Dot, Item, Label, Polygon, Scene, Shape
from nesting.drawing.style import FAMILY, HATCHES, LOOKS, PAPER, RIM, TEXT_INK, Hatch, Look


def to_svg(scene: Scene) -> str:
    """Return the sheet as SVG text, sized in millimetres; the same scene gives the same text."""
    page = scene.page
    size = (f"{_number(page.width_mm)}mm", f"{_number(page.height_mm)}mm")
    box = f"0 0 {_number(page.width_mm)} {_number(page.height_mm)}"
    # Without debug svgwrite lets data- attributes pass; it escapes all text in either case.
    drawing = svgwrite.Drawing(size=size, viewBox=box, debug=False, role="img")
    drawing.set_desc(title=scene.title, desc=scene.description)
    roles = {item.role for group in scene.groups for item in group.items}
    drawing.defs.add(drawing.style(_style_sheet(roles)))
    for name in sorted({_hatch_name(LOOKS[role]) for role in roles if role in LOOKS} - {""}):
        drawing.defs.add(_hatch(drawing, name, HATCHES[name]))
    drawing.add(drawing.rect((0, 0), (_number(page.width_mm), _number(page.height_mm)), fill=PAPER))
    for group in scene.groups:
        node = drawing.g(**_names(group.id, group.role, group.piece))
        if group.title:
            node.set_desc(title=group.title)
        for item in group.items:
            node.add(_element(drawing, item))
        drawing.add(node)
    return _lines(drawing.tostring())


def inline_svg(scene: Scene, prefix: str) -> str:
    """Return the sheet as an element of an HTML page; `inline_style` and `inline_hatches` stand once in that page.

    Ids get `prefix`, which must be the sheet's own. Pieces can be focused, and are read out by their titles.
    """
    page = scene.page
    box = f"0 0 {_number(page.width_mm)} {_number(page.height_mm)}"
    drawing = svgwrite.Drawing(size=None, viewBox=box, debug=False, class_="drawing", role="group")
    drawing.set_desc(title=scene.title, desc=scene.description)
    sheet = drawing.g(id=f"{prefix}sheet", class_="on-paper")  # so that the page can show it again
    sheet.add(drawing.rect((0, 0), (_number(page.width_mm), _number(page.height_mm)), fill=PAPER))
    for group in scene.groups:
        names = _names(group.id and prefix + group.id, group.role, group.piece)
        is_piece = bool(group.piece and group.title)
        node = drawing.g(**names, **({"tabindex": "0", "role": "img"} if is_piece else {}))
        if group.title:
            node.set_desc(title=group.title)
        for item in group.items:
            node.add(_element(drawing, item, prefix))
        sheet.add(node)
    drawing.add(sheet)
    return _lines(drawing.tostring())


def inline_style(scenes: Iterable[Scene]) -> str:
    """Return the style sheet of all `scenes`, for elements inside `.on-paper` alone."""
    roles = {item.role for scene in scenes for group in scene.groups for item in group.items}
    rules = []
    for rule in _style_sheet(roles).splitlines():
        selectors, _, body = rule.partition("{")
        rules.append(",".join(f".on-paper {one}" for one in selectors.split(",")) + "{" + body)
    return "\n".join(rules)


def inline_hatches(scenes: Iterable[Scene]) -> str:
    """Return an element that shows nothing and holds the hatches of all `scenes`."""
    roles = {item.role for scene in scenes for group in scene.groups for item in group.items}
    drawing = svgwrite.Drawing(size=("0", "0"), debug=False, class_="hatches", aria_hidden="true", focusable="false")
    for name in sorted({_hatch_name(LOOKS[role]) for role in roles if role in LOOKS} - {""}):
        drawing.defs.add(_hatch(drawing, name, HATCHES[name]))
    return _lines(drawing.tostring())


def _lines(text: str) -> str:
    """Break the one long line that svgwrite gives before the larger elements, so that people can read it."""
    for start in ("<g ", "<path ", "<text ", "<circle ", "<pattern ", "</g>", "<defs>", "</svg>", "<rect ", "<title>"):
        text = text.replace(start, "\n" + start)
    return text + "\n"


def _number(value: float) -> str:
    """Return `value` to the hundredth of a millimetre, as short as can be."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _names(ident: str, role: str, piece: str) -> dict[str, str]:
    """Return the attributes that name an element."""
    names = {"class_": role}
    if ident:
        names["id"] = ident
    if piece:
        names["data-piece"] = lawful(piece)
    return names


def _element(drawing: Any, item: Item, prefix: str = "") -> Any:
    """Return the element of one item."""
    if isinstance(item, Label):
        return _text(drawing, item, prefix)
    names = _names(item.id and prefix + item.id, item.role, item.piece)
    if isinstance(item, Dot):
        return drawing.circle(tuple(map(_number, item.at)), _number(item.radius_mm), **names)
    return drawing.path(" ".join(_ring(ring, item) for ring in item.rings), **names)


def _ring(ring: Polygon, shape: Shape) -> str:
    """Return the path of one ring."""
    points = " ".join(f"{_number(x)},{_number(y)}" for x, y in ring)
    return f"M{points}" + ("Z" if shape.closed else "")


def _text(drawing: Any, label: Label, prefix: str) -> Any:
    """Return one line of text."""
    x, y = map(_number, label.at)
    names = _names(label.id and prefix + label.id, label.role, label.piece)
    if label.bold:
        names["class_"] += " bold"
    extra = {"font-size": _number(label.size_mm)}
    if label.anchor != "start":
        extra["text-anchor"] = label.anchor
    if label.turned:
        extra["transform"] = f"rotate({_number(-label.turned)} {x} {y})"
    node = drawing.text(label.text, insert=(x, y), **names, **extra)
    return node


def _style_sheet(roles: set[str]) -> str:
    """Return the style sheet for the roles used."""
    # Text has a paper-white rim, so that it reads on hatches and across thin lines.
    rules = [
        f"text{{font-family:{FAMILY};stroke:{PAPER};stroke-width:{_number(RIM)};stroke-linejoin:round;paint-order:stroke}}",
        ".bold{font-weight:bold}",
        "path,circle{stroke-linejoin:miter;fill-rule:evenodd}",
    ]
    for role in sorted(roles):
        if role in TEXT_INK:
            rim = ";stroke:none" if role == "banner-text" else ""
            rules.append(f"text.{role}{{fill:{TEXT_INK[role]}{rim}}}")
        if role in LOOKS:
            rules.append(_rule(role, LOOKS[role]))
    return "\n".join(rules)


def _rule(role: str, look: Look) -> str:
    """Return the style rule of one role."""
    name = _hatch_name(look)
    parts = [f"fill:{f'url(#hatch-{name})' if name else look.fill}", f"stroke:{look.stroke}"]
    if look.stroke != "none":
        parts.append(f"stroke-width:{_number(look.weight_mm)}")
    if look.dash:
        parts.append("stroke-dasharray:" + " ".join(map(_number, look.dash)))
    selector = f"path.{role},circle.{role}"
    return f"{selector}{{{';'.join(parts)}}}"


def _hatch_name(look: Look) -> str:
    """Return the name of the hatch that a look fills with, or ""."""
    return look.fill.removeprefix("hatch:") if look.fill.startswith("hatch:") else ""


def _hatch(drawing: Any, name: str, hatch: Hatch) -> Any:
    """Return the pattern element of a hatch."""
    step = _number(hatch.step_mm)
    node = drawing.pattern(insert=(0, 0), size=(step, step), patternUnits="userSpaceOnUse", id=f"hatch-{name}")
    if hatch.ground != "none":
        node.add(drawing.rect((0, 0), (step, step), fill=hatch.ground))
    for x0, y0, x1, y1 in hatch.lines:
        node.add(drawing.line((x0, y0), (x1, y1), stroke=hatch.ink, stroke_width=_number(hatch.weight_mm),
                              stroke_linecap="square"))  # fmt: skip
    for x, y, radius in hatch.dots:
        node.add(drawing.circle((x, y), _number(radius), fill=hatch.ink))
    return node
