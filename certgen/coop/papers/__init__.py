"""What the office hands out: the report for the certifier, a letter a member, JSON and CSV."""
