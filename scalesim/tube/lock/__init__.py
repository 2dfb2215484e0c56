"""Where a display's vertical circuit makes each field begin: circuits, solvers, margins, sets of outcomes."""
