"""YAML without surprises: what is read, what is refused, and where the refusal points."""

from __future__ import annotations

import io
import math
import time
from pathlib import Path

import pytest
import ruamel.yaml
import yaml
from hypothesis import given
from hypothesis import strategies as st

import engine.yaml_text
from engine.errors import DefinitionError, Problem
from engine.yaml_scalars import plain_value
from engine.yaml_text import LARGEST_FILE, Document, read_yaml

BROKEN = Path(__file__).parent / "broken"


def lines_of(document: Document) -> list[str]:
    return [f"{p.line}:{p.column}: {p.level}: {p.message}" for p in document.problems]


def test_data_is_plain_and_every_value_and_key_knows_its_place() -> None:
    document = read_yaml("a: 1\nb:\n  - x y\n  - {c: 2.5, d: }\n", "f.yaml")

    assert document.problems == ()
    assert document.data == {"a": 1, "b": ["x y", {"c": 2.5, "d": None}]}
    assert document.marks[("a",)] == (1, 4)
    assert document.marks[("b", 1)] == (4, 5)
    assert document.marks[("b", 1, "c")] == (4, 9)
    assert document.key_marks[("b", 1, "c")] == (4, 6)
    assert document.key_marks[("b",)] == (2, 1)
    assert document.mark(("b", 1, "nothing", "here")) == (4, 5)


def test_columns_count_characters_not_bytes() -> None:
    document = read_yaml("größe: {ä: 1, ö: 2}\n", "f.yaml")

    assert document.marks[("größe", "ö")] == (1, 18)


@pytest.mark.parametrize(
    "word", ["yes", "no", "on", "off", "y", "n", "Yes", "NO", "x:y", "a-b", "-", "5 V", "1.2.3"]
)
def test_words_stay_words(word: str) -> None:
    document = read_yaml(f"key: {word}\n" if word != "-" else "key: '-'\n", "f.yaml")

    assert document.data == {"key": word}
    assert document.problems == ()


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0", 0), ("7", 7), ("-7", -7), ("+7", 7), ("1.5", 1.5), ("-0.25", -0.25), ("5.", 5.0), (".5", 0.5),
        ("1.5e+3", 1500.0), ("2.0e-3", 0.002), ("true", True), ("false", False), ("True", True),
        ("null", None), ("", None), ("Null", None), ("999999999999999999", 999999999999999999),
    ],
)  # fmt: skip
def test_plain_values_read_as_every_reader_reads_them(text: str, value: object) -> None:
    document = read_yaml(f"key: {text}\n", "f.yaml")

    assert document.problems == ()
    assert document.data == {"key": value}
    assert type(document.data["key"]) is type(value)


@given(st.from_regex(r"[-+~.=<0-9a-zA-Z_:T ]{1,12}", fullmatch=True).map(str.strip).filter(bool))
def test_a_plain_scalar_is_refused_unless_yaml_1_1_and_1_2_agree_on_it(text: str) -> None:
    """Checked against PyYAML (YAML 1.1) and ruamel.yaml (YAML 1.2); words of 1.1 for true stay words."""
    ours, refusal = plain_value(text)
    if refusal is not None:
        return
    try:
        by_1_1 = yaml.load(f"- {text}\n", yaml.SafeLoader)[0]
        by_1_2 = ruamel.yaml.YAML(typ="safe", pure=True).load(io.StringIO(f"- {text}\n"))[0]
    except (yaml.YAMLError, ruamel.yaml.error.YAMLError, ValueError, TypeError, AttributeError, KeyError):
        return
    if isinstance(by_1_1, dict | list) or isinstance(by_1_2, dict | list):
        return
    if by_1_1 is True or by_1_1 is False:
        assert ours in (by_1_1, text)
        return

    assert ours == by_1_1
    assert ours == by_1_2
    assert isinstance(ours, str) == isinstance(by_1_1, str)


SCALARS = [
    ("12:30", 'put quotes around it: "12:30"'),
    ("1:30.5", "base 60"),
    ("0312", "or write 312"),
    ("-012", "base 8"),
    ("0o17", "base 8"),
    ("0x1F", "base 16"),
    ("0b101", "base 2"),
    ("1_000", "or write 1000"),
    ("1_000.5", "grouped"),
    ("2024-01-02", "a date"),
    ("2024-01-02T10:00:00", "a date"),
    ("2024-01-02 10:00:00", "a date"),
    ("1e3", "or write 1000"),
    ("1.5e3", "or write 1500"),
    ("-.5", "or write -0.5"),
    (".nan", "no measurable number"),
    (".NaN", "no measurable number"),
    (".inf", "no measurable number"),
    ("-.Inf", "no measurable number"),
    ("1.0e+999", "too large"),
    ("12345678901234567890", "more digits"),
    ("9" * 5000, "more digits"),
    ("~", "write null"),
    ("=", "quotes around it"),
]


@pytest.mark.parametrize(("text", "fragment"), SCALARS)
def test_a_value_that_readers_disagree_about_is_an_error_and_stays_text(text: str, fragment: str) -> None:
    document = read_yaml(f"first: 1\nkey: {text}\n", "f.yaml")

    assert [(p.line, p.column, p.where) for p in document.problems] == [(2, 6, "key")]
    assert fragment in document.problems[0].message
    assert document.data == {"first": 1, "key": text}


@pytest.mark.parametrize(("text", "fragment"), SCALARS)
def test_quoted_it_is_taken_as_text(text: str, fragment: str) -> None:
    document = read_yaml(f'key: "{text}"\n', "f.yaml")

    assert document.problems == ()
    assert document.data == {"key": text}


SLIPS = [
    # a colon in a text
    ("a: foo: bar\n", "1:7", 'write a: "foo: bar"'),
    ("- a: foo: bar\n", "1:9", 'write - a: "foo: bar"'),
    ('a: say "x": now\n', "1:11", "write a: 'say \"x\": now'"),
    ("a: first line\n  and note: this\n", "2:11", "begin it a: >-"),
    ("a: {say: Note: look, next: b}\n", "1:14", 'write a: {say: "Note: look", next: b}'),
    ("a: {say: x, do: Note: look}\n", "1:21", 'write a: {say: x, do: "Note: look"}'),
    # a tab
    ("a:\n\tb: 1\n", "2:1", "indented with a tab: use two spaces"),
    ("a:\n  b: 1\n\tc: 1\n\td: 1\n", "3:1", "so are 1 more lines"),
    ("a: |\n  x\n\ty\n", "3:1", "indented with a tab"),
    # a stray #
    ("a: text # cut\n  goes on\n", "1:9", "cut this text off: write the text below a: >-"),
    ("a: {say: Tighten #4, next: x}\nb: 1\n", "1:18", "put quotes around the text"),
    # dashes and blanks
    ("a:\n  - x\n  -b\n", "3:3", "write - b"),
    ("a:\n  -b\n  - c\n", "2:3", "write - b"),
    ("a:b\nc: d\n", "1:2", "write a: b"),
    ("title Look\nb: c\n", "1:6", "write title: Look"),
    ("a: 1\ntitle Look\n", "2:6", "write title: Look"),
    ("a: - b\n", "1:4", "put the - below the key"),
    # quotes
    ('a: "foo\nb: 1\n', "1:4", 'write a: "foo"'),
    ("a: 'foo\nb: 1\n", "1:4", "write a: 'foo'"),
    ('a: "foo\nb: "x"\nc: 1\n', "1:4", 'write a: "foo"'),
    ('a:\n  - "x\n  - y\n', "2:5", 'write - "x"'),
    ("a: 'don't'\n", "1:8", 'write a: "don\'t"'),
    ('a: "Hose" came off\nb: 1\n', "1:9", "write a: '\"Hose\" came off'"),
    # braces
    ("a: {b: 1\nc: 2\nd: 3\n", "1:4", "write a: {b: 1}"),
    ("a: [1, 2\nb: 3\n", "1:4", "write a: [1, 2]"),
    ("a: {b: {c: 1}\nd: 1\n", "1:4", "write a: {b: {c: 1}}"),
    ("a: [{b: 1]\nd: 1\n", "1:10", "needs a comma or its closing sign"),
    # signs a text cannot start with
    ("a: %x\n", "1:4", 'write a: "%x"'),
    ("a: @x y\n", "1:4", 'write a: "@x y"'),
    ("a: `x`\n", "1:4", 'write a: "`x`"'),
    ("a: * x\n", "1:4", 'write a: "* x"'),
    ("a: *hose* x\n", "1:4", 'write a: "*hose* x"'),
    ("a: & y\n", "1:4", 'write a: "& y"'),
    ("a: >= 5 V\n", "1:4", 'write a: ">= 5 V"'),
    ("a: |x| here\n", "1:4", 'write a: "|x| here"'),
    ("a: ? x\n", "1:4", 'write a: "? x"'),
    ("a: , b\n", "1:4", 'write a: ", b"'),
    ("a: } b\n", "1:4", 'write a: "} b"'),
    ("a: ] b\n", "1:4", 'write a: "] b"'),
    # indentation
    ("a:\n  b: 1\n c: 2\n", "3:2", "indented by 1, not 0"),
    ("a: x\n- b\n", "2:1", "cannot be mixed"),
    ("a: 1\n  b: 2\n", "2:4", "indent it by 0"),
    # what is refused though YAML has it
    ("a: *x\n", "1:4", 'an alias (*) is not used here; if a text was meant write a: "*x"'),
    ("a: &x y\n", "1:4", 'an anchor (&) is not used here; if a text was meant write a: "&x y"'),
    ("a: !x y\n", "1:4", 'a tag (!) is not used here; if a text was meant write a: "!x y"'),
    ("a: ! y\n", "1:4", "a tag (!)"),
    ("a: !!python/object/apply:os.system [ls]\n", "1:4", "a tag (!)"),
    ("a: !!str 5\n", "1:4", "a tag (!)"),
    ("a: &x {b: 1}\n", "1:4", "an anchor (&)"),
    ("&x a: 1\n", "1:1", "an anchor (&)"),
    ("<<: {a: 1}\n", "1:1", "merge keys <<"),
    ("a: 1\nb: 2\na: 3\n", "3:1", "the key 'a' stands twice, first on line 1"),
    ("a: {b: 1, b: 2}\n", "1:11", "the key 'b' stands twice, first on line 1"),
    ("1: x\n", "1:1", 'a key must be a word: put quotes around it: "1"'),
    ("true: x\n", "1:1", 'put quotes around it: "true"'),
    ("null: x\n", "1:1", 'put quotes around it: "null"'),
    ("12:30: x\n", "1:1", "a key must be a word"),
    ("? [a]\n: b\n", "1:3", "a key must be a word, not a list"),
    ("? {a: b}\n: c\n", "1:3", "a key must be a word, not a list"),
    ("{[a]: b}\n", "1:2", "a key must be a word, not a list"),
    (": b\n", "1:1", "a key is missing before this colon"),
    ("a: b\n---\nc: d\n", "2:1", "a second document begins here"),
    ("%YAML 1.1\n---\na: 1\n", "1:1", "a % directive"),
    ("%TAG ! tag:x,2000:\n---\na: 1\n", "1:1", "a % directive"),
    # what no editor shows
    ("a: b\x00c\n", "1:5", "a NUL byte"),
    ("a: 1\nb: x\u2028y\n", "2:5", "a hidden line break (U+2028)"),
    ("a: x\u2029y\n", "1:5", "U+2029"),
    ("a: x\x85y\n", "1:5", "NEL"),
    ("a: x\u202ey\n", "1:5", "cannot be seen (U+202E)"),
    ("a: x\x1b[31my\n", "1:5", "cannot be seen (U+001B)"),
    ("a: x\ufeffy\n", "1:5", "byte order mark inside"),
    ("a: x\ud800y\n", "1:5", "U+D800"),
]


@pytest.mark.parametrize("loader", ["CSafeLoader", "SafeLoader"])
@pytest.mark.parametrize(("text", "place", "fragment"), SLIPS)
def test_a_slip_is_reported_where_it_is_with_what_to_write_instead(
    text: str, place: str, fragment: str, loader: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same with PyYAML's C parser and, where that is missing, its Python parser."""
    monkeypatch.setattr(engine.yaml_text, "LOADER", getattr(yaml, loader, yaml.SafeLoader))
    document = read_yaml(text, "f.yaml")

    first = document.problems[0]
    assert f"{first.line}:{first.column}" == place
    assert fragment in first.message
    assert first.level == "error"
    assert str(first).startswith(f"f.yaml:{place}: error: ")
    assert str(first).isprintable()


@pytest.mark.parametrize(
    ("text", "place", "advice"),
    [
        ("do: Tighten screw #4 first\n", "1:5", 'write do: "Tighten screw #4 first"'),
        ("do: Look here # and there\n", "1:5", 'write do: "Look here # and there"'),
        ("a:\n  do: Look\n    at screw  #4\n", "2:7", "put quotes around the text"),
        ("a: {do: Look at it #4\n  , b: c}\n", "1:9", 'write a: {do: "Look at it #4"'),
        ("a: [b, Look at it #4, c\n  , d]\n", "1:8", "put quotes around the text"),
    ],
)
def test_a_text_cut_by_a_comment_sign_is_a_warning(text: str, place: str, advice: str) -> None:
    document = read_yaml(text, "f.yaml")

    [problem] = document.problems
    assert (problem.level, f"{problem.line}:{problem.column}") == ("warning", place)
    assert advice in problem.message
    assert "two blanks before a comment" in problem.message


@pytest.mark.parametrize(
    "text",
    ["do: Look here  # a comment\n", "a: word # c\n", "a: 5 # c\n", "do: 'Look #4' # c\n", "# c\na: b c\n"],
)
def test_an_honest_comment_is_not_a_warning(text: str) -> None:
    assert read_yaml(text, "f.yaml").problems == ()


def test_all_faults_of_a_file_come_in_one_go_sorted_and_the_rest_is_read() -> None:
    text = "a: foo: bar\nb: %x\nc: 12:30\nd: 1\nd: 2\ne:\n\tf: 5\ng: 'don't'\nh: *x\ni: [1, 2\nj: 3\n"
    document = read_yaml(text, "f.yaml")

    assert [p.line for p in document.problems] == [1, 2, 3, 5, 7, 8, 9, 10]
    assert document.data == {
        "a": "foo: bar", "b": "%x", "c": "12:30", "d": 1, "e": {"f": 5},
        "g": "don't", "h": None, "i": [1, 2], "j": 3,
    }  # fmt: skip


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment\n", "---\n", "\ufeff"])
def test_an_empty_file_is_nothing(text: str) -> None:
    document = read_yaml(text, "f.yaml")

    assert document.data is None
    assert document.problems == ()


def test_windows_line_ends_and_a_byte_order_mark_are_accepted() -> None:
    document = read_yaml(b"\xef\xbb\xbfa: b\r\nc:\r\n  - d\r\n", "f.yaml")

    assert document.problems == ()
    assert document.data == {"a": "b", "c": ["d"]}
    assert document.marks[("c", 0)] == (3, 5)


def test_json_is_read() -> None:
    document = read_yaml('{"takes": [1, 2.5, null], "yes": true, "t": "a\\nb"}', "f.json")

    assert document.problems == ()
    assert document.data == {"takes": [1, 2.5, None], "yes": True, "t": "a\nb"}


def test_bytes_that_are_not_utf8_are_pointed_at() -> None:
    document = read_yaml("a: 1\nb: 5 °C\n".encode("latin-1"), "f.yaml")

    assert [(p.line, p.column) for p in document.problems] == [(2, 6)]
    assert "save the file as UTF-8" in document.problems[0].message


def test_a_file_in_utf16_is_problems_not_a_traceback() -> None:
    assert read_yaml("a: b\n".encode("utf-16"), "f.yaml").problems


HOSTILE = {
    "billion laughs": "a: &a [x, x]\n" + "".join(f"b{i}: &b{i} [*a, *a, *a]\n" for i in range(30)),
    "laughs by the thousand": "".join(f"b{i}: &b{i} [*a, *a, *a]\n" for i in range(9000)),
    "nested flow lists": "[" * 100_000,
    "nested flow maps": "{a: " * 100_000,
    "nested dashes": "- " * 100_000,
    "nested questions": "? " * 100_000,
    "nested lines": "\n".join(" " * i + "a:" for i in range(1000)),
    "deep but short lines": "".join(f"{' ' * i}a:\n" for i in range(40)),
    "huge text": "a: " + "x" * 1_000_000,
    "huge block": "a: >\n " + "x" * 1_000_000,
    "huge key": "x" * 1_000_000 + ": 1",
    "many numbers": "a: [" + "1," * 500_000 + "]",
    "many keys": "".join(f"k{i}: 1\n" for i in range(90_000)),
    "many colons": "a: " + "b: " * 300_000,
    "many errors": "".join(f"a{i}: b: c\n" for i in range(80_000)),
    "open quote": 'a: "' + "x" * 400_000,
    "open quotes": 'a: "x\n' * 100_000,
    "many tabs": "a:\n" + "\tb\n" * 300_000,
    "many tags": "!a " * 300_000,
    "many anchors": "&a " * 300_000,
    "many NULs": "\0" * 1_000_000,
    "many duplicates": "a: 1\n" * 100_000,
    "many quotes": "'" * 1_000_001,
    "open list over many lines": "a: [" + "\n" * 1_000_000,
    "many per cent signs": "%" * 1_000_000,
    "many directives": "%a b\n" * 200_000,
    "many documents": "--- a\n" * 150_000,
    "too large": "a: b\n" * (LARGEST_FILE // 4),
    "digits": "a: " + "9" * 19_000,
    "groups of digits": "a: " + "1_" * 9_000,
    "sixties": "a: " + "1:" * 9_000 + "0",
    "self reference": "a: &a\n  b: *a\n",
    "python object": "a: !!python/object/new:os.system ['true']\n",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_a_short_list_of_problems(name: str) -> None:
    document = read_yaml(HOSTILE[name], "f.yaml")

    assert any(problem.level == "error" for problem in document.problems)
    assert len(document.problems) <= 101
    for problem in document.problems:
        assert str(problem).isprintable()
        assert len(str(problem)) < 500


def test_the_slowest_hostile_file_takes_no_longer_than_reading_an_honest_one_of_its_size() -> None:
    """A ratio of processor times within one run; honest is what PyYAML's own loader needs."""
    honest = "".join(f"key{i}: [1, 2, some words]\n" for i in range(LARGEST_FILE // 30))
    began = time.process_time()
    yaml.load(honest, getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    allowed = time.process_time() - began
    for name, text in HOSTILE.items():
        began = time.process_time()
        read_yaml(text, "f.yaml")
        assert time.process_time() - began < allowed, name


@given(st.binary(max_size=300))
def test_no_bytes_raise(source: bytes) -> None:
    document = read_yaml(source, "f.yaml")

    assert all(isinstance(problem, Problem) for problem in document.problems)


YAML_PIECES = [
    "a", "b: ", ": ", "- ", "\n", "\n  ", "\t", "{", "}", "[", "]", ",", '"', "'", "#", " #", "&x ", "*x",
    "!t ", "|", ">", "? ", "%", "@", "---\n", "...\n", "\\", "<<: ", "12:30", "é", "\r", "\x00", "\u2028",
    "~", ".nan",
]  # fmt: skip


@given(st.lists(st.sampled_from(YAML_PIECES), max_size=40).map("".join))
def test_what_is_read_of_yaml_signs_without_problems_is_what_pyyaml_reads(
    text: str,
) -> None:
    document = read_yaml(text, "f.yaml")
    assert all(isinstance(problem, Problem) for problem in document.problems)
    if any(problem.level == "error" for problem in document.problems):
        return

    loader = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
    by_pyyaml = yaml.load(text, loader)
    assert _without_types(document.data) == ("" if by_pyyaml is None else by_pyyaml)


def _without_types(data: object) -> object:
    """Return data as PyYAML's BaseLoader gives it: every scalar as text, nothing as an empty text."""
    if isinstance(data, dict):
        return {key: _without_types(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_without_types(value) for value in data]
    return "" if data is None else str(data)


@given(
    st.recursive(
        st.none()
        | st.booleans()
        | st.integers(-(10**15), 10**15)
        | st.floats(allow_nan=False, allow_infinity=False, width=32)
        | st.text(st.characters(min_codepoint=32, max_codepoint=126)),
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(st.text("abcdefgh_", min_size=1, max_size=8), inner, max_size=4)
        ),
        max_leaves=12,
    )
)
def test_what_pyyaml_writes_is_read_back(data: object) -> None:
    """PyYAML's dumper is the outside witness; it writes in the 1.1 way, quoted where needed."""
    text = yaml.safe_dump(data, allow_unicode=True)
    document = read_yaml(text, "f.yaml")
    if any(problem.level == "error" for problem in document.problems):
        refusals = ("by some readers", "a blank is missing after the dash")
        for problem in document.problems:
            assert problem.level == "warning" or any(words in problem.message for words in refusals)
        return

    assert document.data == data or (
        isinstance(data, float) and math.isclose(float(str(document.data)), data)
    )


BROKEN_FILES = sorted(path for path in BROKEN.iterdir() if path.suffix == ".yaml")


@pytest.mark.parametrize("path", BROKEN_FILES, ids=lambda path: path.stem)
def test_a_broken_file_says_what_its_last_lines_expect(path: Path) -> None:
    """Each file ends in comments `# expect LINE:COLUMN words of the message`, one for every problem."""
    source = path.read_bytes()
    expected = [
        line.removeprefix(b"# expect ").decode().strip().partition(" ")
        for line in source.splitlines()
        if line.startswith(b"# expect ")
    ]
    document = read_yaml(source, path.name)

    assert [f"{p.line}:{p.column}" for p in document.problems] == [place for place, _, _ in expected]
    for problem, (_, _, fragment) in zip(document.problems, expected, strict=True):
        assert fragment in str(problem)


def test_problems_sort_by_place_and_print_as_finished_lines() -> None:
    late = Problem("b.yaml", 3, 1, "error", "steps.x", "wrong")
    early = Problem("a.yaml", 9, 9, "warning", "", "odd")
    error = DefinitionError([late, early])

    assert error.problems == (early, late)
    assert str(error) == "a.yaml:9:9: warning: odd\nb.yaml:3:1: error: steps.x: wrong"
