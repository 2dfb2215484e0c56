"""A capture held against the clip that was played: which source picture every line is of, without a chart."""
