"""Charts: pictures to feed a box, each with the machine-readable truth about itself."""
