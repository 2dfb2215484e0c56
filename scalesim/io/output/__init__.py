"""How an output folder is named, claimed, written beside its name, and put in its place."""
