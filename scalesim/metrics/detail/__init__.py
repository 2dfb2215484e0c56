"""How much of the source's detail is kept, and how much is there that the source does not have."""
