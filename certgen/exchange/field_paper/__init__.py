"""Paper for the field: labels on sheets of any measure, and sheets to walk along the rows with."""
