"""Setting pages: from parts (text, tables, drawings) to one tagged PDF in the project's own faces.

`parts` says what can be set; `compose` sets a whole document; `typst_pages` sets paper for the field.
Nothing here knows what a season is.

Why it is as it is:

- WeasyPrint sets all that is read closely. A long table costs it 3.5 to 7 ms a row whatever the style sheet,
  so long tables are drawn (`tables/`), and the index and paper for the field are Typst's. Sizes, colours and
  faces of all of them come from `design` and `faces`.
- Two processes set a packet, each chapter as soon as it is built; long tables, the longest single piece, go
  first (`certgen.process_pool`).
- Faces come from packages under the Open Font License, found by path: every machine prints the same page. A
  tagged PDF may hold no letter without a shape, so one that no face has is spelled as its code point.
"""
