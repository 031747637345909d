"""A tree as a picture: its steps in the order they come up, and where each verdict leads."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from engine.catalogue import Catalogue
from engine.inert import html_safe
from engine.tree import (
    RETURNED,
    Binding,
    Call,
    Conclude,
    Conclusion,
    Continue,
    Exit,
    Next,
    Refer,
    Repair,
    Return,
    Step,
    Tree,
)

ROW, BOX, LEFT, LANE = 46, 430, 20, 9
"""Of the drawing, in pixels: height of a row, width of a box, margin, distance of two lines."""
MOST_SHOWN = 60
"""Characters of a label that fit into a box; the whole of it shows under the pointer."""


@dataclass(frozen=True, slots=True)
class Node:
    """A step, a conclusion, or a place outside the tree."""

    id: str
    label: str
    kind: str
    """``step``, ``conclusion`` or ``outside``."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One verdict and where it leads."""

    start: str
    end: str
    label: str


@dataclass(frozen=True, slots=True)
class TreeMap:
    """A tree's nodes in the order they come up, and its edges."""

    title: str
    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]


def map_of(tree: Tree, catalogue: Catalogue) -> TreeMap:
    """Return the map of a tree, drawn for the first side it is written out for."""
    binding = Binding() if Binding() in tree.steps else next(iter(tree.steps))
    steps, conclusions = tree.steps[binding], tree.conclusions.get(binding, {})
    nodes: dict[str, Node] = {}
    edges: dict[Edge, None] = {}
    waiting = [tree.start, *tree.entries]
    while waiting:
        step = steps[waiting.pop(0)]
        if step.id in nodes:
            continue
        nodes[step.id] = Node(step.id, step.title, "step")
        for verdict, way in _ways(step):
            for said, target in _targets(way, catalogue, conclusions):
                label = f"{verdict}, {said}" if said else verdict
                edges[Edge(step.id, target.id, label)] = None
                if target.kind == "step":
                    waiting.append(target.id)
                else:
                    nodes.setdefault(target.id, target)
    ordered = sorted(nodes.values(), key=lambda node: ("step", "conclusion", "outside").index(node.kind))
    return TreeMap(f"{tree.title} ({tree.id})", tuple(ordered), tuple(edges))


def _ways(step: Step) -> Iterator[tuple[str, Exit]]:
    for rule in step.rules:
        yield rule.verdict, rule.exit
    if step.cannot is not None:
        yield "cannot be done", step.cannot.exit
    if step.skip is not None:
        yield "not for this car", Next(step.skip)


def _targets(
    way: Exit, catalogue: Catalogue, conclusions: Mapping[str, Conclusion]
) -> Iterator[tuple[str, Node]]:
    """Return what an exit leads to, with the words that belong on the line."""
    match way:
        case Next(step):
            yield "", Node(step, step, "step")
        case Repair(say, _, step):
            yield f"repair: {say}", Node(step, step, "step")
        case Conclude(name):
            yield "", Node(f"conclude {name}", _conclusion_words(name, catalogue, conclusions), "conclusion")
        case Continue(tree, at):
            place = f"{tree} at {at}" if at else tree
            yield "", Node(f"tree {place}", f"goes on in {place}", "outside")
        case Return(outcome):
            yield "", Node(f"return {outcome}", f"returns {outcome}", "outside")
        case Refer(say, tree):
            where = f" ({tree})" if tree else ""
            yield "", Node(f"refer {say}", f"open end: {say}{where}", "outside")
        case Call(procedure, _, then):
            for outcome, after in then:
                for said, target in _targets(after, catalogue, conclusions):
                    yield f"{procedure}: {outcome}{', ' + said if said else ''}", target


def _conclusion_words(name: str, catalogue: Catalogue, conclusions: Mapping[str, Conclusion]) -> str:
    if name == RETURNED:
        return "what the procedure concluded"
    found = conclusions[name]
    labels = [catalogue.faults.faults[fault].label for fault in found.faults]
    return f"{' with '.join(labels) or 'no fault found here'}: {found.strength.value.replace('-', ' ')}"


def as_text(drawn: TreeMap) -> str:
    """Return a map as lines: every step with its verdicts and where they lead."""
    numbers = {node.id: number for number, node in enumerate(drawn.nodes, 1)}
    lines = [drawn.title, ""]
    for node in drawn.nodes:
        lines.append(f"{numbers[node.id]:3}  {node.label}")
        lines += [f"       {e.label} -> {numbers[e.end]}" for e in drawn.edges if e.start == node.id]
    return "\n".join(lines) + "\n"


def as_dot(drawn: TreeMap) -> str:
    """Return a map in the DOT language, for programs that lay out graphs."""
    shapes = {"step": "box", "conclusion": "octagon", "outside": "ellipse"}
    lines = ["digraph tree {", f"  label={_quoted(drawn.title)};", "  node [fontname=sans];"]
    lines += [f"  {_quoted(n.id)} [label={_quoted(n.label)}, shape={shapes[n.kind]}];" for n in drawn.nodes]
    lines += [f"  {_quoted(e.start)} -> {_quoted(e.end)} [label={_quoted(e.label)}];" for e in drawn.edges]
    return "\n".join([*lines, "}"]) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def as_svg(drawn: TreeMap) -> str:
    """Return a map as a picture: a column of boxes, with a line at the right for every verdict."""
    tops = {node.id: 50 + ROW * number for number, node in enumerate(drawn.nodes)}
    width = LEFT + BOX + 60 + LANE * len(drawn.edges)
    height = 70 + ROW * len(drawn.nodes)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" font-family="sans-serif" font-size="13">',
        f'<title>{html_safe(drawn.title)}</title><rect width="{width}" height="{height}" fill="#fff"/>',
        '<defs><marker id="tip" markerWidth="8" markerHeight="8" refX="7" refY="4" orient="auto">'
        '<path d="M0 0L8 4L0 8z"/></marker></defs>',
        f'<text x="{LEFT}" y="28" font-size="17">{html_safe(drawn.title)}</text>',
    ]
    parts += [_box(node, tops[node.id]) for node in drawn.nodes]
    parts += [_line(edge, number, tops) for number, edge in enumerate(drawn.edges)]
    return "\n".join([*parts, "</svg>"]) + "\n"


def _box(node: Node, top: int) -> str:
    dash = ' stroke-dasharray="5 3"' if node.kind == "outside" else ""
    weight = 3 if node.kind == "conclusion" else 1
    label = node.label if len(node.label) <= MOST_SHOWN else node.label[: MOST_SHOWN - 1] + "…"
    return (
        f"<g><title>{html_safe(node.label)}</title>"
        f'<rect x="{LEFT}" y="{top}" width="{BOX}" height="{ROW - 14}" '
        f'fill="#fff" stroke="#111" stroke-width="{weight}"{dash}/>'
        f'<text x="{LEFT + 8}" y="{top + 21}">{html_safe(label)}</text></g>'
    )


def _line(edge: Edge, number: int, tops: Mapping[str, int]) -> str:
    right, lane = LEFT + BOX, LEFT + BOX + 30 + LANE * number
    start, end = tops[edge.start] + 22, tops[edge.end] + 10
    return (
        f'<path d="M{right} {start}H{lane}V{end}H{right + 2}" fill="none" stroke="#555" '
        'marker-end="url(#tip)">'
        f"<title>{html_safe(edge.label)}</title></path>"
    )
