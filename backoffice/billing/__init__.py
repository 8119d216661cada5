"""What is owed, by whom, on what paper: bills, corrections, payments."""
