"""Compare: frames times chains, measured and ranked."""
