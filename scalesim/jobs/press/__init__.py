"""Press: what one press of a dial does."""
