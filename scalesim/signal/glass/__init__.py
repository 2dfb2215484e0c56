"""What a camera saw of a tube: its scan lines, how they stand, and where successive fields lie."""
