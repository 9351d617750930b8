"""The table: photos and the flattened view, with the marks on them."""
