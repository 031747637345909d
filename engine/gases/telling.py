"""An analysis of exhaust gas in lines for a screen or a terminal."""

from __future__ import annotations

from engine.gases.analysis import Analysis


def told(analysis: Analysis) -> list[tuple[str, str]]:
    """Return pairs of a heading and a line; a heading may repeat."""
    lines = [("says", f"{analysis.pattern}: {analysis.says}")]
    if analysis.lambda_gas is not None:
        lines.append(("lambda", f"{analysis.lambda_gas:.3f} from the gases"))
    else:
        lines.append(("lambda", f"none: {analysis.lambda_why}"))
    lines += [("lambda", way) for way in analysis.other_ways]
    state = "diluted" if analysis.diluted else "whole" if analysis.carbon >= analysis.least_carbon else "weak"
    lines.append(
        ("sample", f"CO + CO2 {analysis.carbon:.1f} %, {state} (whole from {analysis.least_carbon:.1f})")
    )
    if analysis.co_corrected is not None:
        lines.append(("sample", f"CO corrected for dilution {analysis.co_corrected:.2f} %"))
    if analysis.line_o2 is not None:
        lines.append(("plausible", f"complete combustion would leave O2 {max(analysis.line_o2, 0.0):.1f} %"))
    lines += [("doubt", doubt) for doubt in analysis.plausible]
    lines += [("cannot say", text) for text in analysis.cannot]
    return lines
