"""The write-up: an author's words with figures and tables of earlier answers, numbered, and their methods.

`article` reads the text, `reference` what it asks to be placed, `choose` finds that in a saved answer,
`exhibits` numbers it, `ending` collects chains, methods and cautions, `editions` tells what has changed, and
`report` puts it together. It is no `JOB` of the catalogue: what it takes are folders, by names in a text.
"""
