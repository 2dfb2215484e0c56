"""A comparison over clips: many frames, kept rows, many workers."""
