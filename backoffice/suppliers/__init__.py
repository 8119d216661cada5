"""Who we buy from."""
