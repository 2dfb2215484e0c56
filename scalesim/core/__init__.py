"""Rasters, pictures, operators: the numeric core. Knows nothing of files, command line or pages."""
