"""Who may see what: a season's records made anew for somebody who isn't the certifier.

What leaves the house is never the season's pages with words painted over. Out of the examined records a new
season is made that holds only what one lot rests on: other lots' records aren't in it, names and numbers are
codes, free text is left out, and of every file only a digest is told. That season is examined by the same
rules, and it is given to nobody unless the lot comes out the same to the milligram, with the same findings.
Whatever prints or exports sees that season alone, so that no writer can tell what it hasn't got.

- `codes`: names and numbers exchanged for codes, in an order that nobody outside can know.
- `choice`: which records one lot's line needs.
- `record_copies`: one record made anew, field by field, as `x-discloses` in the schemas says.
- `season_copy`: the new season's folder.
- `disclosing`: makes it, examines it, and refuses what would come out nicer.
"""
