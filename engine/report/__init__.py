"""The job as a document: Markdown, HTML, JSON. Reads the events and recomputes nothing."""

from __future__ import annotations

from engine.report.gathering import gather
from engine.report.page import Page, page
from engine.report.writing import as_html, as_json, as_markdown

__all__ = ["Page", "as_html", "as_json", "as_markdown", "gather", "page"]
