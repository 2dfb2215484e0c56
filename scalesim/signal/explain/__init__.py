"""Which of several predictions a photo shows: light of scan lines fitted to a photo, and the odds of each."""
