"""Error budgets: drawn flitches in, errors against their truth out. Tighten, never loosen."""
