"""Files of recordings: any usual layout is read, anything else is one line that says where and what to do."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from engine.traces.metrics import TraceError
from engine.traces.reading import Recording, load_recording, read_recording


def rows(line: str, many: int = 30, comma: bool = False) -> str:
    """Return rows; t is seconds, m milliseconds, v volts, w millivolts."""
    made = [
        line.format(t=f"{i * 0.02:.2f}", m=i * 20, v=f"{0.1 + i / 100:.3f}", w=100 + 10 * i)
        for i in range(many)
    ]
    text = "\n".join(made)
    return text.replace(".", ",") if comma else text


def read(text: str | bytes, **given: object) -> Recording:
    return read_recording(text.encode() if isinstance(text, str) else text, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    [
        "time,volts\n" + rows("{t},{v}"),
        "t;v\r\n" + rows("{t};{v}", comma=True).replace("\n", "\r\n"),
        rows("{t}\t{v}"),
        rows("{t} {v}", comma=True),
        rows("{t}, {v}"),
        "Time (ms);B1S1 (mV)\n" + rows("{m};{w}"),
        "Scope export\n\nTime\tChannel A\n(ms)\t(mV)\n\n" + rows("{m}\t{w}"),
        rows("{m},{w}"),
        "volts,time\n" + rows("{v},{t}"),
        '"Time";"O2 V";"rpm"\n' + rows('"{t}";"{v}";"2500"', comma=True),
        '"time","v"\n' + rows('"{t}","{v}"', comma=True).replace('"0,', '"0,'),
        "Clock,RPM,O2 B1S1 (V)\n" + rows("12:30:{t},2500,{v}").replace(":0.", ":00."),
        "time,volts\n" + rows("{t},{v}") + "\n\n\n",
    ],
)
def test_usual_layouts_give_the_same_recording(text: str) -> None:
    found = read(text)
    assert found.seconds[:3].tolist() == pytest.approx([0.0, 0.02, 0.04])
    assert found.channels[0].volts[:3].tolist() == pytest.approx([0.1, 0.11, 0.12])


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_any_encoding_is_read(encoding: str) -> None:
    found = read(("time,volts µ\n" + rows("{t},{v}")).encode(encoding))
    assert found.channels[0].volts[1] == pytest.approx(0.11)


def test_two_sensors_are_told_apart_by_their_headings() -> None:
    text = "Time (s),Bank 1 Sensor 1 V,RPM,Bank 1 Sensor 2 V\n" + rows("{t},{v},2500,0.6")
    assert [channel.sensor for channel in read(text).channels] == ["b1s1", "b1s2"]
    assert [c.sensor for c in read(text.replace("Bank 1 Sensor 1", "Upstream")).channels] == ["s1", "b1s2"]
    chosen = read(text, columns=["sensor 2"])
    assert [channel.name for channel in chosen.channels] == ["Bank 1 Sensor 2 V"]
    assert read(text, columns=["3"]).channels[0].volts[0] == pytest.approx(2.5)


def test_gaps_and_missing_values_are_reported_with_their_line() -> None:
    lines = ("time,volts\n" + rows("{t},{v}")).split("\n")
    lines[8] = "0.14,NaN"
    lines[9] = "0.16,"
    found = read("\n".join(lines[:12] + lines[20:]))
    assert "lines 9, 10: no number, left out" in found.notices
    assert any("gap of 0.18 s after line 12" in notice for notice in found.notices)
    assert np.isnan(found.channels[0].volts[7])


def test_a_file_of_volts_alone_needs_the_rate() -> None:
    text = "volts\n" + rows("{v}")
    with pytest.raises(TraceError, match="--rate"):
        read(text)
    assert read(text, rate=50.0).seconds[1] == pytest.approx(0.02)


GOOD = "time,volts\n" + rows("{t},{v}")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \n", "empty"),
        (b"PK\x03\x04\x00\x00\x01\x02", "no text file"),
        (b"hello\nworld\n", "no rows of numbers"),
        (rows("{t},{v}", comma=True).encode(), "separator or decimal sign"),
        (GOOD.replace("0.14,0.170", "0.14,abc").encode(), "bad.csv:9: 'abc' is no number"),
        (GOOD.replace("0.14,0.170", "0.04,0.170").encode(), "bad.csv:9: the time goes back"),
        (GOOD.replace("0.14,0.170", "0.12,0.170").encode(), "bad.csv:9: the time stands still"),
        (b"time,volts\n0,0.1\n1,0.2\n", "at least three"),
        (("time,volts\n" + rows("{t},9{w}000")).encode(), "no volts of a sensor"),
        (("time,volts\n" + rows("{t},")).encode(), "holds 0 numbers|lack a value"),
    ],
)
def test_what_is_wrong_is_one_line_with_its_place(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_bytes(data)
    with pytest.raises(TraceError, match=said) as caught:
        load_recording(path)
    assert str(caught.value).startswith(str(tmp_path))
    assert "\n" not in str(caught.value)


def test_a_file_that_is_not_there_or_a_folder_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(TraceError, match="no such file"):
        load_recording(tmp_path / "nothing.csv")
    with pytest.raises(TraceError, match="is a folder"):
        load_recording(tmp_path)


def test_escapes_in_a_heading_stay_harmless() -> None:
    assert "\x1b" not in read("time,\x1b[31mvolts\n" + rows("{t},{v}")).channels[0].name


def test_a_column_that_is_not_there_is_named_with_those_that_are() -> None:
    with pytest.raises(TraceError, match="did you mean 'volts'"):
        read(GOOD, columns=["vollts"])


def test_a_million_rows_are_read_in_a_few_seconds_at_most() -> None:
    text = "time,volts\n" + "\n".join(f"{i * 1e-4:.4f},0.{i % 900:03d}" for i in range(1_000_000))
    data = text.encode()
    begun = time.perf_counter()
    found = read(data)
    assert time.perf_counter() - begun < 4.0
    assert found.seconds.size == 1_000_000
