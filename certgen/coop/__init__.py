"""A co-op: many members' seasons, each examined on its own, then held against one another."""
