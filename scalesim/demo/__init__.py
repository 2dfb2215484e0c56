"""The demonstration: an invented club, its frames drawn as code, and its chains."""
