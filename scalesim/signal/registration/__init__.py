"""Which place of the source a captured picture shows."""
