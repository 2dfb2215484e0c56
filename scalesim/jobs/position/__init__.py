"""Position: where the picture sits now."""
