from __future__ import annotations

import csv
import io
import unicodedata
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from engine.inert import LENGTH_LIMIT, html_safe, inert, markdown_safe, spreadsheet_safe

NASTY = st.text(
    st.one_of(
        st.characters(),
        st.sampled_from("\x1b\x9b[]0;31mHJ\x07\\\r\n\t\x85\u202e\u2066\u2028=+-@<>&'\"*_`|#~$!:/w."),
    )
)


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("hose off\x1b[31m at bank 1\x1b[0m", "hose off at bank 1"),
        ("\x1b]0;owned\x07idle", "idle"),
        ("\x1b]8;;http://x\x1b\\link\x1b]8;;\x1b\\", "link"),
        ("\x9b2Jclean", "clean"),
        ("\x1bPq#0\x1b\\sixel", "sixel"),
        ("\x1bcreset", "reset"),
        ("unfinished \x1b]0;kept as words", "unfinished 0;kept as words"),
        ("a\u202etxt.exe\u202c \u2066b\u2069", "atxt.exe b"),
        ("nul\x00 bell\x07 del\x7f c1\x9a", "nul bell del c1"),
        ("one\u2028two\u2029three\x85four\r\nfive\rsix", "one two three four five six"),
        ("half \ud83d pair", "half \ufffd pair"),
        ("e\u0301cran \u2126", "\u00e9cran \u03a9"),  # Unicode NFC: ohm sign becomes omega
        ("-7,5 °C λ 0.98", "-7,5 °C λ 0.98"),
    ],
)
def test_typed_text_loses_what_a_terminal_obeys(typed: str, shown: str) -> None:
    assert inert(typed) == shown


def test_lines_and_tabs_stay_when_asked() -> None:
    assert inert("one\r\n\ttwo\u2028three\x0b", keep_lines=True) == "one\n\ttwo\nthree\n"


def test_length_is_bounded() -> None:
    assert inert("x" * (LENGTH_LIMIT + 1)) == "x" * (LENGTH_LIMIT - 1) + "…"
    assert inert("x" * LENGTH_LIMIT) == "x" * LENGTH_LIMIT
    assert inert("abcd", limit=3) == "ab…"


@given(NASTY)
def test_nothing_unprintable_but_odd_blanks_is_left_and_twice_is_once(text: str) -> None:
    once = inert(text, keep_lines=True)
    assert inert(once, keep_lines=True) == once
    assert unicodedata.is_normalized("NFC", once)
    assert not any(
        unicodedata.category(sign) in {"Cc", "Cs"} for sign in once.replace("\n", "").replace("\t", "")
    )
    assert not any(
        unicodedata.bidirectional(sign) in {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
        for sign in once
    )


@pytest.mark.parametrize(
    "typed",
    ["=1+1", "+1", "-1+2", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "\u2028=1", "\x00=1", "\x1b[0m=1"],
)
def test_no_cell_starts_a_formula(typed: str) -> None:
    # The starting characters are those the OWASP page "CSV Injection" lists; from memory.
    assert spreadsheet_safe(typed).startswith("'")


def test_a_cell_stays_one_cell() -> None:
    file = io.StringIO()
    csv.writer(file).writerow([spreadsheet_safe('a,"b\n=1;c'), "next"])
    assert list(csv.reader(io.StringIO(file.getvalue()))) == [['a,"b =1;c', "next"]]
    assert spreadsheet_safe("hose-off") == "hose-off"


class _Seen(HTMLParser):
    """What a browser's tokeniser would see."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, list[tuple[str, str | None]]]] = []
        self.words = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, attrs))

    def handle_data(self, data: str) -> None:
        self.words += data


@given(NASTY)
def test_html_reads_back_as_the_same_text_and_no_tag(text: str) -> None:
    # Checked against the tokeniser of Python's own html.parser.
    seen = _Seen(f'<p title="{html_safe(text)}">{html_safe(text)}</p>')
    shown = inert(text, keep_lines=True)
    assert seen.tags == [("p", [("title", shown)])]
    assert seen.words == shown


MARKDOWN = MarkdownIt("commonmark").enable(["table", "strikethrough"])


@pytest.mark.parametrize(
    "typed",
    [
        "# big",
        "- item",
        "+ item",
        "* item",
        "1. one",
        "12) one",
        "> quote",
        "`code`",
        "~~~",
        "```",
        "**bold** _it_",
        "[a](http://b)",
        "![a](b)",
        "<script>x</script>",
        "<http://a>",
        "a | b",
        "===",
        "---",
        "    code",
        "&lt;b&gt;",
        "~~gone~~",
        "[a]: http://b",
        "\\*",
        "<!-- -->",
        "a\\",
    ],
)
def test_markdown_shows_the_characters_typed(typed: str) -> None:
    # Checked against markdown-it-py, an implementation of CommonMark 0.31.
    seen = _Seen(MARKDOWN.render(markdown_safe(typed)))
    assert [tag for tag, _ in seen.tags] == ["p"]
    assert seen.words.rstrip("\n") == typed.strip()


@given(NASTY)
def test_markdown_never_becomes_markup(text: str) -> None:
    safe = markdown_safe(text)
    seen = _Seen(MARKDOWN.render(safe))
    assert {tag for tag, _ in seen.tags} <= {"p"}
    assert "".join(seen.words.split()) == "".join(inert(text).split())


@given(NASTY)
def test_a_table_cell_in_markdown_stays_one_cell(text: str) -> None:
    seen = _Seen(MARKDOWN.render(f"| a | b |\n|---|---|\n| {markdown_safe(text)} | end |\n"))
    assert [tag for tag, _ in seen.tags] == ["table", "thead", "tr", "th", "th", "tbody", "tr", "td", "td"]


def test_bare_links_are_no_links() -> None:
    assert markdown_safe("see http://a.example or www.a.example") == (
        "see http\\://a.example or www\\.a.example"
    )
