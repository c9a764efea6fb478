"""A lot's card: one page for whoever buys it, about that lot and nothing else.

`facts` takes from a result what the card tells: an object of its own, made of listed things, so that no
other lot, buyer, tree or file can be in it. `page` sets that object and nothing more, and lays it inside the
file, so that the page can be set again from it. `code` is what a telephone reads off the page without a
network, and the signature on it.
"""
