"""The lab: a page on the user's own machine where dials are dragged and the picture follows.

The page (`static/`, `templates/`) shows and asks; every figure and every dot comes from the same job
functions as the command line's. `app` joins the parts: `guard` (who may ask), `frames` (what may be looked
at), `editor` (a chain being written), `explore` (a frame after a chain), `tasks` (jobs, their answers
kept), `watch` (a folder where captures arrive).
"""
