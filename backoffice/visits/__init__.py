"""The visit: one farrier, one yard, one day; what was done to which feet, and what became of it."""
