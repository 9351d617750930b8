"""The field book: photos, marks, known lengths and settings, and the file that holds them."""
