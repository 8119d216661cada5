"""Clients, yards and horses, and who pays for which horse."""
