"""A season\x27s own files: begun, and changed without touching what stands around the change."""
