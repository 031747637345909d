"""Where jobs, the shop's own files and settings live, and how a job is found among them.

<data folder>/
  jobs/<job>.layby            one journal a job
  jobs/<job>.customer.json    who the customer is; may be deleted, the job stays
  shop/                       the shop's overlays
  settings.json
"""

from __future__ import annotations

import difflib
import json
import os
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from engine.errors import shown
from engine.journal import disk
from engine.journal.card import POSITION_KINDS, Card, read_card
from engine.journal.copies import copies_with_more
from engine.journal.records import JournalError
from engine.journal.store import SUFFIX, Journal, Opened

DATA_VARIABLE = "LAYBY_DATA"
_SMALL_FILE_LIMIT = 1024 * 1024
"""Most bytes read of settings or of a customer file."""
_NAMED_AT_MOST = 5
"""How many candidates a message lists."""


class JobFilesError(JournalError):
    """A folder or file of layby's own cannot be used; `str(error)` says what to do."""


@dataclass(frozen=True, slots=True)
class DataFolders:
    """The places inside one data folder; nothing is made until `prepare`."""

    root: Path

    @property
    def jobs(self) -> Path:
        """Return the folder of the journals."""
        return self.root / "jobs"

    @property
    def shop(self) -> Path:
        """Return the folder of the shop's overlays."""
        return self.root / "shop"

    @property
    def settings(self) -> Path:
        """Return the settings file."""
        return self.root / "settings.json"

    def prepare(self) -> None:
        """Make the folders that are missing, for the owner alone.

        Raises:
            JobFilesError: they cannot be made, or jobs cannot be written there.
        """
        for folder in (self.jobs, self.shop):
            try:
                disk.make_folder(folder)
            except OSError as error:
                raise _folder_error(folder, error) from error
        if not os.access(self.jobs, os.W_OK | os.X_OK):
            raise _folder_error(self.jobs, PermissionError(13, "Permission denied"))


@dataclass(frozen=True, slots=True)
class JobList:
    """The jobs of a folder, the one last worked on first."""

    cards: tuple[Card, ...]
    notices: tuple[str, ...]
    """One line for every file that is no readable job."""


def data_folder(override: Path | None = None) -> Path:
    """Return the data folder: *override*, else `LAYBY_DATA`, else the system's place for it.

    Raises:
        JobFilesError: the system names none.
    """
    if override is not None:
        return override
    named = os.environ.get(DATA_VARIABLE, "").strip()
    if named:
        return Path(named)
    import platformdirs  # here, so that a walk without jobs does not need it

    try:
        return Path(platformdirs.user_data_dir("layby", appauthor=False))
    except (RuntimeError, OSError) as error:
        raise JobFilesError(
            f"there is no home folder to keep jobs in: name a folder with {DATA_VARIABLE}"
        ) from error


def list_jobs(folder: Path, *, kinds: Collection[str] = POSITION_KINDS) -> JobList:
    """Return the jobs of *folder*, newest first; a missing folder has none.

    Args:
        folder: the folder of the journals.
        kinds: kinds of event of which a card shows the last.

    Raises:
        JobFilesError: the folder cannot be read.
    """
    cards: list[Card] = []
    notices: list[str] = []
    for path in _journals(folder):
        try:
            cards.append(read_card(path, kinds=kinds))
        except JournalError as error:
            notices.append(str(error))
    cards.sort(key=lambda card: (card.modified, card.path.name), reverse=True)
    return JobList(tuple(cards), tuple(notices))


def find_job(folder: Path, text: str) -> Path:
    """Return the journal a person means by *text*: a path, an id or its start, or part of a name.

    A closer kind of match wins over the others; within one kind it must be the only one.

    Raises:
        JobFilesError: none or several match; the line names them.
    """
    if _is_file(text):
        return Path(text)
    wanted = text.strip().removesuffix(SUFFIX).casefold()
    if not wanted:
        raise JobFilesError("no job is named: write its id, a part of it, or its path")
    by_name = {path.name.removesuffix(SUFFIX).casefold(): path for path in _journals(folder)}
    kinds_of_match = (
        [name for name in by_name if name == wanted],
        [name for name in by_name if name.startswith(wanted)],
        [name for name in by_name if wanted in name],
    )
    names = next((found for found in kinds_of_match if found), [])
    if len(names) == 1:
        return by_name[names[0]]
    if names:
        raise JobFilesError(f"several jobs match {shown(text)}: {_listed(names, by_name)}; write more of it")
    near = difflib.get_close_matches(wanted[:200], by_name, n=3, cutoff=0.5)
    hint = f"nearest: {_listed(near, by_name)}" if near else f"{len(by_name)} jobs are there"
    raise JobFilesError(f"no job matches {shown(text)} in {folder}: {hint}")


def open_job(path: Path, *, write: bool = True) -> Opened:
    """Open a journal as `Journal.open` does, but read-only if a copy beside it holds more.

    Raises:
        JournalError: it cannot be opened.
    """
    ahead = copies_with_more(path)
    opened = Journal.open(path, write=write and not ahead)
    if not ahead:
        return opened
    others = ", ".join(copy.name for copy in ahead[:_NAMED_AT_MOST])
    notice = (
        f"{path}: another copy holds more, so this one can only be read: {others} "
        "(go on in that one, or move it out of the folder)"
    )
    return Opened(opened.journal, opened.events, (*opened.notices, notice), opened.read_only)


def read_settings(path: Path) -> dict[str, Any]:
    """Return the settings; a missing file holds none.

    Raises:
        JobFilesError: it is no JSON object or cannot be read.
    """
    return _read_object(path)


def write_settings(path: Path, settings: Mapping[str, Any]) -> None:
    """Replace the settings file in one step.

    Raises:
        JobFilesError: it cannot be written; the old one is untouched.
    """
    _write_object(path, settings)


def customer_file(job: Path) -> Path:
    """Return where the customer of the journal *job* is kept."""
    return job.with_name(f"{job.name.removesuffix(SUFFIX)}.customer.json")


def read_customer(job: Path) -> dict[str, Any]:
    """Return what is known of the customer of *job*; nothing once it was deleted.

    Raises:
        JobFilesError: it is no JSON object or cannot be read.
    """
    return _read_object(customer_file(job))


def write_customer(job: Path, customer: Mapping[str, Any]) -> None:
    """Replace what is known of the customer of *job* in one step.

    Raises:
        JobFilesError: it cannot be written; the old one is untouched.
    """
    _write_object(customer_file(job), customer)


def delete_customer(job: Path) -> bool:
    """Delete who the customer of *job* is and keep the job; say whether there was anything.

    Raises:
        JobFilesError: it is there and cannot be deleted.
    """
    path = customer_file(job)
    try:
        path.unlink()
        disk.sync_folder(path.parent)
    except FileNotFoundError:
        return False
    except OSError as error:
        raise JobFilesError(f"cannot be deleted: {disk.plain_reason(error)}", path=path) from error
    return True


def _journals(folder: Path) -> list[Path]:
    """Return the journal files of *folder* by name."""
    try:
        return sorted(path for path in folder.iterdir() if path.name.endswith(SUFFIX))
    except FileNotFoundError:
        return []
    except OSError as error:
        raise JobFilesError(f"cannot be read: {disk.plain_reason(error)}", path=folder) from error


def _is_file(text: str) -> bool:
    """Say whether *text* is the path of a journal that exists."""
    try:
        return text.endswith(SUFFIX) and Path(text).is_file()
    except (OSError, ValueError):  # too long for a name, or no name at all
        return False


def _listed(names: Collection[str], by_name: Mapping[str, Path]) -> str:
    """Return the first few job ids, and how many more there are."""
    first = [by_name[name].name.removesuffix(SUFFIX) for name in sorted(names)[:_NAMED_AT_MOST]]
    more = len(names) - len(first)
    return ", ".join(first) + (f" and {more} more" if more else "")


def _read_object(path: Path) -> dict[str, Any]:
    """Return the JSON object in a small file, empty if there is no such file."""
    try:
        with path.open("rb") as file:
            data = file.read(_SMALL_FILE_LIMIT + 1)
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise JobFilesError(f"cannot be read: {disk.plain_reason(error)}", path=path) from error
    try:
        if len(data) > _SMALL_FILE_LIMIT:
            raise ValueError(f"longer than {_SMALL_FILE_LIMIT} bytes")
        found = json.loads(data.decode("utf-8"))
        if not isinstance(found, dict):
            raise ValueError("a JSON object was expected")
    except (ValueError, RecursionError) as error:
        message = f"not usable ({error}): correct it or delete it"
        raise JobFilesError(message, path=path) from error
    return found


def _write_object(path: Path, content: Mapping[str, Any]) -> None:
    """Replace *path* by *content* as JSON with sorted keys."""
    try:
        text = json.dumps(content, indent=2, sort_keys=True, allow_nan=False)
    except (TypeError, ValueError) as error:
        raise JobFilesError(f"cannot be written as JSON: {error}", path=path) from error
    try:
        disk.make_folder(path.parent)
        disk.replace_file(path, text.encode("ascii") + b"\n")
    except OSError as error:
        raise JobFilesError(f"cannot be written: {disk.plain_reason(error)}", path=path) from error


def _folder_error(folder: Path, error: OSError) -> JobFilesError:
    """Return the line for a folder that cannot be made or written."""
    return JobFilesError(f"no jobs can be kept here: {disk.plain_reason(error)}", path=folder)
