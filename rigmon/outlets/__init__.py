"""Where words leave for people and machines: the terminal, plain lines, JSON lines."""
