"""Pure computation for a seed grower's records: sampling plans, seed tests, odds, parents, ledgers.

Nothing here reads a file, prints, or words a message for a page. Each function's docstring gives its formula,
its units and where the formula or the table comes from; 'from memory' and 'common practice' say so.
"""
