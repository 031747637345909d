"""Choices and trouble codes as people type them, also against every reading that is shipped."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.catalogue import Choice, Reading
from engine.entry import Question, Refusal, Understood, understand
from tests.engine.catalogue_files import readings
from tests.engine.made import choice_reading, reading


def choices(kind: str, *pairs: tuple[str, str], not_looked: tuple[str, ...] = ()) -> Reading:
    made = tuple(Choice(value, label, value in not_looked) for value, label in pairs)
    return reading("look", kind=kind, choices=made, takes="latest")


PLACE = choices("one", ("safe", "safe to work"), ("move_car", "move the car first"), ("not_safe", "not safe"))
SEEN = choice_reading("seen", "yes", "no", "partly")
NOISE = choices("one", ("none", "nothing"), ("no_change", "no change"), ("not_done", "not done"))
CYLINDER = choices(
    "one", ("none", "none"), *((str(n), f"cylinder {n}") for n in range(1, 13)), ("random", "any")
)
INTAKE = choices(
    "many",
    ("ok", "nothing wrong"), ("hose_off", "a hose is off"), ("hose_split", "a hose is split"),
    ("oil_wet", "oil-wet"), ("not_done", "not looked at"), not_looked=("not_done",),
)  # fmt: skip
EVENTS = choices("many", ("none", "nothing"), ("refuel", "refuelled"), ("battery_off", "battery was off"))
CODES = reading("dtc_stored", kind="codes")


@pytest.mark.parametrize(
    ("what", "text", "answer"),
    [
        (PLACE, "1", "safe"),
        (PLACE, "3", "not_safe"),
        (PLACE, "safe", "safe"),
        (PLACE, "SAFE.", "safe"),
        (PLACE, "move_car", "move_car"),
        (PLACE, "move car", "move_car"),
        (PLACE, "move-car", "move_car"),
        (PLACE, "Move the car first", "move_car"),
        (PLACE, "m", "move_car"),
        (PLACE, "car", "move_car"),
        (SEEN, "y", "yes"),
        (SEEN, "N", "no"),
        (SEEN, "true", "yes"),
        (SEEN, "p", "partly"),
        (CYLINDER, "3", "3"),
        (CYLINDER, "12", "12"),
        (CYLINDER, "cylinder 3", "3"),
        (INTAKE, "2 4", ("hose_off", "oil_wet")),
        (INTAKE, "4,2", ("hose_off", "oil_wet")),
        (INTAKE, "hose off, oil wet", ("hose_off", "oil_wet")),
        (INTAKE, "hose_off oil_wet", ("hose_off", "oil_wet")),
        (INTAKE, "a hose is off and oil-wet", ("hose_off", "oil_wet")),
        (INTAKE, "oil; 3", ("hose_split", "oil_wet")),
        (INTAKE, "2 2 2", ("hose_off",)),
        (INTAKE, "ok", ("ok",)),
        (INTAKE, "none", ("ok",)),
        (INTAKE, "not looked at", ("not_done",)),
        (EVENTS, "ok", ("none",)),
        (EVENTS, "nothing", ("none",)),
        (EVENTS, "battery", ("battery_off",)),
        (CODES, "P0172", ("P0172",)),
        (CODES, "P0172 p0300,P0133", ("P0133", "P0172", "P0300")),
        (CODES, "u0100;c1234 / b00a1", ("B00A1", "C1234", "U0100")),
        (CODES, "P0172P0300", ("P0172", "P0300")),
        (CODES, "P0172, P0172", ("P0172",)),
        (CODES, "none", ()),
        (CODES, "No codes.", ()),
        (CODES, "-", ()),
        (reading("ign_trace", kind="trace"), "idle.csv", "idle.csv"),
    ],
)
def test_words_are_understood(what: Reading, text: str, answer: str | tuple[str, ...]) -> None:
    found = understand(text, what)

    assert isinstance(found, Understood), found
    assert (found.answer, found.unit, found.flagged) == (answer, "", False)
    assert found.echo


@pytest.mark.parametrize(
    ("what", "text", "answers"),
    [
        (NOISE, "no", ("none", "no_change", "not_done")),
        (INTAKE, "hose", (("hose_off",), ("hose_split",))),
        (INTAKE, "oil wet, hose", (("hose_off", "oil_wet"), ("hose_split", "oil_wet"))),
        (CODES, "PO172", (("P0172",),)),
        (CODES, "P0I72 P0300", (("P0172", "P0300"),)),
    ],
)
def test_words_that_can_mean_several_are_asked(
    what: Reading, text: str, answers: tuple[str | tuple[str, ...], ...]
) -> None:
    found = understand(text, what)

    assert isinstance(found, Question), found
    assert tuple(candidate.answer for candidate in found.candidates) == answers
    assert found.text.endswith("?")


@pytest.mark.parametrize(
    ("what", "text", "words"),
    [
        (PLACE, "4", "none of the choices: 1 safe to work, 2 move the car first, 3 not safe"),
        (PLACE, "0", "none of the choices"),
        (PLACE, "1,2", "none of the choices"),
        (PLACE, "...", "none of the choices"),
        (PLACE, "saef", "did you mean 'safe'?"),
        (CYLINDER, "13", "none of the choices: none, cylinder 1,"),
        (INTAKE, "ok, oil wet", "'nothing wrong' stands alone"),
        (INTAKE, "not_done 2", "'not looked at' stands alone"),
        (INTAKE, "hose, hose", "write more of the words"),
        (INTAKE, ",;", "none of the choices"),
        (INTAKE, "1 9", "'9' is none of the choices"),
        (CODES, "P4172", "'P4172' is no code"),
        (CODES, "P017", "is no code"),
        (CODES, "P01729", "is no code"),
        (CODES, "P0172 lean", "'lean' is no code"),
        (CODES, ",", "is no code"),
    ],
)
def test_words_that_mean_nothing_here_are_refused(what: Reading, text: str, words: str) -> None:
    found = understand(text, what)

    assert isinstance(found, Refusal), found
    assert words in found.text


@given(
    text=st.one_of(
        st.text(max_size=30), st.text(alphabet="pP0172OoIl ,;/ABC-", max_size=30), st.sampled_from("0189")
    ),
    what=st.sampled_from([PLACE, SEEN, NOISE, CYLINDER, INTAKE, EVENTS, CODES]),
)
def test_nothing_typed_raises_and_answers_are_of_the_list(text: str, what: Reading) -> None:
    found = understand(text, what)

    if isinstance(found, Refusal):
        assert found.text.isprintable()
        return
    for candidate in (found,) if isinstance(found, Understood) else found.candidates:
        words = (candidate.answer,) if isinstance(candidate.answer, str) else candidate.answer
        assert isinstance(words, tuple)
        assert list(words) == sorted(set(words))
        assert what.kind == "codes" or all(what.choice(word) for word in words)


# ------------------------------------------------------------------------------------------- as shipped


def shipped(name: str, entry: dict[str, Any]) -> Reading:
    """Return a shipped reading with what typing depends on."""
    given = {
        value: said if isinstance(said, dict) else {"label": said}
        for value, said in entry.get("choices", {}).items()
    }
    made = tuple(Choice(v, c["label"], c.get("not_looked", False)) for v, c in given.items())
    low, high = entry.get("reject", (None, None))
    return reading(
        name,
        kind=entry["kind"],
        unit=entry.get("unit", ""),
        choices=made,
        reject=(low, high),
        tools=tuple(entry["tool"]),
    )


SHIPPED = [shipped(name, entry) for name, entry in readings().items()]


@pytest.mark.parametrize("what", [r for r in SHIPPED if r.kind in ("one", "many")], ids=lambda r: r.id)
def test_every_shipped_choice_answers_to_its_value_and_its_label(what: Reading) -> None:
    for choice in what.choices:
        for text in (choice.value, choice.label, choice.value.upper(), choice.value.replace("_", " ")):
            found = understand(text, what)
            assert isinstance(found, Understood), (text, found)
            assert found.answer in (choice.value, (choice.value,)), text


@pytest.mark.parametrize("what", [r for r in SHIPPED if r.kind == "num"], ids=lambda r: r.id)
def test_every_shipped_number_is_taken_at_its_bounds_and_refused_beyond(what: Reading) -> None:
    for bound, beyond in zip(what.reject, (-1, 1), strict=True):
        if bound is None:
            continue
        assert not isinstance(
            understand(f"{bound:.10g} {what.unit}".replace("1e+06", "1000000"), what), Refusal
        )
        refused = understand(f"{bound + beyond:.1f} {what.unit}", what)
        assert isinstance(refused, Refusal)
        assert "cannot be" in refused.text
