"""The jobs: one task function each, arrays in and a Result out."""
