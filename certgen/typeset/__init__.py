"""Setting pages: from parts (text, tables, drawings) to one tagged PDF in the project's own faces.

`parts` says what can be set; `compose` sets a whole document; `typst_pages` sets paper for the field.
Nothing here knows what a season is.

Why it is as it is:

- WeasyPrint sets the first page, at 3.5 to 7 ms a table row whatever the style sheet. All else is Typst's:
  chapters, registers, contents, index, running heads and paper for the field. Its pages cost a tenth: the
  example's 30 pages of chapters took 14 s of one core with WeasyPrint and 1.7 s with Typst in one run, the
  page of contents 7.3 s (columns are set again until they are level) and 0.1 s. Sizes, distances, colours and
  faces of both come from `design`, `packet.css` and `faces`.
- Typst can't be told that a row has a heading, nor that a file begins below the first level; `page_batch`
  says both. Its columns are filled one after the other: `chapter.typ` measures entries and shares them out.
- Long tables were drawn by 1,700 lines of our own until a trial, whose rule was fixed beforehand: that engine
  stays if, without it, a packet of 20,000 bags takes 1.5 times as long or half as much memory again. In two
  pairs it took 46 s for 33 and 52 s for 39 (1.33 to 1.40 times), 77 s for 53 and 87 s for 63 of core time
  (1.39 to 1.45), and 864 and 933 MB in the largest process for 828 (1.04 to 1.13). A packet of 300 bags took
  as long as before. Registers that were shrunk (bags that agree on one line) lost readers more than they won.
- Typst keeps what it has laid out, some 130 MB for a thousand rows, until it has set ten more files
  (`memory`): a process sets one chapter after another. Its pages come back finished (`page_batch`), since to
  join rows object by object cost 60 kB and a millisecond each.
- Two processes set a packet. The other is started before the records are read, and meanwhile loads
  WeasyPrint, which takes half a second. It sets the registers while chapters are built, then chapters in the
  order in which they are numbered; this one begins with the longest, and each takes what nobody is at yet
  (`certgen.process_pool`). What takes much memory is set in processes that end with it (`shared_setting`).
- Faces come from packages under the Open Font License, found by path: every machine prints the same page. A
  tagged PDF may hold no letter without a shape, so one that no face has is spelled as its code point.
"""
