"""Money out: supplier bills, part stock and part expense."""
