"""The commands, one module each: what is typed, what is called, and how it ends."""
