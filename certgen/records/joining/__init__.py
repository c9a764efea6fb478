"""Records completed and joined: rounds, letters and the routine laid in, all seasons in reach as one farm."""
