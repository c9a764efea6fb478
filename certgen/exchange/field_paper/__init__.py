"""Paper for the field: labels on sheets of any measure, and sheets to walk along the rows with.

What is printed to be filled in is declared once: a sheet is a `FieldSheet`, listed in `field_sheets.py`; a
round's form stands in `certgen/exchange/spreadsheets/round_forms.py`. What a sheet says against samples is
laid in by `certgen/records/joining/custody.py`.
"""
