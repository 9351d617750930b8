"""A finished survey on paper and in data files; nothing is computed here."""
