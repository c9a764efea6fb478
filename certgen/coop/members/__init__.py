"""The members one by one: who they are, how their records are opened, and what is kept of each."""
