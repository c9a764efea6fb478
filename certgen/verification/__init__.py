"""What a packet proves: whether its pages follow from the records inside it, and who says so.

Nothing in a packet is believed. The records are taken out, examined anew, and the whole packet is made from
them a second time with the options and the day that its manifest names; every byte must be the same. So a
changed letter, a stamp or a script is found without any key, and a signature only has to say who stands
behind the file. A packet of another version can't come out the same to the byte: then what can be compared
is compared, and what wasn't is named.
"""
