"""What a camera wrote: photos and films of a tube."""

from scalesim.io.photos.read import read_photo

__all__ = ["read_photo"]
