"""Pages made of results."""
