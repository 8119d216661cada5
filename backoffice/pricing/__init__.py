"""What is offered, at what price, and which sales tax falls on it."""
