"""Published tables as data. No formula reproduces them, so none stands in for them."""
