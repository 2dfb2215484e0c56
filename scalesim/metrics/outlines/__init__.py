"""What became of thin horizontal detail: split, or lost."""
