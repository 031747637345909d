"""Definition files of another version of the trees: a folder, a shop's folder, or a revision of git."""

from __future__ import annotations

import io
import subprocess
import tarfile
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from engine.errors import LaybyError
from engine.inert import inert
from engine.library import FOLDERS, shipped_files, shop_files

SECONDS = 60
"""How long git may take."""


def files_of(version: str, root: Path | None = None) -> Mapping[str, bytes]:
    """Return the definition files of a version.

    Args:
        version: a folder with ``trees/``, such a folder itself, a folder of a shop's own files to be laid
            over what ships, or a revision.
        root: where the trees are in a git checkout; None for the folder this program is in.

    Raises:
        LaybyError: there is no such folder or revision, or it holds no trees.
    """
    folder = Path(version)
    if folder.is_dir():
        for trees in (folder / "trees", folder):
            if (trees / "catalogue").is_dir():
                return _of_folder(trees)
        return {**shipped_files(), **shop_files(folder)}
    return _of_revision(version, root or Path(__file__).resolve().parents[2])


def _of_folder(trees: Path) -> dict[str, bytes]:
    try:
        return {
            f"trees/{name}/{path.name}": path.read_bytes()
            for name in FOLDERS
            for path in sorted((trees / name).glob("*.yaml"))
        }
    except OSError as error:
        raise LaybyError(f"{error.filename or trees}: {error.strerror}") from error


def _of_revision(version: str, root: Path) -> dict[str, bytes]:
    said = inert(version)
    neither = f"--against {said}: neither a folder nor a revision"
    if version.startswith("-"):
        raise LaybyError(f"{neither}: write a folder, or a revision such as HEAD~1")
    if not _git(root, "rev-parse", "--show-toplevel"):
        raise LaybyError(f"{neither}: these trees are in no git checkout; write a folder")
    revision = _git(root, "rev-parse", "--verify", "--quiet", "--end-of-options", f"{version}^{{commit}}")
    if not revision:
        raise LaybyError(f"{neither} of {root}: write a folder, or a revision such as HEAD~1")
    archive = _git(root, "archive", "--format=tar", revision.decode().strip(), "trees")
    files = _of_archive(archive) if archive else {}
    if not files:
        raise LaybyError(f"--against {said}: that revision holds no trees/")
    return dict(sorted(files.items(), key=lambda item: _place(item[0])))


def _of_archive(archive: bytes) -> dict[str, bytes]:
    files = {}
    with tarfile.open(fileobj=io.BytesIO(archive)) as tar:
        for member in tar:
            path = PurePosixPath(member.name)
            content = tar.extractfile(member) if member.isfile() and path.suffix == ".yaml" else None
            if content is not None and len(path.parts) == 3 and path.parts[1] in FOLDERS:
                files[str(path)] = content.read()
    return files


def _place(name: str) -> tuple[int, str]:
    """Return where a file stands in the order in which definition files are read."""
    return FOLDERS.index(PurePosixPath(name).parent.name), name


def _git(root: Path, *arguments: str) -> bytes:
    """Return what git prints, empty when it fails or is not there."""
    try:
        done = subprocess.run(
            ["git", "-C", str(root), *arguments], capture_output=True, check=False, timeout=SECONDS
        )
    except (OSError, subprocess.TimeoutExpired):
        return b""
    return done.stdout if done.returncode == 0 else b""
