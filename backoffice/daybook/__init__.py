"""The book of first entry: business events, the closed period, and what was changed."""
