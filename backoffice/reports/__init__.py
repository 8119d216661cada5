"""What pays: margin, and what it is made of."""
