"""Imports run one way, and nothing heavy is loaded before it is needed; each in a fresh interpreter."""

from __future__ import annotations

import json
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import engine

ROOT = Path(__file__).parents[2]
SCREEN = {"textual", "rich", "tui"}
HEAVY = {"jsonschema", "numpy", "pint", "scipy", "cantera"}
ENGINE_MODULES = sorted(
    module.name for module in pkgutil.walk_packages(engine.__path__, "engine.") if not module.ispkg
)


def loaded_by(code: str) -> set[str]:
    """Return the top-level packages loaded after *code* in a fresh interpreter."""
    script = f"import sys, json\n{code}\nprint(json.dumps(sorted({{m.split('.')[0] for m in sys.modules}})))"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True, timeout=60
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


def test_the_whole_engine_needs_no_screen_and_nothing_heavy():
    loaded = loaded_by("\n".join(f"import {name}" for name in ENGINE_MODULES))

    assert not loaded & (SCREEN | HEAVY)


@pytest.mark.parametrize(
    "argv",
    [["work", "total_trim", "short=-8.6", "long=-9.4"], ["--version"], ["readings", "trim"]],
    ids=lambda argv: argv[0],
)
def test_commands_load_neither_screen_nor_heavy_packages(argv):
    loaded = loaded_by(f"from tui.cli import main\nmain({argv!r})")

    assert not loaded & ({"textual", "rich"} | HEAVY)


def test_a_foreign_unit_is_what_loads_pint():
    assert "pint" not in loaded_by(
        "from tui.cli import main\nmain(['work', 'barometric_pressure', 'altitude=500 m'])"
    )
    assert "pint" in loaded_by(
        "from tui.cli import main\nmain(['work','barometric_pressure','altitude=1 furlong'])"
    )
