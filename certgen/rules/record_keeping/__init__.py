"""The records themselves: their numbers, days, names and papers, and what is open in them."""
