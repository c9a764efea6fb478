"""A season as sheets: their form, which the import shares, and the two kinds of file that hold them."""
