"""The counter chart read back: which source picture every line of a capture shows."""
