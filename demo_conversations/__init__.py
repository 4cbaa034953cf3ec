"""Played conversations: stories that are also tests. See DEVELOPERS.md, "Played conversations"."""
