"""A season's own files: begun, and changed without touching what stands around the change.

New text is spliced in and existing bytes stay, so that comments and layout survive; the folder is read again
before anything is written. A change is refused where a comment stands on a line that would have to grow.
"""
