"""The rows of a study, kept in a database as they come: nothing is lost when a run dies, nothing twice."""
