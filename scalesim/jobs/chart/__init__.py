"""Chart: what to play through a box or on a tube."""
