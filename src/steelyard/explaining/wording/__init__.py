"""Words for clients: the catalogue, the one sentence, rounding, and what to keep away from."""
