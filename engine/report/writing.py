"""Writing a page as Markdown, HTML or JSON; whatever people typed is inert in each."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from engine.inert import html_safe, inert, markdown_safe
from engine.report.page import Block, Page

STYLE = (
    "body{font:16px/1.45 sans-serif;max-width:46em;margin:1.5em auto;padding:0 1em;color:#111;"
    "background:#fff}"
    "table{border-collapse:collapse;width:100%}td,th{border:1px solid #777;padding:.3em .5em;text-align:left;"
    "vertical-align:top}h1{font-size:1.5em}h2{font-size:1.15em;border-bottom:2px solid #111}"
    "footer{border-top:1px solid #777;margin-top:2em;font-size:.9em}@media print{h2{break-after:avoid}}"
)


def as_json(data: Mapping[str, Any]) -> str:
    """Return gathered data as JSON text, the same bytes for the same job."""
    return json.dumps(_inert(data), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _inert(data: Any) -> Any:
    """Return plain data with every text in it made inert."""
    match data:
        case str():
            return inert(data, keep_lines=True)
        case Mapping():
            return {key: _inert(value) for key, value in data.items()}
        case list() | tuple():
            return [_inert(value) for value in data]
    return data


def as_markdown(page: Page) -> str:
    """Return a page as Markdown."""
    parts = [f"# {markdown_safe(page.title)}", ""]
    for block in page.blocks:
        parts += [f"{'#' * block.level} {markdown_safe(block.title)}", ""]
        parts += _markdown_block(block)
    return "\n".join([*parts, "---", "", markdown_safe(page.foot), ""])


def _markdown_block(block: Block) -> list[str]:
    lines: list[str] = []
    for text in block.texts:
        lines += [markdown_safe(text), ""]
    if block.items:
        lines += [*(f"- {markdown_safe(item)}" for item in block.items), ""]
    if block.rows:
        lines.append(_markdown_row(block.head))
        lines.append("|" + " --- |" * len(block.head))
        lines += [*(_markdown_row(row) for row in block.rows), ""]
    if block.drawing:
        lines += ["```", *(inert(line) for line in block.drawing), "```", ""]
    return lines


def _markdown_row(cells: tuple[str, ...]) -> str:
    return "| " + " | ".join(markdown_safe(cell) for cell in cells) + " |"


def as_html(page: Page) -> str:
    """Return a page as one HTML file that needs nothing else."""
    body = "".join(_html_block(block) for block in page.blocks)
    title = html_safe(page.title)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width">'
        f"<title>{title}</title><style>{STYLE}</style></head>\n<body><h1>{title}</h1>\n{body}"
        f"<footer>{html_safe(page.foot)}</footer></body></html>\n"
    )


def _html_block(block: Block) -> str:
    texts = "".join(f"<p>{html_safe(text)}</p>\n" for text in block.texts)
    items = "".join(f"<li>{html_safe(item)}</li>\n" for item in block.items)
    listed = f"<ul>\n{items}</ul>\n" if items else ""
    return f"<h2>{html_safe(block.title)}</h2>\n{texts}{block.svg}{listed}{_html_table(block)}"


def _html_table(block: Block) -> str:
    if not block.rows:
        return ""

    def row(cells: tuple[str, ...], cell: Callable[[str], str]) -> str:
        return "<tr>" + "".join(cell(text) for text in cells) + "</tr>\n"

    head = row(block.head, lambda text: f"<th>{html_safe(text)}</th>")
    rows = "".join(row(cells, lambda text: f"<td>{html_safe(text)}</td>") for cells in block.rows)
    return f"<table>\n{head}{rows}</table>\n"
