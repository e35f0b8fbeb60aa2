"""What runs tell afterwards: measured, told as a story, held side by side."""
