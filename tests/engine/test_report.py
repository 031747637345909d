"""Reports: what they say, that they recompute nothing, and that typed text stays text."""

from __future__ import annotations

import html.parser
import json
import re

import pytest

from engine.asking import Ended
from engine.catalogue import Drive
from engine.job import Job, JobCard
from engine.report import as_html, as_json, as_markdown, gather, page
from tests.engine.jobs_made import TO_PURGE, Clock, answer, begin, concluded

HOSTILE = (
    "<script>alert(1)</script> <img src=x onerror=alert(2)> [click](javascript:alert(3)) | `code` *bold* "
    "http://example.invalid \x1b[31mred\x1b]0;title\x07 \x9b2J \u202egnp.exe\n# heading"
)


def forms(job: Job) -> dict[str, str]:
    data = gather(job.card, job.walk)
    return {"md": as_markdown(page(data)), "html": as_html(page(data)), "json": as_json(data)}


def plain(markdown: str) -> str:
    """Return Markdown without its backslashes, to look for words in it."""
    return re.sub(r"\\(.)", r"\1", markdown)


def repaired(tmp_path, *, trim: float = 0.0) -> Job:
    job = concluded(tmp_path)
    job.walk.note("oil on the sump")
    job.walk.confirm_drive("Sam", Drive.WITH_CARE)
    job.walk.repaired("valve renewed")
    job.advance()
    answer(job, (("stft_b1_idle", trim), ("ltft_b1_idle", trim)))
    return job


# ------------------------------------------------------------------- same bytes


def test_the_same_job_gives_the_same_bytes_live_and_from_the_file(tmp_path, monkeypatch):
    with repaired(tmp_path) as job:
        live = forms(job)

    def forbidden(*_args, **_more):
        raise AssertionError("judged for a report")

    for module in ("engine.walking.judge", "engine.asking.judge"):
        monkeypatch.setattr(module, forbidden)
    for _ in range(2):
        with Job.open(job.journal.path, clock=Clock(), write=False) as again:
            assert forms(again) == live
    assert set(live) == {"md", "html", "json"}


def test_the_json_is_data_without_surprises(tmp_path):
    with repaired(tmp_path) as job:
        data = json.loads(forms(job)["json"], parse_constant=pytest.fail)

    assert data["job"] == job.journal.path.stem
    assert data["found"]["faults"] == ["purge_stuck_open"]
    assert [step["title"] for step in data["path"]][:2] == ["A safe place", "Read the codes"]
    assert data["entries"] == 11


# ------------------------------------------------------------------- what it says


def test_it_says_who_what_where_from_and_what_is_left(tmp_path):
    with repaired(tmp_path) as job:
        text = plain(forms(job)["md"])
        done = job.walk.library.catalogue.faults.faults["purge_stuck_open"]

    for said in (
        "repaired, and the repair is proved",
        "Complaint: smokes black",
        "Mechanic: Sam",
        f"Job: {job.journal.path.stem}",
        done.label.capitalize(),
        "Pinching moved the trim by +14.8 %.",
        "Repair: Renew the purge valve.",
        f"Proof of the repair: {done.proof}",
        "If it is left: It runs rich.",
        "Rests on rules of thumb of the trade",
        "decided by Sam, 2025-11-24 16:00 UTC",
        "oil on the sump",
        "| total trim that counts as rich | -10.0 % | rule of thumb |",
        "no roadworthiness test",
        "The maker's current data, local rules and licensed practice come first",
        "spark-ignition petrol engines",
        "11 entries",
    ):
        assert said in text, said
    assert "demonstration" not in text


def test_what_testing_first_saved_has_numbers_for_the_shop_only(tmp_path):
    with concluded(tmp_path) as job:
        customer, shop = plain(forms(job)["md"]).split("## For the workshop")
        told = gather(job.card, job.walk)["saving"]

    assert job.walk.state.concluded["strength"] == "proven"
    assert told["customer"] in customer
    assert told["shop"] in shop
    assert not re.search(r"\d", told["customer"])


def test_before_and_after_stand_side_by_side(tmp_path):
    with repaired(tmp_path) as job:
        data = gather(job.card, job.walk)
        text = plain(forms(job)["md"])

    numbers = {entry["label"]: (entry["before"], entry["after"]) for entry in data["repair"]["numbers"]}
    assert numbers["total trim at idle, bank 1"] == ("-18.0 %", "0.0 %")
    assert "| total trim at idle, bank 1 | -18.0 % | 0.0 % |" in text


def test_a_failed_proof_is_never_shown_as_found(tmp_path):
    with repaired(tmp_path, trim=-9.0) as job:
        data = gather(job.card, job.walk)
        text = plain(forms(job)["md"])

    assert data["status"] == "repaired, but the proof failed: not fixed"
    assert data["found"] is None
    assert "Nothing is concluded yet" in text
    assert "| total trim at idle, bank 1 | -18.0 % | -18.0 % |" in text


def test_a_repair_without_its_proof_is_unproven_and_due(tmp_path):
    with concluded(tmp_path) as job:
        job.walk.repaired("")
        job.walk.due("Friday")
        text = plain(forms(job)["md"])

    assert "repaired, unproven, proof due Friday" in text
    assert "Repaired: as advised." in text


def test_the_customers_part_holds_no_percentage_of_certainty(tmp_path):
    with begin(tmp_path) as job:
        answer(job, (*TO_PURGE[:6], ("pinch_purge_dtrim", 0.5), ("batt_v_koeo", 11.0)))
        assert job.walk.state.open_end is not None
        customer = plain(forms(job)["md"]).split("## For the workshop")[0]

    assert "most likely: " in customer
    assert not re.search(r"most likely.*\d", customer)
    assert "how sure" not in customer


def test_not_condemned_with_what_cleared_it(tmp_path):
    with begin(tmp_path) as job:
        no_codes = (TO_PURGE[0], ("dtc_stored", ()), *TO_PURGE[2:6])
        answer(job, (*no_codes, ("pinch_purge_dtrim", 0.5), ("batt_v_koeo", 12.6)))
        job.walk.undo_left("purge-hose-clamped")
        stop = answer(job, (("stft_b1_load", -8.6), ("ltft_b1_load", -9.4)))
        assert isinstance(stop, Ended)
        label = job.walk.library.catalogue.faults.faults["purge_stuck_open"].label
        text = plain(forms(job)["md"])

    assert f"- {label}: Not the purge flow (pinch the purge hose)" in text
    assert "probable" in text
    assert "Not proven, because this is missing" in text


def test_what_is_not_undone_and_stop_findings_speak_against_driving(tmp_path):
    with begin(tmp_path) as job:
        answer(job, (*TO_PURGE[:6], ("pinch_purge_dtrim", 0.5)))
        left = job.walk.library.catalogue.left["purge-hose-clamped"].label
        text = plain(forms(job)["md"])

    assert "Still to be undone" in text
    assert f"- {left}" in text
    assert "Do not drive." in text
    assert f"because: not undone: {left}" in text
    assert "no person has confirmed it yet" in text


def test_an_open_end_names_no_fault_and_what_would_separate(tmp_path):
    with begin(tmp_path) as job:
        answer(job, TO_PURGE[:6])
        job.walk.cannot("pinch_purge_dtrim", "nylon pipe")
        job.advance()
        with_reason = plain(forms(job)["md"])
        assert "(nylon pipe)" in with_reason
    with begin(tmp_path / "b") as other:
        answer(other, (("scene_safe", "not_safe"),))
        data, text = gather(other.card, other.walk), plain(forms(other)["md"])

    assert data["status"] == "open end"
    assert "An open end: no fault is named." in text
    assert "Move or recover the car first." in text
    assert len(data["open_end"]["suspects"]) == 5
    assert data["found"] is None


def test_what_was_not_looked_at_is_not_checked_and_a_withdrawn_cannot_is_gone(tmp_path):
    with begin(tmp_path) as job:
        answer(job, TO_PURGE[:5])
        job.walk.cannot("visual_intake", "dark")
        job.advance()
        assert {"what": _label(job, "visual_intake"), "why": "dark"} in _not_checked(job)

        number = next(e["n"] for e in job.walk.events if e["kind"] == "cannot")
        job.walk.withdraw_cannot(number)
        job.advance()
        assert _not_checked(job) == []

        reading = job.walk.library.catalogue.readings["purge_flow_at_0"]
        unseen = next(choice for choice in reading.choices if choice.not_looked)
        answer(job, (*TO_PURGE[5:7], ("purge_flow_at_0", unseen.value)))
        assert {"what": reading.label, "why": unseen.label} in _not_checked(job)


def _label(job: Job, reading: str) -> str:
    return job.walk.library.catalogue.label(reading)


def _not_checked(job: Job) -> list[dict[str, str]]:
    return gather(job.card, job.walk)["not_checked"]


def test_an_unfinished_job_and_a_demonstration_say_so(tmp_path):
    with begin(tmp_path, card=JobCard(car="", complaint="", demo=True)) as job:
        text = plain(forms(job)["md"])

    assert text.startswith("# Car: not finished")
    assert "the job is not finished" in text
    assert "This is a demonstration with an invented car." in text
    assert "no roadworthiness test" in text


def test_repairs_on_the_way_corrections_and_unusual_values_are_listed(tmp_path):
    with begin(tmp_path) as job:
        answer(job, (*TO_PURGE[:5], ("visual_intake", ("hose_off",))))
        job.walk.repair_done("hose refitted")
        job.advance()
        number = job.walk.take("stft_b1_idle", -55.0, flagged=True)
        job.walk.correct(number, -8.0)
        answer(job, (("ltft_b1_idle", -9.0),))
        text = plain(forms(job)["md"])

    assert "- hose refitted" in text
    assert "- 1 corrections" in text
    assert "Entered although unusual" in text


# --------------------------------------------------------------------- hostile text


class _Tags(html.parser.HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, tuple[str, ...]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(name for name, _ in attrs)))


def hostile_job(tmp_path) -> Job:
    card = JobCard(car=HOSTILE, complaint=HOSTILE, place=HOSTILE, who=HOSTILE)
    job = begin(tmp_path, card=card)
    answer(job, TO_PURGE[:5])
    job.walk.note(HOSTILE)
    job.walk.cannot("visual_intake", HOSTILE)
    answer(job, TO_PURGE[6:])
    job.walk.confirm_drive(HOSTILE, Drive.WITH_CARE)
    job.walk.repaired(HOSTILE)
    job.walk.due(HOSTILE)
    job.advance()
    return job


def test_hostile_text_brings_no_tag_into_html(tmp_path):
    with hostile_job(tmp_path) as job:
        text = forms(job)["html"]
    tags = _Tags()
    tags.feed(text)

    names = {name for name, _ in tags.tags}
    assert names.isdisjoint({"script", "img", "a", "svg", "iframe"})
    assert {attribute for _, attributes in tags.tags for attribute in attributes} <= {
        "lang", "charset", "name", "content",
    }  # fmt: skip
    assert "&lt;script&gt;" in text


def test_hostile_text_brings_no_markup_into_markdown(tmp_path):
    with hostile_job(tmp_path) as job:
        text = forms(job)["md"]

    assert "<" not in text
    assert "](" not in text.replace("\\](", "")
    assert not re.search(r"(?<!\\)`", text)
    headings = [line for line in text.splitlines() if line.startswith("#")]
    assert all(line.lstrip("#")[0] == " " for line in headings)
    assert not any("heading" in line for line in headings if not line.startswith("# "))
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    assert all(len(re.findall(r"(?<!\\)\|", row)) in (4, 5) for row in rows)


@pytest.mark.parametrize("form", ["md", "html", "json"])
def test_no_form_holds_a_terminal_escape_or_a_direction_override(tmp_path, form):
    with hostile_job(tmp_path) as job:
        text = forms(job)[form]

    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", text)
    if form == "json":
        loaded = json.dumps(json.loads(text), ensure_ascii=False)
        assert "\\u001b" not in loaded
        assert "\\u202e" not in text
