"""Who may sign in, and who is signed in now."""
