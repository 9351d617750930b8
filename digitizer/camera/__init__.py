"""Where an object point falls in the photo, and back."""
