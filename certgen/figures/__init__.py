"""Pure computation for a seed grower's records: sampling plans, seed tests, odds, parents, ledgers.

Nothing here reads a file, prints, or words a message for a page. Each function's docstring gives its formula,
its units and where the formula or the table comes from; 'from memory' and 'common practice' say so.

Published tolerance tables round in ways that no formula repeats (tested), so they are data; a design outside
them uses the formula and says so. Figures as typed are computed as exact fractions: floats would fail a
duplicate that differs by 0.2 points.
"""
