"""Letters, rulers, pens and shapes: what charts, pictures and the drawn frames are made with."""
