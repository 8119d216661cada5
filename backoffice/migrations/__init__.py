"""How a database grows from one released shape to the next."""
