"""Another version of the trees: folders, a shop's folder, revisions."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from engine.errors import LaybyError
from engine.library import load_library, shipped_files
from engine.trial.versions import files_of


def write(folder: Path) -> None:
    for name, content in shipped_files().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def git(folder: Path, *arguments: str) -> None:
    who = ["-c", "user.name=x", "-c", "user.email=x@example.invalid", "-c", "commit.gpgsign=false"]
    subprocess.run(["git", "-C", str(folder), *who, *arguments], check=True, capture_output=True)


def test_a_folder_with_trees_or_the_trees_themselves(tmp_path):
    write(tmp_path)

    assert files_of(str(tmp_path)) == shipped_files()
    assert list(files_of(str(tmp_path / "trees"))) == list(shipped_files())


def test_a_shop_folder_is_laid_over_what_ships(tmp_path):
    (tmp_path / "own.yaml").write_text("format: 1\n", "utf-8")

    assert files_of(str(tmp_path)) == {**shipped_files(), "shop/own.yaml": b"format: 1\n"}


def test_a_revision_is_read_as_it_was(tmp_path):
    write(tmp_path)
    git(tmp_path, "init", "-q")
    git(tmp_path, "add", ".")
    git(tmp_path, "commit", "-qm", "first")
    (tmp_path / "trees" / "catalogue" / "faults.yaml").write_text("changed", "utf-8")
    files = files_of("HEAD", tmp_path)

    assert files == shipped_files()
    assert load_library(files=files).digest == load_library().digest


def test_what_is_neither_is_one_line(tmp_path):
    with pytest.raises(LaybyError, match="no git checkout"):
        files_of("HEAD", tmp_path)
    git(tmp_path, "init", "-q")
    for wrong in ("no-such-revision", "--output=x"):
        with pytest.raises(LaybyError, match="neither a folder nor a revision"):
            files_of(wrong, tmp_path)
    git(tmp_path, "commit", "-q", "--allow-empty", "-m", "empty")
    with pytest.raises(LaybyError, match="holds no trees"):
        files_of("HEAD", tmp_path)
