"""The files that are written: rows exactly, sheets to read, and a page about all the tables."""
