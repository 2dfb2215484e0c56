"""What a box does to lines, from a capture of the kernel chart."""
