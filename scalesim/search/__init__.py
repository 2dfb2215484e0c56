"""Which settings to try, what counts as better, and which of them to take."""
