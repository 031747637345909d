"""``layby rejudge``: a job's entries judged again, and what comes out differently."""

from __future__ import annotations

import argparse
import time

from engine.job import Job
from engine.job_files import DataFolders, data_folder, find_job
from engine.library import load_library
from engine.rejudging import rejudge

OK, DIFFERENT = 0, 1


def run(arguments: argparse.Namespace) -> int:
    """Compare the recorded verdicts with those of the present files; the job is not touched."""
    path = find_job(DataFolders(data_folder(arguments.data)).jobs, arguments.job)
    with Job.open(path, clock=time.time, write=False) as job:
        library = job.walk.library if arguments.pinned else load_library(arguments.shop)
        found = rejudge(job.walk, library)
    parted = found.parted_at
    if parted is None and found.conclusion_before == found.conclusion_after:
        print(f"the same: {len(found.before)} verdicts, conclusion {found.conclusion_after or 'none'}")
        return OK
    if parted is not None:
        for words, path_lines in (("recorded", found.before), ("now", found.after)):
            title, verdict = path_lines[parted] if parted < len(path_lines) else ("the end", "")
            print(f"{words:9} step {parted + 1}: {title}{f': {verdict}' if verdict else ''}")
    print(f"conclusion: recorded {found.conclusion_before or 'none'}, now {found.conclusion_after or 'none'}")
    for entry in found.lost:
        print(f"no longer used: {entry}")
    return DIFFERENT
