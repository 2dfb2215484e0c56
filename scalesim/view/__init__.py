"""What a picture looks like: on the screen's lines, as a frame, at the shape of the tube."""
