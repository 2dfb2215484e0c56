"""Straightening photos: where points of a picture lie in a photo of the tube, and of one photo in another."""
