"""The counter chart: every picture carries its number in every line, twice."""
