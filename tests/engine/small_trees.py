"""A small tree and a procedure over the shipped catalogues, for tests of the walk."""

from __future__ import annotations

from functools import cache

from engine.library import Library, load_library, shipped_files

RICH = """\
format: 1
tree: small-rich
kind: symptom
title: A small tree
complaints: [smokes black]
start: place
entries: [trims]
steps:
  place:
    title: A safe place
    do: Look round.
    why: Nothing else matters if this fails.
    cautions: [C-TRAFFIC]
    readings: [scene_safe]
    judge:
      - id: safe
        when: {scene_safe: {is: safe}}
        verdict: Safe to work
        grade: ok
        exit: codes
      - id: unsafe
        otherwise: true
        covers_rest: true
        verdict: Not safe here
        grade: fail
        finding: [scene-unsafe]
        exit: {refer: Move or recover the car first.}
  codes:
    title: Read the codes
    do: Read and save.
    why: They are lost easily.
    readings: [dtc_stored]
    optional: [complaint_seen]
    judge:
      - id: seen
        when: {complaint_seen: {one_of: ["yes", partly]}}
        verdict: Seen
        grade: ok
        finding: [complaint-carried]
        exit: trims
      - id: unseen
        when: {complaint_seen: {is: "no"}}
        verdict: Not seen
        grade: watch
        exit: trims
    cannot: {say: Not known., exit: trims}
  trims:
    title: Read the trims
    do: Read both.
    why: They split air from fuel.
    each: bank
    wait: 30 s
    cautions: [C-MOVE, C-CO]
    readings: ["stft_<each>_idle", "ltft_<each>_idle"]
    optional: ["stft_<each>_2500", "ltft_<each>_2500"]
    judge:
      - id: rich
        when: {"tt_<each>_idle": {at_most: trim_rich}}
        verdict: Rich at idle on <each>
        grade: likely
        means: The control unit takes out {tt_<each>_idle}.
        side: <each>
        weigh: {purge_stuck_open: 4, injector_leaking: 3, fuel_reg_high: 2}
        finding: [mixture-rich]
        exit: look
      - id: at-speed
        when: {"tt_<each>_2500": {at_most: trim_rich}}
        verdict: Rich at speed on <each>
        grade: likely
        side: <each>
        weigh: {fuel_reg_high: 4}
        finding: [mixture-rich]
        exit: look
      - id: fine
        otherwise: true
        covers_rest: true
        verdict: Mixture in order
        grade: ok
        exit: {conclude: nothing}
    cannot: {say: No trims., exit: look}
  look:
    title: Look at the hoses
    do: Look.
    why: Cheapest look.
    readings: [visual_intake]
    judge:
      - id: off
        when: {visual_intake: {has_any: [hose_off, hose_split]}}
        verdict: Hose off
        grade: fail
        exit: {repair: {say: Refit the hose., forget: [trims], next: trims}}
      - id: nothing
        when: {visual_intake: {has_none: [hose_off, hose_split]}}
        verdict: Nothing to see
        grade: ok
        exit: purge
    cannot: {say: Covers stayed on., exit: purge}
  purge:
    title: Pinch the purge hose
    do: Pinch it at idle.
    why: One minute, nothing to buy.
    cautions: [C-PINCH, C-FUEL]
    leaves: [purge-hose-clamped]
    readings: [pinch_purge_dtrim]
    judge:
      - id: moved
        when: {pinch_purge_dtrim: {at_least: pinch_rich}}
        verdict: The purge flow was the extra fuel
        grade: fail
        weigh: {purge_stuck_open: 30}
        finding: [purge-pinch-moved]
        exit: flow
      - id: still
        otherwise: true
        covers_rest: true
        verdict: Not the purge flow
        grade: ok
        weigh: {purge_stuck_open: 0.05}
        exit: {call: small-volts, then: {good: road, otherwise: {refer: Volts first.}}}
    cannot: {say: Not pinched., exit: {conclude: purge-probable}}
  flow:
    title: Flow with the command at zero
    do: Unplug the valve and feel.
    why: A full canister is allowed to flow, a stuck valve is not.
    cautions: [C-FUEL]
    undoes: [purge-hose-clamped]
    readings: [purge_flow_at_0]
    judge:
      - id: flows
        when: {purge_flow_at_0: {is: flow}}
        verdict: Flows when shut
        grade: fail
        weigh: {purge_stuck_open: 10}
        finding: [purge-flow-at-zero, purge-command-zero]
        exit: {conclude: purge}
      - id: tight
        when: {purge_flow_at_0: {is: none}}
        verdict: Shuts
        grade: ok
        exit: {conclude: purge-probable}
    cannot: {say: Not felt., exit: {conclude: purge-probable}}
  road:
    title: On the road
    do: One pull, record, enter after stopping.
    why: Load shows the pump.
    cautions: [C-ROAD]
    readings: ["stft_<bank>_load", "ltft_<bank>_load"]
    judge:
      - id: rich
        when: {"tt_<bank>_load": {at_most: trim_rich}}
        verdict: Rich under load on <bank>
        grade: likely
        weigh: {fuel_reg_high: 5}
        exit: {conclude: pressure}
      - id: rest
        otherwise: true
        covers_rest: true
        verdict: Not under load
        grade: ok
        exit: {refer: {say: The lean tree goes on from here., tree: lean-running}}
    cannot: {say: No road., exit: {refer: Come back with a gauge.}}
conclusions:
  purge:
    faults: [purge_stuck_open]
    strength: proven
    because: Pinching moved the trim by {pinch_purge_dtrim}.
    repair: Renew the purge valve.
    proof: {measure: [tt_b1_idle], expect: {tt_b1_idle: {at_least: trim_proof_low, at_most: trim_proof_high}}}
    if_left: It runs rich.
  purge-probable:
    faults: [purge_stuck_open]
    strength: probable
    because: The pattern fits.
    proof: {measure: [tt_b1_idle], expect: {tt_b1_idle: {at_least: trim_proof_low, at_most: trim_proof_high}}}
  pressure:
    faults: [fuel_reg_high]
    strength: probable
    because: Rich under load.
    side: <bank>
  nothing:
    faults: [no_fault_found]
    strength: not-found-here
    because: The mixture is in order.
"""

VOLTS = """\
format: 1
tree: small-volts
kind: procedure
title: Volts
outcomes: [good, low]
start: rest
steps:
  rest:
    title: Battery at rest
    do: Read it.
    why: Low volts fake codes.
    readings: [batt_v_koeo]
    judge:
      - id: low
        when: {batt_v_koeo: {below: batt_rest_low}}
        verdict: Low
        grade: fail
        exit: {return: low}
      - id: good
        otherwise: true
        covers_rest: true
        verdict: Good
        grade: ok
        exit: {return: good}
    cannot: {say: Not read., exit: {return: good}}
"""


@cache
def small_library() -> Library:
    """Return the shipped catalogues with only the two small trees."""
    files = {name: text for name, text in shipped_files().items() if "/catalogue/" in name}
    files["trees/symptoms/small-rich.yaml"] = RICH.encode()
    files["trees/procedures/small-volts.yaml"] = VOLTS.encode()
    return load_library(files=files)
