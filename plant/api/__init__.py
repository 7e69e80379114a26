"""The API: the same mechanics for every noun. What each module is for stands in its first line."""
