"""``layby report``: a job as a document."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from engine.errors import LaybyError
from engine.job import Job
from engine.job_files import DataFolders, data_folder, find_job
from engine.report import as_html, as_json, as_markdown, gather, page

OK = 0


def run(arguments: argparse.Namespace) -> int:
    """Write the report to a file or to standard output."""
    folders = DataFolders(data_folder(arguments.data))
    path = find_job(folders.jobs, arguments.job)
    with Job.open(path, clock=time.time, write=False) as job:
        for notice in job.notices:
            print(notice, file=sys.stderr)
        data = gather(job.card, job.walk)
    match arguments.format:
        case "json":
            text = as_json(data)
        case "html":
            text = as_html(page(data))
        case _:
            text = as_markdown(page(data))
    _write(text, arguments.out)
    return OK


def _write(text: str, out: Path | None) -> None:
    if out is None:
        sys.stdout.write(text)
        return
    try:
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        raise LaybyError(f"{out}: cannot be written: {error.strerror or error}") from error
    print(f"written: {out}", file=sys.stderr)
