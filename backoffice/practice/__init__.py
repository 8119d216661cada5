"""The business itself: its details and settings, who works for it, and where its stock travels."""
