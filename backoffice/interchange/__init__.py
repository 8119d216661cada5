"""Taking everything out again."""
