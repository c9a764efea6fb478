"""What a reader is shown of a season besides its gaps: ledgers, yields, odds, tests, dues, spot checks.

Each module takes a `Result` (or what stands in one) and gives values and tables: no wording beyond single
words, no printing. Report, terminal and exchange all read them here, so that no two of them can disagree.
"""
