"""Setting pages: from parts (text, tables, drawings) to one tagged PDF in the project's own faces.

`parts` says what can be set; `compose` sets a whole document; `typst_pages` sets paper for the field.
Nothing here knows what a season is.
"""
