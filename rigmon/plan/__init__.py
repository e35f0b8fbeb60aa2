"""A batch planned the evening before: whether it fits, ice and salt, how long, what helps."""
