"""The library: shipped, pinned, and with a shop's files laid over it."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.errors import DefinitionError, LaybyError
from engine.library import Library, load_library, shipped_files
from engine.tree import Binding, ChoiceIs, Next
from tests.engine.broken_definitions import OVERLAY


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "own.yaml").write_text(OVERLAY, encoding="utf-8")
    return tmp_path


def changed(shop: Path, old: str, new: str) -> Path:
    assert old in OVERLAY
    (shop / "own.yaml").write_text(OVERLAY.replace(old, new, 1), encoding="utf-8")
    return shop


def messages(shop: Path) -> list[str]:
    with pytest.raises(DefinitionError) as caught:
        load_library(shop)
    return [f"{problem.file}:{problem.line}: {problem.message}" for problem in caught.value.problems]


def test_the_shipped_files_load_once() -> None:
    library = load_library()
    assert load_library() is library
    assert "rich-running" in library.trees
    assert library.origins["rich-running"].file == "trees/symptoms/rich-running.yaml"
    assert library.files == shipped_files()
    assert all(not name.startswith("/") for name in library.files)


def test_an_unknown_tree_names_the_nearest() -> None:
    with pytest.raises(LaybyError, match=r"no tree 'rich-runing' \(did you mean 'rich-running'\?\)"):
        load_library().tree("rich-runing")


def test_pinned_files_give_the_same_library() -> None:
    library = load_library()
    pinned = load_library(files=dict(library.files))
    assert pinned.digest == library.digest
    assert pinned.trees == library.trees
    assert pinned.catalogue == library.catalogue


def test_other_files_give_another_digest(shop: Path) -> None:
    assert load_library(shop).digest != load_library().digest


def test_broken_files_are_refused_with_every_problem() -> None:
    files = dict(load_library().files)
    name = "trees/symptoms/rich-running.yaml"
    files[name] = files[name].replace(b"start: ", b"start: no-such-", 1)
    with pytest.raises(DefinitionError) as caught:
        load_library(files=files)
    assert [problem.file for problem in caught.value.problems] == [name]


def test_a_missing_shop_folder_is_said_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(LaybyError, match="no such folder"):
        load_library(tmp_path / "none")


# ------------------------------------------------------------------------ overlays


def overlaid(shop: Path) -> tuple[Library, Library]:
    return load_library(), load_library(shop)


def test_limits_change_for_all_cars_or_for_some(shop: Path) -> None:
    base, own = overlaid(shop)
    rich = own.catalogue.limits["trim_rich"]
    assert (base.catalogue.limits["trim_rich"].value, rich.value) == (-10.0, -12.0)
    assert rich.source.words == "this shop (A. Lead, 2024-03-01: our meter reads low)"
    lean = own.catalogue.limits["trim_lean"]
    assert lean.value == base.catalogue.limits["trim_lean"].value
    assert lean.cases[0] == (ChoiceIs("veh_fuel", "is", ("lpg",)), 14.0)


def test_weights_multiply(shop: Path) -> None:
    base, own = overlaid(shop)
    before, after = (one.catalogue.faults.faults["purge_stuck_open"].prior for one in (base, own))
    assert after == 2 * before
    rules = [
        {rule.id: dict(rule.weigh) for rule in one.tree("rich-running").step("read-trims", Binding()).rules}
        for one in (base, own)
    ]
    name = "both-rich-equal"
    assert rules[1][name]["fuel_reg_high"] == 0.5 * rules[0][name]["fuel_reg_high"]


def test_notes_and_cautions_are_added_and_know_their_file(shop: Path) -> None:
    base, own = overlaid(shop)
    before, after = (one.tree("rich-running").step("gas", Binding()) for one in (base, own))
    [note] = after.notes
    assert (note.text, note.by) == ("The analyser warms up for five minutes.", "A. Lead")
    assert note.origin.file == "shop/own.yaml"
    assert after.cautions == (*before.cautions, "C-MAKER")


def test_a_step_is_led_through_and_its_reading_known(shop: Path) -> None:
    base, own = overlaid(shop)
    tree = own.tree("rich-running")
    added = tree.step("shop-smell", Binding())
    assert added.origin.file == "shop/own.yaml"
    assert {rule.exit for rule in added.rules} == {Next("gas")}
    assert own.catalogue.readings["shop-tail-colour"].kind == "one"
    for step_id, step in tree.steps[Binding()].items():
        to_gas = any(rule.exit == Next("gas") for rule in step.rules)
        assert to_gas == (step_id == "shop-smell")
    assert any(
        rule.exit == Next("gas") for rule in base.tree("rich-running").step("read-trims", Binding()).rules
    )
    assert tree.step_ids.index("shop-smell") + 1 == tree.step_ids.index("gas")


def test_a_step_for_some_cars_is_skipped_for_the_others(shop: Path) -> None:
    own = load_library(
        changed(shop, "    before: gas\n", "    before: gas\n    cars: {veh_fuel: {is: lpg}}\n")
    )
    added = own.tree("rich-running").step("shop-smell", Binding())
    assert added.only_if == ChoiceIs("veh_fuel", "is", ("lpg",))
    assert added.skip == "gas"


REFUSED = (
    (
        "extends: rich-running",
        "extends: rich-runing",
        "unknown tree 'rich-runing' (did you mean 'rich-running'?)",
    ),
    ("limit: trim_rich", "limit: trim_rihc", "unknown limit 'trim_rihc' (did you mean 'trim_rich'?)"),
    ("fault: purge_stuck_open", "fault: purge_stuck_opn", "unknown fault 'purge_stuck_opn'"),
    ("read-trims/both-rich-equal", "read-trims/both-rich-equl", "has no rule 'both-rich-equl' (did you mean"),
    ("{at: gas, text", "{at: gsa, text", "unknown step 'gsa'"),
    ("cautions: [C-MAKER]", "cautions: [C-MAKR]", "unknown caution 'C-MAKR' (did you mean 'C-MAKER'?)"),
    ("before: gas", "before: gsa", "unknown step 'gsa'"),
    ("veh_fuel: {is: lpg}", "veh_fuel: {is: lgp}", "'lgp' is no answer of veh_fuel (did you mean 'lpg'?)"),
    ("times: 2,", "times: 200,", "found 200"),
    ("  shop-smell:", "  smell:", "smell"),
    ("notes:", "remove: [C-CO]\nnotes:", "unknown key 'remove'"),
)


@pytest.mark.parametrize(("old", "new", "message"), REFUSED, ids=[row[1][:28] for row in REFUSED])
def test_a_wrong_overlay_is_refused_with_its_line(shop: Path, old: str, new: str, message: str) -> None:
    found = messages(changed(shop, old, new))
    assert any(line.startswith("shop/own.yaml:") and message in line for line in found), "\n".join(found)


def test_a_gate_cannot_be_walked_round(shop: Path) -> None:
    library = load_library()
    tree = library.tree("triage")
    gate = tree.start
    found = [name for rule in tree.step(gate, Binding()).rules for name in rule.findings]
    assert any(library.catalogue.findings[name].drive for name in found)
    other = next(name for name in tree.step_ids if name != gate)
    text = f"""
format: 1
extends: triage
steps:
  shop-shortcut:
    before: {gate}
    title: Skip it
    do: Go on.
    why: No time.
    judge:
      - {{otherwise: true, verdict: On, grade: inconclusive, exit: {other}}}
    by: A. Lead
    on: "2024-03-01"
    reason: haste
"""
    (shop / "own.yaml").write_text(text, encoding="utf-8")
    found = messages(shop)
    assert any(f"'{gate}' is a gate" in line for line in found), "\n".join(found)


def test_a_move_takes_a_step_ahead(shop: Path) -> None:
    text = """
format: 1
extends: sample
moves:
  - {step: c, before: b, by: A, on: "2024-03-01", reason: cheaper}
"""
    step = (
        "{title: T, do: D., why: W., judge: [{otherwise: true, verdict: V, grade: inconclusive, exit: %s}]}"
    )
    tree = "format: 1\ntree: sample\nkind: symptom\ntitle: S\nstart: a\nsteps:\n"
    tree += "".join(f"  {name}: {step % to}\n" for name, to in (("a", "b"), ("b", "c"), ("c", "d")))
    tree += f"  d: {step % '{refer: done}'}\n"
    (shop / "own.yaml").write_text(text, encoding="utf-8")
    (shop / "sample.yaml").write_text(tree, encoding="utf-8")
    steps = load_library(shop).tree("sample").steps[Binding()]
    assert [steps[name].rules[0].exit for name in "abc"] == [Next("c"), Next("d"), Next("b")]
