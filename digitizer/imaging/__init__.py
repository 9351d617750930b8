"""Photo file to pixels, and pixels to sub-pixel marks with their standard uncertainty."""
