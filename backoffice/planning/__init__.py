"""What is due, what a day needs, and what to load."""
