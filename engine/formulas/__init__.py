"""The named formulas of the trade, one module a subject; `engine.formulas.registry` finds them by name."""
