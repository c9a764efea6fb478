"""What must hold between members: each module holds their summaries against one another in one respect."""
