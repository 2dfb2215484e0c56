"""What a display is, and the picture it paints of a raster."""
