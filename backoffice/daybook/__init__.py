"""The book of first entry: one entry per business event, the closed period, and what was changed."""
