"""Tools, who carries them, and how worn they are."""
