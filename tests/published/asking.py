"""Ask a formula for one of its results, as the published tests do."""

from __future__ import annotations

from engine.formulas.registry import Value, formula


def ask(name: str, result: str | None = None, /, **values: Value) -> float:
    """Return one numeric result of a formula; the only one when *result* is not named."""
    results = formula(name).compute(**values)
    if result is None:
        assert len(results) == 1, f"{name} has {', '.join(results)}"
        return float(next(iter(results.values())))
    return float(results[result])


def ask_lambda(name: str, lambda_: float, /, **values: Value) -> float:
    """Return the only result of a formula that takes an argument called ``lambda``."""
    return ask(name, None, **{"lambda": lambda_, **values})
