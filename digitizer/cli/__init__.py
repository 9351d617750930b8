"""People at a terminal: one module a verb, and the one place that turns a refusal into a line."""
