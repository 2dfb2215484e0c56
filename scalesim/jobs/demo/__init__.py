"""Demo: the whole bench on drawn frames."""
